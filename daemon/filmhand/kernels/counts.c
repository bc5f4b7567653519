/* How often codes stand in a picture, and how often exactly flat blocks do; the ink in boxes of
   bits; and numbers by their rank. */

#include "kernels.h"

/* count_codes(codes, width, step, counts)

   codes   (H, width) uint16
   step    every step-th row and column is looked at, from the first on
   counts  (65536) int64: how often each code was met is added to them */
PyObject *count_codes(PyObject *module, PyObject *arguments)
{
    PyObject *codes, *counts, *result = NULL;
    Py_ssize_t width, step;
    Py_buffer given, found;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnnO", &codes, &width, &step, &counts))
        return NULL;
    if (!take_buffer(codes, &given, -1, 0))
        return NULL;
    if (!take_buffer(counts, &found, 65536 * 8, 1))
        goto no_room;
    if (width < 1 || step < 1 || given.len % (2 * width)) {
        PyErr_SetString(PyExc_ValueError, "there are no such rows");
        goto done;
    }
    Py_BEGIN_ALLOW_THREADS
    Py_ssize_t height = given.len / 2 / width;
    int64_t *often = found.buf;
    for (Py_ssize_t y = 0; y < height; y += step) {
        const uint16_t *row = (const uint16_t *)given.buf + y * width;
        for (Py_ssize_t x = 0; x < width; x += step)
            often[row[x]]++;
    }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
done:
    PyBuffer_Release(&found);
no_room:
    PyBuffer_Release(&given);
    return result;
}

static int is_flat(const uint16_t *block, Py_ssize_t width)
{
    for (int row = 0; row < 4; row++)
        for (int column = 0; column < 4; column++)
            if (block[row * width + column] != block[0])
                return 0;
    return 1;
}

/* count_flats(codes, width, tops, step, counts)

   codes   (H, width) uint16
   tops    int64: the first rows of bands of four
   step    every step-th block of four columns in a band is looked at, from the first on
   counts  (256) int64: to them is added how often a block of one code was met, by its upper half */
PyObject *count_flats(PyObject *module, PyObject *arguments)
{
    PyObject *objects[3], *result = NULL;
    Py_ssize_t width, step;
    Py_buffer views[3];
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnOnO", &objects[0], &width, &objects[1], &step,
                          &objects[2]))
        return NULL;
    for (; taken < 3; taken++)
        if (!take_buffer(objects[taken], &views[taken], taken == 2 ? 256 * 8 : -1, taken == 2))
            goto end;
    Py_ssize_t bands = views[1].len / 8;
    const int64_t *tops = views[1].buf;
    int fits = width > 3 && step > 0 && views[0].len % (2 * width) == 0 && views[1].len % 8 == 0;
    for (Py_ssize_t k = 0; fits && k < bands; k++)
        fits = tops[k] >= 0 && tops[k] <= views[0].len / 2 / width - 4;
    if (!fits) {
        PyErr_SetString(PyExc_ValueError, "there are no such bands");
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    int64_t *often = views[2].buf;
    for (Py_ssize_t k = 0; k < bands; k++) {
        const uint16_t *band = (const uint16_t *)views[0].buf + tops[k] * width;
        for (Py_ssize_t x = 0; x < width - 3; x += step)
            if (is_flat(band + x, width))
                often[band[x] >> 8]++;
    }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}

#define AT_ONCE 57 /* bits that are in eight bytes, whatever bit of the first they begin with */

/* How many of `count` bits (1 to AT_ONCE) from bit `from` on of a row are 1. */
static inline uint32_t count_bits(const uint8_t *row, Py_ssize_t row_bytes, Py_ssize_t from,
                                  Py_ssize_t count)
{
    Py_ssize_t byte = from / 8, whole = row_bytes - byte;
    uint64_t bits = 0;
    if (whole >= 8) {
        for (int k = 0; k < 8; k++)
            bits = bits << 8 | row[byte + k];
    } else {
        for (int k = 0; k < 8; k++)
            bits = bits << 8 | (k < whole ? row[byte + k] : 0);
    }
    bits = bits << from % 8 >> (64 - count);
    /* Pairs, then fours, then eights of bits are added up within the number. */
    bits -= bits >> 1 & 0x5555555555555555u;
    bits = (bits & 0x3333333333333333u) + (bits >> 2 & 0x3333333333333333u);
    bits = (bits + (bits >> 4)) & 0x0F0F0F0F0F0F0F0Fu;
    return (uint32_t)(bits * 0x0101010101010101u >> 56);
}

