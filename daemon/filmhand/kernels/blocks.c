/* Sums of looked-up codes over blocks of a picture, and the depth of strokes below their paper. */

#include "kernels.h"

/* NumPy's sum of a few floats side by side: one after another where they are fewer than eight, else
   eight sums that are joined in pairs, and the rest after them (numpy/_core/src/umath/
   loops_utils.h.src, pairwise sum, up to 128 numbers). */
static inline float sum_as_numpy(const float *part, Py_ssize_t count)
{
    if (count < 8) {
        float sum = part[0];
        for (Py_ssize_t k = 1; k < count; k++)
            sum += part[k];
        return sum;
    }
    float sums[8];
    memcpy(sums, part, sizeof sums);
    Py_ssize_t k = 8;
    for (; k + 8 <= count; k += 8)
        for (int j = 0; j < 8; j++)
            sums[j] += part[k + j];
    float sum = ((sums[0] + sums[1]) + (sums[2] + sums[3])) +
                ((sums[4] + sums[5]) + (sums[6] + sums[7]));
    for (; k < count; k++)
        sum += part[k];
    return sum;
}

static void light_of_blocks(const uint16_t *codes, Py_ssize_t stride, const float *light,
                            Py_ssize_t side, Py_ssize_t height, Py_ssize_t width, float *sums,
                            float *out)
{
    Py_ssize_t across = width * side;
    for (Py_ssize_t y = 0; y < height; y++) {
        for (Py_ssize_t k = 0; k < side; k++, codes += stride)
            if (k == 0)
                for (Py_ssize_t x = 0; x < across; x++)
                    sums[x] = light[codes[x]];
            else
                for (Py_ssize_t x = 0; x < across; x++)
                    sums[x] += light[codes[x]];
        for (Py_ssize_t x = 0; x < width; x++)
            *out++ = sum_as_numpy(sums + x * side, side);
    }
}

static void counts_of_blocks(const uint16_t *codes, Py_ssize_t stride, const uint16_t *kinds,
                             Py_ssize_t high, Py_ssize_t wide, Py_ssize_t height, Py_ssize_t width,
                             uint16_t *sums, uint16_t *out)
{
    Py_ssize_t across = width * wide;
    for (Py_ssize_t y = 0; y < height; y++) {
        memset(sums, 0, across * sizeof *sums);
        for (Py_ssize_t k = 0; k < high; k++, codes += stride)
            for (Py_ssize_t x = 0; x < across; x++)
                sums[x] = (uint16_t)(sums[x] + kinds[codes[x]]);
        for (Py_ssize_t x = 0; x < width; x++) {
            uint16_t sum = 0;
            for (Py_ssize_t k = 0; k < wide; k++)
                sum = (uint16_t)(sum + sums[x * wide + k]);
            *out++ = sum;
        }
    }
}

/* sum_blocks(codes, stride, table, high, wide, width, out)

   codes   (H, stride) uint16
   table   (65536) of the numbers to sum: float, or uint16, whose sums must not pass 65535
   high, wide  of a block, in pixels; floats have square ones of no more than 128 a side
   width   blocks across
   out     (H // high, width) of the table's numbers: their sums. Those of floats are summed down
           first, then across as NumPy does it. */
PyObject *sum_blocks(PyObject *module, PyObject *arguments)
{
    PyObject *objects[3], *result = NULL;
    Py_buffer views[3];
    Py_ssize_t stride, high, wide, width;
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnOnnnO", &objects[0], &stride, &objects[1], &high, &wide,
                          &width, &objects[2]))
        return NULL;
    for (; taken < 3; taken++)
        if (!take_buffer(objects[taken], &views[taken], -1, taken == 2))
            goto end;
    Py_ssize_t bytes = views[1].len / 65536;
    int is_float = bytes == 4;
    if (views[1].len % 65536 || (bytes != 4 && bytes != 2) || stride < 1 || high < 1 || wide < 1 ||
        width < 1 || width > stride / wide || (is_float && (high != wide || wide > 128)) ||
        views[0].len % (2 * stride) ||
        views[2].len != views[0].len / 2 / stride / high * width * bytes) {
        PyErr_SetString(PyExc_ValueError, "there are no such blocks");
        goto end;
    }
    Py_ssize_t height = views[0].len / 2 / stride / high;
    void *sums = PyMem_Malloc(width * wide * bytes);
    if (sums == NULL) {
        PyErr_NoMemory();
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    if (is_float)
        light_of_blocks(views[0].buf, stride, views[1].buf, wide, height, width, sums,
                        views[2].buf);
    else
        counts_of_blocks(views[0].buf, stride, views[1].buf, high, wide, height, width, sums,
                         views[2].buf);
    Py_END_ALLOW_THREADS
    PyMem_Free(sums);
    result = Py_NewRef(Py_None);
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}

WIDE static void depth_of_row(const float *light, const float *one, const float *next, float part,
                              Py_ssize_t width, float *out)
{
    float rest = 1 - part;
    for (Py_ssize_t x = 0; x < width; x++)
        out[x] = 1 - light[x] * (one[x] * rest + next[x] * part);
}

/* depth_below(codes, width, light, inverse, below, part, out)

   codes    (H, width) uint16
   light    (65536) float: of each code
   inverse  (h, width) float: one over the paper's light, in rows of a reduced picture
   below    (H) int32: the row of `inverse` that each row lies below
   part     (H) float: how far it lies from there to the next, the last of which is repeated
   out      (H, width) float: one minus the light over the paper's */
