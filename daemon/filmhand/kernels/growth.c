/* How the pixels of a halftone tile are reached from the first ones of their centers. */

#include "kernels.h"

typedef struct {
    int32_t length, height, shift;
} Brick;

/* The neighbors of a pixel of a wall of bricks; each course begins `shift` pixels to the right of
   the one above it. */
static void beside(const Brick *brick, int32_t here, int32_t four[4])
{
    int32_t row = here / brick->length, column = here - row * brick->length;
    int32_t last = (brick->height - 1) * brick->length;
    four[0] = column + 1 < brick->length ? here + 1 : here + 1 - brick->length;
    four[1] = column > 0 ? here - 1 : here - 1 + brick->length;
    if (row + 1 < brick->height)
        four[2] = here + brick->length;
    else
        four[2] = column >= brick->shift ? column - brick->shift
                                         : column - brick->shift + brick->length;
    if (row > 0)
        four[3] = here - brick->length;
    else
        four[3] = last + (column + brick->shift < brick->length
                              ? column + brick->shift
                              : column + brick->shift - brick->length);
}

/* Raise `reached` until no pixel offers a neighbor of the same owner more than it has. A pixel
   offers its own level less `step`, and no more than the neighbor's value. Whatever the order in
   which pixels are looked at, the end is the same. `queue` has room for each pixel once. */
static void raise_levels(const Brick *brick, const int32_t *owner, const double *value,
                         double step, double *reached, int32_t *queue, uint8_t *waits)
{
    int32_t count = brick->length * brick->height, first = 0, waiting = 0, four[4];
    for (int32_t here = 0; here < count; here++)
        if (waits[here])
            queue[waiting++] = here;
    while (waiting > 0) {
        int32_t here = queue[first];
        first = first + 1 < count ? first + 1 : 0;
        waiting--;
        waits[here] = 0;
        double most = reached[here] - step;
        beside(brick, here, four);
        for (int way = 0; way < 4; way++) {
            int32_t there = four[way];
            double offer = value[there] < most ? value[there] : most;
            if (owner[there] != owner[here] || !(offer > reached[there]))
                continue;
            reached[there] = offer;
            if (!waits[there]) {
                int64_t place = (int64_t)first + waiting++;
                queue[place < count ? place : place - count] = there;
                waits[there] = 1;
            }
        }
    }
}

/* reach_pixels(length, height, shift, owner, value, step, reached, waits) -> None

   owner: (pixels,) int32; value, reached: (pixels,) float64; waits: (pixels,) bool, the pixels to
   begin with, all false in the end. */
PyObject *reach_pixels(PyObject *module, PyObject *arguments)
{
    Brick brick;
    PyObject *objects[4], *answer = NULL;
    Py_buffer views[4];
    double step;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "iiiOOdOO", &brick.length, &brick.height, &brick.shift,
                          &objects[0], &objects[1], &step, &objects[2], &objects[3]))
        return NULL;
    if (brick.length < 1 || brick.height < 1 || brick.shift < 0 || brick.shift >= brick.length ||
        brick.length > INT32_MAX / 2 / brick.height) {
        PyErr_SetString(PyExc_ValueError, "no such brick");
        return NULL;
    }
    const Py_ssize_t pixels = (Py_ssize_t)brick.length * brick.height;
    const Py_ssize_t bytes[4] = {4 * pixels, 8 * pixels, 8 * pixels, pixels};
    int taken = 0;
    while (taken < 4 && take_buffer(objects[taken], &views[taken], bytes[taken], taken >= 2))
        taken++;
    if (taken == 4) {
        int32_t *queue = PyMem_Malloc(4 * (size_t)pixels);
        if (queue == NULL) {
            PyErr_NoMemory();
        } else {
            Py_BEGIN_ALLOW_THREADS
            raise_levels(&brick, views[0].buf, views[1].buf, step, views[2].buf, queue,
                         views[3].buf);
            Py_END_ALLOW_THREADS
            PyMem_Free(queue);
            answer = Py_NewRef(Py_None);
        }
    }
    while (taken > 0)
        PyBuffer_Release(&views[--taken]);
    return answer;
}