/* Add a row to numbers that stand across `planes` rows of bits, the lowest bits first; `carry` has
   room for a row. */
WIDE static void add_row(const uint8_t *row, Py_ssize_t row_bytes, int planes, uint8_t *numbers,
                         uint8_t *carry)
{
    memcpy(carry, row, row_bytes);
    for (int plane = 0; plane < planes; plane++, numbers += row_bytes)
        for (Py_ssize_t at = 0; at < row_bytes; at++) {
            uint8_t both = numbers[at] & carry[at];
            numbers[at] ^= carry[at];
            carry[at] = both;
        }
}

static void count_boxes(const uint8_t *numbers, Py_ssize_t row_bytes, int planes, Py_ssize_t skip,
                        Py_ssize_t across, Py_ssize_t boxes, uint32_t *sums)
{
    for (Py_ssize_t x = 0; x < boxes; x++, skip += across)
        for (int plane = 0; plane < planes; plane++)
            for (Py_ssize_t done = 0; done < across; done += AT_ONCE) {
                Py_ssize_t rest = across - done < AT_ONCE ? across - done : AT_ONCE;
                sums[x] += count_bits(numbers + plane * row_bytes, row_bytes, skip + done, rest)
                           << plane;
            }
}

/* count_ink(rows, row_bytes, skip, across, down, boxes, sums)

   rows   uint8: packed rows, the most significant bit first
   boxes  of `across` x `down` bits lie beside one another, from bit `skip` of the rows on
   sums   uint32: for each box, row of boxes by row, how many of its bits are 1 */
PyObject *count_ink(PyObject *module, PyObject *arguments)
{
    PyObject *rows, *sums, *result = NULL;
    Py_ssize_t row_bytes, skip, across, down, boxes;
    Py_buffer given, found;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnnnnnO", &rows, &row_bytes, &skip, &across, &down, &boxes,
                          &sums))
        return NULL;
    if (row_bytes < 1 || skip < 0 || skip > 7 || across < 1 || down < 1 || boxes < 1 ||
        boxes > (8 * row_bytes - skip) / across) {
        PyErr_SetString(PyExc_ValueError, "there are no such boxes");
        return NULL;
    }
    if (!take_buffer(rows, &given, -1, 0))
        return NULL;
    Py_ssize_t height = given.len / row_bytes / down;
    if (!take_buffer(sums, &found, 4 * height * boxes, 1))
        goto no_room;
    int planes = 1;
    while (down >> planes)
        planes++;
    uint8_t *numbers = PyMem_Malloc((planes + 1) * row_bytes);
    if (numbers == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    Py_BEGIN_ALLOW_THREADS
    const uint8_t *row = given.buf;
    uint32_t *sum = found.buf;
    memset(sum, 0, 4 * height * boxes);
    for (Py_ssize_t y = 0; y < height; y++, sum += boxes) {
        /* The rows of boxes are added up first, all columns side by side. */
        memset(numbers, 0, planes * row_bytes);
        for (Py_ssize_t k = 0; k < down; k++, row += row_bytes)
            add_row(row, row_bytes, planes, numbers, numbers + planes * row_bytes);
        count_boxes(numbers, row_bytes, planes, skip, across, boxes, sum);
    }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
    PyMem_Free(numbers);
done:
    PyBuffer_Release(&found);
no_room:
    PyBuffer_Release(&given);
    return result;
}

/* Digits of a float's key, the highest first, and how many bits lie below each. */
enum { DIGITS = 3, DIGIT = 2048, TABLES = 4 };
static const int BELOW[DIGITS + 1] = {32, 21, 10, 0};

/* The bits of a float as a number that grows with it. */
static inline uint32_t key_of(uint32_t bits)
{
    return bits ^ (bits >> 31 ? 0xFFFFFFFFu : 0x80000000u);
}