PyObject *depth_below(PyObject *module, PyObject *arguments)
{
    PyObject *objects[6], *result = NULL;
    Py_buffer views[6];
    Py_ssize_t width;
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnOOOOO", &objects[0], &width, &objects[1], &objects[2],
                          &objects[3], &objects[4], &objects[5]))
        return NULL;
    for (; taken < 6; taken++)
        if (!take_buffer(objects[taken], &views[taken], taken == 1 ? 65536 * 4 : -1, taken == 5))
            goto end;
    Py_ssize_t height = views[3].len / 4, known = width < 1 ? 0 : views[2].len / 4 / width;
    int fits = known > 0 && views[3].len % 4 == 0 && views[4].len == height * 4 &&
               views[0].len == height * width * 2 && views[5].len == height * width * 4 &&
               views[2].len == known * width * 4;
    const int32_t *below = views[3].buf;
    for (Py_ssize_t y = 0; fits && y < height; y++)
        fits = below[y] >= 0 && below[y] < known;
    if (!fits) {
        PyErr_SetString(PyExc_ValueError, "the arrays do not go together");
        goto end;
    }
    float *row = PyMem_Malloc(width * sizeof(float));
    if (row == NULL) {
        PyErr_NoMemory();
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    const uint16_t *codes = views[0].buf;
    const float *light = views[1].buf, *inverse = views[2].buf, *part = views[4].buf;
    float *out = views[5].buf;
    for (Py_ssize_t y = 0; y < height; y++, codes += width, out += width) {
        Py_ssize_t next = below[y] + 1 < known ? below[y] + 1 : known - 1;
        for (Py_ssize_t x = 0; x < width; x++)
            row[x] = light[codes[x]];
        depth_of_row(row, inverse + below[y] * width, inverse + next * width, part[y], width, out);
    }
    Py_END_ALLOW_THREADS
    PyMem_Free(row);
    result = Py_NewRef(Py_None);
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}

WIDE static void light_by_paper(const float *light, const float *paper, float gain,
                                Py_ssize_t count, float *out)
{
    for (Py_ssize_t k = 0; k < count; k++) {
        float share = 1 - (1 - light[k] / (paper[k] > 1e-4f ? paper[k] : 1e-4f)) * gain;
        /* Beyond 2 ** 23 a float has no fraction: so it is rounded, halves to the even one. */
        out[k] = (share < 0 ? 0 : share > 1 ? 1 : share) * 65535 + 8388608 - 8388608;
    }
}

/* bare_codes(codes, light, paper, gain, coded, out)

   codes   uint16, as many as `paper` and `out` have
   light   (65536) float: of each code
   paper   float: light of the paper under each; what is darker than 0.0001 counts as that
   gain    what the share of the light that ink takes is multiplied by
   coded   (65536) uint16: the code of each share of the light
   out     uint16 codes */
PyObject *bare_codes(PyObject *module, PyObject *arguments)
{
    enum { AT_ONCE = 1024 };
    PyObject *objects[5], *result = NULL;
    Py_buffer views[5];
    float gain;
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OOOfOO", &objects[0], &objects[1], &objects[2], &gain,
                          &objects[3], &objects[4]))
        return NULL;
    for (; taken < 5; taken++)
        if (!take_buffer(objects[taken], &views[taken],
                         taken == 1 ? 65536 * 4 : taken == 3 ? 65536 * 2 : -1, taken == 4))
            goto end;
    Py_ssize_t count = views[0].len / 2;
    if (views[2].len != count * 4 || views[4].len != count * 2) {
        PyErr_SetString(PyExc_ValueError, "the arrays do not go together");
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    const uint16_t *codes = views[0].buf, *coded = views[3].buf;
    const float *light = views[1].buf, *paper = views[2].buf;
    uint16_t *out = views[4].buf;
    float lit[AT_ONCE];
    for (Py_ssize_t since = 0; since < count; since += AT_ONCE) {
        Py_ssize_t some = count - since < AT_ONCE ? count - since : AT_ONCE;
        for (Py_ssize_t k = 0; k < some; k++)
            lit[k] = light[codes[since + k]];
        light_by_paper(lit, paper + since, gain, some, lit);
        for (Py_ssize_t k = 0; k < some; k++)
            out[since + k] = coded[(int32_t)lit[k]];
    }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}

/* stretch_rows(rows, known, since, part, out)

   rows   (h, known) float
   since  (width) int32: the column of `rows` that each wanted one lies at or behind
   part   (width) double: how far it lies from there to the next; the last is repeated
   out    (h, width) float: between the two, worked out in double precision */
PyObject *stretch_rows(PyObject *module, PyObject *arguments)
{
    PyObject *objects[4], *result = NULL;
    Py_buffer views[4];
    Py_ssize_t known;
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnOOO", &objects[0], &known, &objects[1], &objects[2],
                          &objects[3]))
        return NULL;
    for (; taken < 4; taken++)
        if (!take_buffer(objects[taken], &views[taken], -1, taken == 3))
            goto end;
    Py_ssize_t width = views[1].len / 4, height = known < 1 ? 0 : views[0].len / 4 / known;
    int fits = height > 0 && views[0].len == height * known * 4 && views[1].len == width * 4 &&
               views[2].len == width * 8 && views[3].len == height * width * 4;
    const int32_t *since = views[1].buf;
    for (Py_ssize_t x = 0; fits && x < width; x++)
        fits = since[x] >= 0 && since[x] < known;
    if (!fits) {
        PyErr_SetString(PyExc_ValueError, "the arrays do not go together");
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    const float *row = views[0].buf;
    const double *part = views[2].buf;
    float *out = views[3].buf;
    for (Py_ssize_t y = 0; y < height; y++, row += known, out += width)
        for (Py_ssize_t x = 0; x < width; x++) {
            double here = row[since[x]], next = row[since[x] + (since[x] + 1 < known)];
            out[x] = (float)((next - here) * part[x] + here);
        }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}
