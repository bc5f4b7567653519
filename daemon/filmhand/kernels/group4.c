/* ITU-T T.6 (CCITT Group 4) of packed rows, each coded from the row above it.

   A row is turned into its changing elements, the pixels whose color is not that of the pixel before
   them, and coded from those and from the changing elements of the row above; so the time follows
   the changes, not the pixels. The names a0, a1, a2, b1 and b2 are those of T.6, 2.2.1. */

#include "kernels.h"

#include <stdlib.h>

struct code {
    uint16_t bits;
    uint16_t length;
};

/* ITU-T T.4, tables 2 and 3: runs of 0 to 63, and make-up codes of 64, 128, ... 2560. */
static const struct code white_runs[] = {
    {0x35, 8}, {0x07, 6}, {0x07, 4}, {0x08, 4}, {0x0b, 4}, {0x0c, 4}, {0x0e, 4}, {0x0f, 4},
    {0x13, 5}, {0x14, 5}, {0x07, 5}, {0x08, 5}, {0x08, 6}, {0x03, 6}, {0x34, 6}, {0x35, 6},
    {0x2a, 6}, {0x2b, 6}, {0x27, 7}, {0x0c, 7}, {0x08, 7}, {0x17, 7}, {0x03, 7}, {0x04, 7},
    {0x28, 7}, {0x2b, 7}, {0x13, 7}, {0x24, 7}, {0x18, 7}, {0x02, 8}, {0x03, 8}, {0x1a, 8},
    {0x1b, 8}, {0x12, 8}, {0x13, 8}, {0x14, 8}, {0x15, 8}, {0x16, 8}, {0x17, 8}, {0x28, 8},
    {0x29, 8}, {0x2a, 8}, {0x2b, 8}, {0x2c, 8}, {0x2d, 8}, {0x04, 8}, {0x05, 8}, {0x0a, 8},
    {0x0b, 8}, {0x52, 8}, {0x53, 8}, {0x54, 8}, {0x55, 8}, {0x24, 8}, {0x25, 8}, {0x58, 8},
    {0x59, 8}, {0x5a, 8}, {0x5b, 8}, {0x4a, 8}, {0x4b, 8}, {0x32, 8}, {0x33, 8}, {0x34, 8},
};

static const struct code black_runs[] = {
    {0x37, 10}, {0x02, 3}, {0x03, 2}, {0x02, 2}, {0x03, 3}, {0x03, 4}, {0x02, 4}, {0x03, 5},
    {0x05, 6}, {0x04, 6}, {0x04, 7}, {0x05, 7}, {0x07, 7}, {0x04, 8}, {0x07, 8}, {0x18, 9},
    {0x17, 10}, {0x18, 10}, {0x08, 10}, {0x67, 11}, {0x68, 11}, {0x6c, 11}, {0x37, 11}, {0x28, 11},
    {0x17, 11}, {0x18, 11}, {0xca, 12}, {0xcb, 12}, {0xcc, 12}, {0xcd, 12}, {0x68, 12}, {0x69, 12},
    {0x6a, 12}, {0x6b, 12}, {0xd2, 12}, {0xd3, 12}, {0xd4, 12}, {0xd5, 12}, {0xd6, 12}, {0xd7, 12},
    {0x6c, 12}, {0x6d, 12}, {0xda, 12}, {0xdb, 12}, {0x54, 12}, {0x55, 12}, {0x56, 12}, {0x57, 12},
    {0x64, 12}, {0x65, 12}, {0x52, 12}, {0x53, 12}, {0x24, 12}, {0x37, 12}, {0x38, 12}, {0x27, 12},
    {0x28, 12}, {0x58, 12}, {0x59, 12}, {0x2b, 12}, {0x2c, 12}, {0x5a, 12}, {0x66, 12}, {0x67, 12},
};

static const struct code white_make_up[] = {
    {0x1b, 5}, {0x12, 5}, {0x17, 6}, {0x37, 7}, {0x36, 8}, {0x37, 8}, {0x64, 8}, {0x65, 8},
    {0x68, 8}, {0x67, 8}, {0xcc, 9}, {0xcd, 9}, {0xd2, 9}, {0xd3, 9}, {0xd4, 9}, {0xd5, 9},
    {0xd6, 9}, {0xd7, 9}, {0xd8, 9}, {0xd9, 9}, {0xda, 9}, {0xdb, 9}, {0x98, 9}, {0x99, 9},
    {0x9a, 9}, {0x18, 6}, {0x9b, 9}, {0x08, 11}, {0x0c, 11}, {0x0d, 11}, {0x12, 12}, {0x13, 12},
    {0x14, 12}, {0x15, 12}, {0x16, 12}, {0x17, 12}, {0x1c, 12}, {0x1d, 12}, {0x1e, 12}, {0x1f, 12},
};

