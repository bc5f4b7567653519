/* Filters of gray pictures: rows of floats, edges repeated. */

#include "kernels.h"

WIDE static void larger_of(const float *one, const float *other, Py_ssize_t count, float *out)
{
    for (Py_ssize_t k = 0; k < count; k++)
        out[k] = one[k] > other[k] ? one[k] : other[k];
}

/* The maximum over `size` columns about each of `width`, by doubling; `run` and `next` have room
   for width + size floats. */
static void row_maximum(const float *row, Py_ssize_t width, Py_ssize_t size, float *run,
                        float *next, float *out)
{
    Py_ssize_t half = size / 2, reach = 1, left = width + 2 * half;
    for (Py_ssize_t k = 0; k < half; k++) {
        run[k] = row[0];
        run[half + width + k] = row[width - 1];
    }
    memcpy(run + half, row, width * sizeof(float));
    while (reach < size) {
        Py_ssize_t step = reach < size - reach ? reach : size - reach;
        left -= step;
        larger_of(run, run + step, left, next);
        float *other = run;
        run = next, next = other;
        reach += step;
    }
    memcpy(out, run, width * sizeof(float));
}

/* The row of a picture whose edges are repeated. */
static inline const float *row_at(const float *rows, Py_ssize_t height, Py_ssize_t width,
                                  Py_ssize_t y)
{
    return rows + (y < 0 ? 0 : y < height ? y : height - 1) * width;
}

/* The maximum over `size` rows about each, by blocks of so many: what is left of one block and the
   beginning of the next (M. van Herk, A fast algorithm for local minimum and maximum filters on
   rectangular and octagonal kernels, Pattern Recognition Letters 13 (1992) 517-521). `rest` has
   room for `size` rows, `begun` for one. */
static void column_maximum(const float *rows, Py_ssize_t height, Py_ssize_t width, Py_ssize_t size,
                           float *rest, float *begun, float *out)
{
    Py_ssize_t half = size / 2, bytes = width * sizeof(float);
    for (Py_ssize_t top = 0; top < height; top += size) {
        const float *last = row_at(rows, height, width, top - half + size - 1);
        memcpy(rest + (size - 1) * width, last, bytes);
        for (Py_ssize_t k = size - 2; k >= 0; k--)
            larger_of(row_at(rows, height, width, top - half + k), rest + (k + 1) * width, width,
                      rest + k * width);
        memcpy(out + top * width, rest, bytes);
        for (Py_ssize_t k = 1; k < size && top + k < height; k++) {
            const float *row = row_at(rows, height, width, top - half + size - 1 + k);
            if (k == 1)
                memcpy(begun, row, bytes);
            else
                larger_of(begun, row, width, begun);
            larger_of(rest + k * width, begun, width, out + (top + k) * width);
        }
    }
}

/* local_maximum(rows, width, size, out)

   The maximum over size x size windows (odd); rows and out are float. */
PyObject *local_maximum(PyObject *module, PyObject *arguments)
{
    PyObject *rows, *out, *result = NULL;
    Py_ssize_t width, size;
    Py_buffer given, found;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnnO", &rows, &width, &size, &out))
        return NULL;
    if (width < 1 || size < 1 || size % 2 == 0 || size > 65535) {
        PyErr_SetString(PyExc_ValueError, "there are no such windows");
        return NULL;
    }
    if (!take_buffer(rows, &given, -1, 0))
        return NULL;
    if (!take_buffer(out, &found, given.len, 1))
        goto no_room;
    Py_ssize_t height = given.len / 4 / width, bytes = width * sizeof(float);
    float *rest = PyMem_Malloc(size * bytes), *begun = PyMem_Malloc(bytes);
    float *run = PyMem_Malloc(bytes + size * sizeof(float));
    float *next = PyMem_Malloc(bytes + size * sizeof(float));
    if (rest == NULL || begun == NULL || run == NULL || next == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    Py_BEGIN_ALLOW_THREADS
    float *target = found.buf;
    column_maximum(given.buf, height, width, size, rest, begun, target);
    for (Py_ssize_t y = 0; y < height; y++)
        row_maximum(target + y * width, width, size, run, next, target + y * width);
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
done:
    PyMem_Free(rest);
    PyMem_Free(begun);
    PyMem_Free(run);
    PyMem_Free(next);
    PyBuffer_Release(&found);
no_room:
    PyBuffer_Release(&given);
    return result;
}

WIDE static void smooth_row(const float *above, const float *row, const float *below,
                            Py_ssize_t width, float *sums, float *out)
{
    for (Py_ssize_t x = 0; x < width; x++)
        sums[x + 1] = (above[x] + 2 * row[x]) + below[x];
    sums[0] = sums[1];
    sums[width + 1] = sums[width];
    for (Py_ssize_t x = 0; x < width; x++)
        out[x] = ((sums[x] + 2 * sums[x + 1]) + sums[x + 2]) * 0.0625f;
}

/* smooth(rows, width, out)

   One pass of the 3 x 3 binomial filter; rows and out are float. */
PyObject *smooth(PyObject *module, PyObject *arguments)
{
    PyObject *rows, *out, *result = NULL;
    Py_ssize_t width;
    Py_buffer given, found;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnO", &rows, &width, &out))
        return NULL;
    if (width < 1) {
        PyErr_SetString(PyExc_ValueError, "there are no such rows");
        return NULL;
    }
    if (!take_buffer(rows, &given, -1, 0))
        return NULL;
    if (!take_buffer(out, &found, given.len, 1))
        goto no_room;
    float *sums = PyMem_Malloc((width + 2) * sizeof(float));
    if (sums == NULL) {
        PyErr_NoMemory();
        goto no_memory;
    }
    Py_BEGIN_ALLOW_THREADS
    const float *from = given.buf;
    Py_ssize_t height = given.len / 4 / width;
    for (Py_ssize_t y = 0; y < height; y++)
        smooth_row(row_at(from, height, width, y - 1), from + y * width,
                   row_at(from, height, width, y + 1), width, sums, (float *)found.buf + y * width);
    Py_END_ALLOW_THREADS
    PyMem_Free(sums);
    result = Py_NewRef(Py_None);
no_memory:
    PyBuffer_Release(&found);
no_room:
    PyBuffer_Release(&given);
    return result;
}
