/* How often codes stand in a picture, and how often exactly flat blocks do; and
   numbers by their rank. */

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