static const struct code black_make_up[] = {
    {0x0f, 10}, {0xc8, 12}, {0xc9, 12}, {0x5b, 12}, {0x33, 12}, {0x34, 12}, {0x35, 12}, {0x6c, 13},
    {0x6d, 13}, {0x4a, 13}, {0x4b, 13}, {0x4c, 13}, {0x4d, 13}, {0x72, 13}, {0x73, 13}, {0x74, 13},
    {0x75, 13}, {0x76, 13}, {0x77, 13}, {0x52, 13}, {0x53, 13}, {0x54, 13}, {0x55, 13}, {0x5a, 13},
    {0x5b, 13}, {0x64, 13}, {0x65, 13}, {0x08, 11}, {0x0c, 11}, {0x0d, 11}, {0x12, 12}, {0x13, 12},
    {0x14, 12}, {0x15, 12}, {0x16, 12}, {0x17, 12}, {0x1c, 12}, {0x1d, 12}, {0x1e, 12}, {0x1f, 12},
};

#define LONGEST_MAKE_UP 2560

/* ITU-T T.6, table 1. The vertical codes are those of a1 from three pixels left of b1 to three right
   of it. */
static const struct code pass_mode = {0x1, 4}, horizontal_mode = {0x1, 3};
static const struct code vertical_modes[] = {
    {0x02, 7}, {0x02, 6}, {0x2, 3}, {0x1, 1}, {0x3, 3}, {0x03, 6}, {0x03, 7},
};

/* Bits that have not yet made up 32 wait in `waiting`. */
struct output {
    uint8_t *place;
    uint64_t waiting;
    int count;
};

static inline void put(struct output *output, struct code code)
{
    output->waiting = output->waiting << code.length | code.bits;
    output->count += code.length;
    if (output->count >= 32) {
        output->count -= 32;
        uint32_t whole = (uint32_t)(output->waiting >> output->count);
        uint8_t bytes[4] = {whole >> 24, whole >> 16, whole >> 8, whole};
        memcpy(output->place, bytes, 4);
        output->place += 4;
    }
}

static inline void put_run(struct output *output, int32_t run, int black)
{
    if (run >= 64) {
        const struct code *make_up = black ? black_make_up : white_make_up;
        for (; run >= LONGEST_MAKE_UP + 64; run -= LONGEST_MAKE_UP)
            put(output, make_up[LONGEST_MAKE_UP / 64 - 1]);
        put(output, make_up[run / 64 - 1]);
    }
    put(output, (black ? black_runs : white_runs)[run % 64]);
}

/* The 64 pixels of a row from `start` on, the first in the highest bit; 0 beyond the row's end. */
static inline uint64_t pixels_at(const uint8_t *row, int32_t start, int32_t width)
{
    uint8_t bytes[8] = {0};
    int32_t left = width - start;
    memcpy(bytes, row + start / 8, left >= 64 ? 8 : (left + 7) / 8);
    uint64_t pixels = 0;
    for (int k = 0; k < 8; k++)
        pixels = pixels << 8 | bytes[k];
    return left >= 64 ? pixels : pixels >> (64 - left) << (64 - left);
}

/* How many changing elements stand before the right edge in `changes`; the first is white to black.
   The edge follows four times, as coding looks up to three further than the last. */
static int32_t find_changes(const uint8_t *row, int32_t width, int32_t *changes)
{
    int32_t *next = changes;
    uint64_t last = 0;
    for (int32_t start = 0; start < width; start += 64) {
        uint64_t pixels = pixels_at(row, start, width);
        uint64_t differs = pixels ^ (pixels >> 1 | last << 63);
        for (; differs; differs &= ~(UINT64_C(1) << 63 >> __builtin_clzll(differs)))
            *next++ = start + __builtin_clzll(differs);
        last = pixels & 1;
    }
    /* Where the last pixel is black, the white beyond it made a change. */
    if (next > changes && next[-1] >= width)
        next--;
    for (int k = 0; k < 4; k++)
        next[k] = width;
    return (int32_t)(next - changes);
}

