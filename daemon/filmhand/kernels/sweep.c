/* Shapes on one long row of words, the first cell of a word lowest, joined with themselves moved. */

#include "kernels.h"

#define AT_ONCE 512

/* `to` with the words at `near`, moved by `left` bits up and `right` bits down, and those at `far`,
   moved so far that they carry on. */
WIDE static void join(const uint64_t *to, const uint64_t *near, const uint64_t *far, int left,
                      int right, Py_ssize_t count, int meets, uint64_t *restrict out)
{
    int up = (64 - right) % 64, down = (64 - left) % 64;
    if (!left && !right)
        for (Py_ssize_t k = 0; k < count; k++)
            out[k] = meets ? to[k] & near[k] : to[k] | near[k];
    else if (left && meets)
        for (Py_ssize_t k = 0; k < count; k++)
            out[k] = to[k] & (near[k] << left | far[k] >> down);
    else if (left)
        for (Py_ssize_t k = 0; k < count; k++)
            out[k] = to[k] | near[k] << left | far[k] >> down;
    else if (meets)
        for (Py_ssize_t k = 0; k < count; k++)
            out[k] = to[k] & (near[k] >> right | far[k] << up);
    else
        for (Py_ssize_t k = 0; k < count; k++)
            out[k] = to[k] | near[k] >> right | far[k] << up;
}

/* The grid together with itself `whole` words and `part` bits farther up, from its end on, so that
   what is read has not been changed. */
static void join_up(uint64_t *grid, Py_ssize_t size, Py_ssize_t whole, int part, int meets)
{
    uint64_t joined[AT_ONCE];
    for (Py_ssize_t stop = size; stop > whole + 1;) {
        Py_ssize_t count = stop - whole - 1 < AT_ONCE ? stop - whole - 1 : AT_ONCE;
        const uint64_t *near = grid + stop - count - whole;
        stop -= count;
        join(grid + stop, near, near - 1, part, 0, count, meets, joined);
        memcpy(grid + stop, joined, 8 * count);
    }
    uint64_t first = grid[0] << part;
    grid[whole] = meets ? grid[whole] & first : grid[whole] | first;
}

/* The same farther down, from its start on. */
static void join_down(uint64_t *grid, Py_ssize_t size, Py_ssize_t whole, int part, int meets)
{
    uint64_t joined[AT_ONCE];
    Py_ssize_t end = size - whole - 1;
    for (Py_ssize_t start = 0; start < end;) {
        Py_ssize_t count = end - start < AT_ONCE ? end - start : AT_ONCE;
        const uint64_t *near = grid + start + whole;
        join(grid + start, near, near + 1, 0, part, count, meets, joined);
        memcpy(grid + start, joined, 8 * count);
        start += count;
    }
    uint64_t last = grid[size - 1] >> part;
    grid[end] = meets ? grid[end] & last : grid[end] | last;
}

/* join_moved(grid, steps, meets) -> None

   grid: (n,) uint64; steps: (k,) int64, in cells. Step after step the grid is joined with itself
   moved by so many cells, as far as it reaches: what both have where it `meets`, else what either
   has. */
PyObject *join_moved(PyObject *module, PyObject *arguments)
{
    PyObject *words, *moves, *answer = NULL;
    Py_buffer grid, steps;
    int meets;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OOp", &words, &moves, &meets))
        return NULL;
    if (!take_buffer(words, &grid, -1, 1))
        return NULL;
    if (!take_buffer(moves, &steps, -1, 0))
        goto no_steps;
    Py_ssize_t size = grid.len / 8, count = steps.len / 8;
    const int64_t *step = steps.buf;
    for (Py_ssize_t k = 0; k < count; k++)
        if (step[k] <= -64 * size || step[k] >= 64 * size) {
            PyErr_SetString(PyExc_ValueError, "a step leads beyond the grid");
            goto done;
        }
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t k = 0; k < count; k++) {
        Py_ssize_t cells = (Py_ssize_t)(step[k] < 0 ? -step[k] : step[k]);
        (step[k] < 0 ? join_down : join_up)(grid.buf, size, cells / 64, (int)(cells % 64), meets);
    }
    Py_END_ALLOW_THREADS
    answer = Py_NewRef(Py_None);
done:
    PyBuffer_Release(&steps);
no_steps:
    PyBuffer_Release(&grid);
    return answer;
}
