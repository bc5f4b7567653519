/* How often codes stand in a picture, and how often exactly flat blocks do. */

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
