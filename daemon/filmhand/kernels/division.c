/* How far pixels that regions share are from being divided as they are shared.

   divide_pixels(place, width, table, regions, whole, near, rows, columns, shares, out)

   place          (height, width) int32: the row of the table that each pixel refers to
   table          (t, regions) uint16: what such pixels are taken to have of each region
   regions        how many; no more than MOST_REGIONS
   whole          what two by two pixels have together where a region is a shape there
   near           what may lack without being told
   rows, columns  (m) int32: the pixels that are asked for
   shares         (m, regions) int32: what these have in truth
   out            (m, regions) int32: how much less of them the regions get

   All is in whole numbers, so NumPy's way has the same bits. */

#include "kernels.h"

enum { FINE = 8, MOST_REGIONS = 17 };

typedef struct {
    const int32_t *place;
    const uint16_t *table;
    Py_ssize_t height, width;
    int regions;
    int32_t whole, near;
} Picture;

/* At how many of the fine places each region has most, the first of several that have as much. */
WIDE static void divide(const uint16_t *const around[9], int regions, int32_t *found)
{
    int32_t most[FINE * FINE] = {0};
    int32_t owner[FINE * FINE] = {0};
    for (int region = 0; region < regions; region++) {
        int32_t across[3][FINE], any = 0;
        for (int k = 0; k < 9; k++)
            any |= around[k][region];
        if (!any)
            continue;
        for (int row = 0; row < 3; row++) {
            int32_t before = around[3 * row][region], here = around[3 * row + 1][region],
                    after = around[3 * row + 2][region];
            for (int x = 0; x < FINE; x++) {
                int at = 2 * x + 1 - FINE;
                across[row][x] = (at < 0 ? before * -at : after * at) +
                                 here * (2 * FINE - (at < 0 ? -at : at));
            }
        }
        for (int y = 0; y < FINE; y++) {
            int at = 2 * y + 1 - FINE, far = at < 0 ? -at : at;
            const int32_t *beside = across[at < 0 ? 0 : 2];
            int32_t *line = most + FINE * y;
            int32_t *whose = owner + FINE * y;
            for (int x = 0; x < FINE; x++) {
                int32_t part = beside[x] * far + across[1][x] * (2 * FINE - far);
                whose[x] = part > line[x] ? region : whose[x];
                line[x] = part > line[x] ? part : line[x];
            }
        }
    }
    for (int region = 0; region < regions; region++) {
        int32_t count = 0;
        for (int k = 0; k < FINE * FINE; k++)
            count += owner[k] == region;
        found[region] = count;
    }
}

/* Whether a region has enough of some two by two pixels to be a shape there. */
static int in_company(const uint16_t *const around[9], int region, int32_t whole)
{
    for (int row = 0; row < 2; row++)
        for (int column = 0; column < 2; column++) {
            int first = 3 * row + column;
            if (around[first][region] + around[first + 1][region] + around[first + 3][region] +
                    around[first + 4][region] >= whole)
                return 1;
        }
    return 0;
}

static void lacking(const Picture *of, Py_ssize_t y, Py_ssize_t x, const int32_t *shares,
                    int32_t *out)
{
    const uint16_t *around[9];
    int32_t goal[MOST_REGIONS], found[MOST_REGIONS], total = 0;
    for (int k = 0; k < 9; k++) {
        Py_ssize_t row = y + k / 3 - 1, column = x + k % 3 - 1;
        row = row < 0 ? 0 : row >= of->height ? of->height - 1 : row;
        column = column < 0 ? 0 : column >= of->width ? of->width - 1 : column;
        around[k] = of->table + (Py_ssize_t)of->place[row * of->width + column] * of->regions;
    }
    for (int k = 0; k < of->regions; k++) {
        goal[k] = shares[k] && in_company(around, k, of->whole) ? shares[k] : 0;
        total += goal[k];
    }
    divide(around, of->regions, found);
    for (int k = 0; k < of->regions; k++) {
        int32_t lacks = goal[k] - found[k] * (total / (FINE * FINE));
        out[k] = !goal[k] || (lacks <= of->near && lacks >= -of->near) ? 0 : lacks;
    }
}

PyObject *divide_pixels(PyObject *module, PyObject *arguments)
{
    (void)module;
    PyObject *objects[6];
    Py_buffer views[6];
    Picture of;
    int taken = 0, done = 0;
    if (!PyArg_ParseTuple(arguments, "OnOiiiOOOO", &objects[0], &of.width, &objects[1],
                          &of.regions, &of.whole, &of.near, &objects[2], &objects[3], &objects[4],
                          &objects[5]))
        return NULL;
    for (; taken < 6; taken++)
        if (!take_buffer(objects[taken], &views[taken], -1, taken == 5))
            goto end;
    Py_ssize_t count = views[2].len / 4, pixels = views[0].len / 4;
    if (of.regions < 1 || of.regions > MOST_REGIONS || of.width < 1 || pixels < of.width ||
        pixels % of.width || views[3].len != count * 4 ||
        views[4].len != count * 4 * of.regions || views[5].len != views[4].len) {
        PyErr_SetString(PyExc_ValueError, "the arrays do not go together");
        goto end;
    }
    of.place = views[0].buf, of.table = views[1].buf, of.height = pixels / of.width;
    const int32_t *rows = views[2].buf, *columns = views[3].buf, *shares = views[4].buf;
    int32_t *out = views[5].buf;
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t k = 0; k < count; k++)
        lacking(&of, rows[k], columns[k], shares + k * of.regions, out + k * of.regions);
    Py_END_ALLOW_THREADS
    done = 1;
end:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    if (!done)
        return NULL;
    Py_RETURN_NONE;
}