/* Keep the keys that begin with `prefix` above the lowest `below` bits; how many there are. */
static Py_ssize_t keep_keys(const uint32_t *values, Py_ssize_t count, int below, uint32_t prefix,
                            uint32_t *kept)
{
    Py_ssize_t many = 0;
    for (Py_ssize_t k = 0; k < count; k++) {
        uint32_t key = key_of(values[k]);
        kept[many] = key;
        many += key >> below == prefix;
    }
    return many;
}

/* How often each digit stands in keys that begin with `prefix`, or for the first digit in those of
   floats; tables take turns, so that one count does not wait for the one before. */
static void count_digits(const uint32_t *keys, Py_ssize_t count, int digit, uint32_t prefix,
                         uint32_t tables[TABLES][DIGIT])
{
    int above = BELOW[digit], below = BELOW[digit + 1];
    uint32_t mask = (1u << (above - below)) - 1;
    memset(tables, 0, sizeof(uint32_t[TABLES][DIGIT]));
    if (digit == 0)
        for (Py_ssize_t k = 0; k < count; k++)
            tables[k % TABLES][key_of(keys[k]) >> below]++;
    else
        for (Py_ssize_t k = 0; k < count; k++)
            if (keys[k] >> above == prefix)
                tables[k % TABLES][keys[k] >> below & mask]++;
    for (int table = 1; table < TABLES; table++)
        for (int k = 0; k < DIGIT; k++)
            tables[0][k] += tables[table][k];
}

/* pick_floats(values, places, out)

   values  float, none of them NaN
   places  int64, ascending: ranks of numbers, from 0
   out     float, as many: the numbers that would stand there if all were sorted */
PyObject *pick_floats(PyObject *module, PyObject *arguments)
{
    PyObject *objects[3], *result = NULL;
    Py_buffer views[3];
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OOO", &objects[0], &objects[1], &objects[2]))
        return NULL;
    for (; taken < 3; taken++)
        if (!take_buffer(objects[taken], &views[taken], -1, taken == 2))
            goto end;
    Py_ssize_t count = views[0].len / 4, wanted = views[1].len / 8;
    int fits = views[0].len == count * 4 && views[1].len == wanted * 8 &&
               views[2].len == wanted * 4 && count < UINT32_MAX;
    const int64_t *places = views[1].buf;
    for (Py_ssize_t k = 0; fits && k < wanted; k++)
        fits = places[k] >= (k ? places[k - 1] : 0) && places[k] < count;
    if (!fits) {
        PyErr_SetString(PyExc_ValueError, "there are no such places");
        goto end;
    }
    uint32_t(*counts)[TABLES][DIGIT] = PyMem_Malloc(DIGITS * sizeof *counts);
    uint32_t *kept = PyMem_Malloc((count + 1) * sizeof *kept);
    if (counts == NULL || kept == NULL) {
        PyErr_NoMemory();
        goto no_room;
    }
    Py_BEGIN_ALLOW_THREADS
    /* The prefixes that the tables of the second digit and the third are of. */
    uint32_t of[DIGITS] = {0, UINT32_MAX, UINT32_MAX};
    Py_ssize_t many = 0;
    if (wanted)
        count_digits(views[0].buf, count, 0, 0, counts[0]);
    for (Py_ssize_t k = 0; k < wanted; k++) {
        uint64_t left = places[k];
        uint32_t prefix = 0;
        for (int digit = 0; digit < DIGITS; digit++) {
            if (digit && of[digit] != prefix) {
                if (digit == 1)
                    many = keep_keys(views[0].buf, count, BELOW[1], prefix, kept);
                count_digits(kept, many, digit, prefix, counts[digit]);
                of[digit] = prefix;
            }
            uint32_t next = 0;
            while (left >= counts[digit][0][next])
                left -= counts[digit][0][next++];
            prefix = prefix << (BELOW[digit] - BELOW[digit + 1]) | next;
        }
        ((uint32_t *)views[2].buf)[k] = prefix >> 31 ? prefix ^ 0x80000000u : ~prefix;
    }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
no_room:
    PyMem_Free(counts);
    PyMem_Free(kept);
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}