static void code_row(struct output *output, const int32_t *row, const int32_t *above, int32_t width)
{
    int32_t a0 = -1; /* T.6, 2.2.5.1: a row begins before its first pixel, on white */
    int black = 0;
    const int32_t *a1 = row, *b1 = above;
    while (a0 < width) {
        while (*b1 <= a0)
            b1 += 2;
        if (b1[1] < *a1) {
            put(output, pass_mode);
            a0 = b1[1];
            continue;
        }
        int32_t right = *a1 - *b1;
        if (right >= -3 && right <= 3) {
            put(output, vertical_modes[right + 3]);
            a0 = *a1++;
            black = !black;
            /* The other color's next change: the one before b1 may lie right of a0. */
            b1 += b1 > above ? -1 : 1;
        } else {
            put(output, horizontal_mode);
            put_run(output, *a1 - (a0 < 0 ? 0 : a0), black);
            put_run(output, a1[1] - *a1, !black);
            a0 = a1[1];
            a1 += 2;
        }
    }
}

/* The number of bits that the code of `rows` takes, which is put into `code`; -1 without memory. */
static Py_ssize_t encode(const uint8_t *rows, Py_ssize_t count, const uint8_t *before,
                         int32_t width, uint8_t *code)
{
    size_t row_bytes = ((size_t)width + 7) / 8;
    int32_t *changes = malloc(2 * ((size_t)width + 4) * sizeof *changes);
    if (!changes)
        return -1;
    int32_t *above = changes, *here = changes + width + 4;
    struct output output = {code, 0, 0};
    if (before)
        find_changes(before, width, above);
    else
        for (int k = 0; k < 4; k++)
            above[k] = width;
    for (Py_ssize_t y = 0; y < count; y++) {
        find_changes(rows + y * row_bytes, width, here);
        code_row(&output, here, above, width);
        int32_t *spare = above;
        above = here;
        here = spare;
    }
    free(changes);
    Py_ssize_t bits = (output.place - code) * 8 + output.count;
    for (; output.count > 0; output.count -= 8)
        *output.place++ =
            (uint8_t)(output.count >= 8 ? output.waiting >> (output.count - 8)
                                        : output.waiting << (8 - output.count));
    return bits;
}

/* encode_group4(rows, width, before, code) -> int

   The length in bits of the T.6 code of rows without the end-of-block code; the last byte is filled
   up with zeros.

   rows: (n, ceil(width / 8)) uint8, most significant bit first, 1 = black; pad bits are not looked at
   before: (1, ceil(width / 8)) uint8, the row above, or None for a white one
   code: at least n * (7 * width + 64) bits and a byte; no row takes more, as no mode takes over seven
   bits for each pixel that it goes on, but for what a row may begin and end with */
PyObject *encode_group4(PyObject *module, PyObject *arguments)
{
    (void)module;
    PyObject *rows_object, *before_object, *code_object, *answer = NULL;
    int width;
    Py_buffer rows, before = {0}, code;
    if (!PyArg_ParseTuple(arguments, "OiOO", &rows_object, &width, &before_object, &code_object))
        return NULL;
    if (width < 1 || width > INT32_MAX - 64)
        return PyErr_Format(PyExc_ValueError, "a width of %d pixels", width);
    Py_ssize_t row_bytes = ((Py_ssize_t)width + 7) / 8;
    if (!take_buffer(rows_object, &rows, -1, 0))
        return NULL;
    if (before_object != Py_None && !take_buffer(before_object, &before, row_bytes, 0))
        goto rows_taken;
    if (!take_buffer(code_object, &code, -1, 1))
        goto before_taken;
    Py_ssize_t count = rows.len / row_bytes;
    if (rows.len % row_bytes || code.len < (count * (7 * (Py_ssize_t)width + 64)) / 8 + 1) {
        PyErr_SetString(PyExc_ValueError, "rows are not whole, or the room for their code is small");
        goto code_taken;
    }
    Py_ssize_t bits;
    Py_BEGIN_ALLOW_THREADS
    bits = encode(rows.buf, count, before.buf, width, code.buf);
    Py_END_ALLOW_THREADS
    answer = bits < 0 ? PyErr_NoMemory() : PyLong_FromSsize_t(bits);
code_taken:
    PyBuffer_Release(&code);
before_taken:
    if (before.obj)
        PyBuffer_Release(&before);
rows_taken:
    PyBuffer_Release(&rows);
    return answer;
}
