/* Pixels of 8 bits to coded gray by tables of light.

   code_pixels(pixels, shares, codes, over_white, out)

   pixels      (n, 4) uint8: red, green, blue and opacity, or anything in its place
   shares      (3, 256) int32: the light that each code of a channel gives, in steps; they add up to
               no more than the last number of `codes`
   codes       (steps + 1) uint16: the code of a sum of light; `steps` is that of white
   over_white  whether opacity counts: what is not opaque lies over white
   out         (n) uint16 */

#include "kernels.h"

WIDE static void code_opaque(
    const uint8_t *pixels, const int32_t *shares, const uint16_t *codes, int32_t steps,
    uint16_t *out, Py_ssize_t count)
{
    for (Py_ssize_t k = 0; k < count; k++, pixels += 4) {
        int32_t light = shares[pixels[0]] + shares[256 + pixels[1]] + shares[512 + pixels[2]];
        out[k] = codes[light < 0 ? 0 : light > steps ? steps : light];
    }
}

static void code_over_white(
    const uint8_t *pixels, const int32_t *shares, const uint16_t *codes, int32_t steps,
    uint16_t *out, Py_ssize_t count)
{
    for (Py_ssize_t k = 0; k < count; k++, pixels += 4) {
        int32_t light = shares[pixels[0]] + shares[256 + pixels[1]] + shares[512 + pixels[2]];
        light = light < 0 ? 0 : light > steps ? steps : light;
        int64_t shade = (int64_t)(steps - light) * pixels[3];
        out[k] = codes[steps - (shade + 127) / 255];
    }
}

PyObject *code_pixels(PyObject *module, PyObject *arguments)
{
    (void)module;
    PyObject *objects[4];
    Py_buffer views[4];
    int over_white, taken = 0, done = 0;
    if (!PyArg_ParseTuple(arguments, "OOOpO", &objects[0], &objects[1], &objects[2], &over_white,
                          &objects[3]))
        return NULL;
    for (; taken < 4; taken++)
        if (!take_buffer(objects[taken], &views[taken], taken == 1 ? 3 * 256 * 4 : -1, taken == 3))
            goto end;
    Py_ssize_t count = views[0].len / 4, steps = views[2].len / 2 - 1;
    if (views[0].len % 4 || views[3].len != count * 2 || steps < 0 || steps > INT32_MAX) {
        PyErr_SetString(PyExc_ValueError, "the arrays do not go together");
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    (over_white ? code_over_white : code_opaque)(
        views[0].buf, views[1].buf, views[2].buf, (int32_t)steps, views[3].buf, count);
    Py_END_ALLOW_THREADS
    done = 1;
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    if (!done)
        return NULL;
    Py_RETURN_NONE;
}
