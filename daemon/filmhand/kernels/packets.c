/* The lines of PWG Raster (PWG 5102.4): how often a line is repeated, then packets until it is full.
   A packet is a byte n up to 127 and a byte that stands n + 1 times, or a byte n from 129 on and
   257 - n bytes that stand for themselves. */

#include "kernels.h"

#define LONGEST 128
#define SHORTEST_RUN 4 /* a shorter one costs more packets than it saves bytes */
#define MOST_REPEATS 256

/* How many bytes from `at` on are the same, no more than `most` of them looked at. */
static inline Py_ssize_t run_at(const uint8_t *at, Py_ssize_t most)
{
    Py_ssize_t run = 1;
    while (run < most && at[run] == at[0])
        run++;
    return run;
}

static uint8_t *put_run(uint8_t *out, uint8_t byte, Py_ssize_t run)
{
    while (run > 0) {
        Py_ssize_t piece = run < LONGEST ? run : LONGEST;
        *out++ = (uint8_t)(piece - 1);
        *out++ = byte;
        run -= piece;
    }
    return out;
}

static uint8_t *put_plain(uint8_t *out, const uint8_t *bytes, Py_ssize_t count)
{
    while (count > 0) {
        Py_ssize_t piece = count < LONGEST ? count : LONGEST;
        if (piece == 1) /* 256 does not fit into a byte */
            return put_run(out, *bytes, 1);
        *out++ = (uint8_t)(257 - piece);
        memcpy(out, bytes, piece);
        out += piece;
        bytes += piece;
        count -= piece;
    }
    return out;
}

static uint8_t *put_line(uint8_t *out, const uint8_t *line, Py_ssize_t bytes)
{
    Py_ssize_t plain = 0, at = 0; /* of the plain bytes that wait, the first */
    while (at < bytes) {
        Py_ssize_t run = run_at(line + at, bytes - at);
        if (run >= SHORTEST_RUN) {
            out = put_plain(out, line + plain, at - plain);
            out = put_run(out, line[at], run);
            plain = at + run;
        }
        at += run;
    }
    return put_plain(out, line + plain, at - plain);
}

/* pack_lines(rows, row_bytes, packed) -> int

   The number of bytes that the lines of some rows take.

   rows: (n, row_bytes) uint8
   packed: at least n * (2 * row_bytes + 1) uint8 */
PyObject *pack_lines(PyObject *module, PyObject *arguments)
{
    (void)module;
    PyObject *rows_object, *packed_object;
    Py_ssize_t row_bytes;
    Py_buffer rows, packed;
    if (!PyArg_ParseTuple(arguments, "OnO", &rows_object, &row_bytes, &packed_object))
        return NULL;
    if (!take_buffer(rows_object, &rows, -1, 0))
        return NULL;
    if (!take_buffer(packed_object, &packed, -1, 1)) {
        PyBuffer_Release(&rows);
        return NULL;
    }
    int fits = row_bytes > 0 && rows.len % row_bytes == 0 &&
               packed.len >= rows.len / row_bytes * (2 * row_bytes + 1);
    uint8_t *out = packed.buf;
    if (fits) {
        const uint8_t *row = rows.buf, *end = row + rows.len;
        Py_BEGIN_ALLOW_THREADS
        while (row < end) {
            Py_ssize_t alike = 1;
            while (alike < MOST_REPEATS && row + alike * row_bytes < end &&
                   memcmp(row, row + alike * row_bytes, row_bytes) == 0)
                alike++;
            *out++ = (uint8_t)(alike - 1);
            out = put_line(out, row, row_bytes);
            row += alike * row_bytes;
        }
        Py_END_ALLOW_THREADS
    } else
        PyErr_SetString(PyExc_ValueError, "rows are not whole, or the room for them is small");
    Py_ssize_t length = out - (uint8_t *)packed.buf;
    PyBuffer_Release(&packed);
    PyBuffer_Release(&rows);
    return fits ? PyLong_FromSsize_t(length) : NULL;
}

/* Where the packets of one line end that begin at `at`; -1 where they do not fill it exactly. */
static Py_ssize_t take_line(const uint8_t *data, Py_ssize_t at, Py_ssize_t end, uint8_t *line,
                            Py_ssize_t left)
{
    while (left > 0) {
        if (end - at < 2 || data[at] == LONGEST)
            return -1;
        int repeated = data[at] < LONGEST;
        Py_ssize_t count = repeated ? data[at] + 1 : 257 - data[at];
        Py_ssize_t stored = repeated ? 1 : count;
        if (count > left || end - at <= stored)
            return -1;
        if (repeated)
            memset(line, data[at + 1], count);
        else
            memcpy(line, data + at + 1, count);
        at += 1 + stored;
        line += count;
        left -= count;
    }
    return at;
}

/* unpack_line(data, start, line) -> int

   Where the packets of one line end in `data`, or -1 where they do not fill the line exactly.

   data: uint8; the packets begin at `start`
   line: uint8, the line's bytes */
PyObject *unpack_line(PyObject *module, PyObject *arguments)
{
    (void)module;
    PyObject *data_object, *line_object;
    Py_ssize_t start;
    Py_buffer data, line;
    if (!PyArg_ParseTuple(arguments, "OnO", &data_object, &start, &line_object))
        return NULL;
    if (!take_buffer(data_object, &data, -1, 0))
        return NULL;
    if (!take_buffer(line_object, &line, -1, 1)) {
        PyBuffer_Release(&data);
        return NULL;
    }
    Py_ssize_t end = start < 0 ? -1 : take_line(data.buf, start, data.len, line.buf, line.len);
    PyBuffer_Release(&line);
    PyBuffer_Release(&data);
    return PyLong_FromSsize_t(end);
}
