/* Openings with discs on long rows of words, the first pixel of a word highest. */

#include "kernels.h"

/* Every pixel takes the value `count` pixels after it; nothing comes in at the end. */
WIDE static void shift_left(const uint64_t *in, Py_ssize_t size, Py_ssize_t count, uint64_t *out)
{
    Py_ssize_t whole = count / 64, part = count % 64, left = size - whole;
    memset(out + left, 0, whole * 8);
    if (part == 0) {
        memcpy(out, in + whole, left * 8);
        return;
    }
    for (Py_ssize_t k = 0; k < left - 1; k++)
        out[k] = in[whole + k] << part | in[whole + k + 1] >> (64 - part);
    out[left - 1] = in[size - 1] << part;
}

/* Every pixel takes the value `count` pixels before it; nothing comes in at the beginning. */
WIDE static void shift_right(const uint64_t *in, Py_ssize_t size, Py_ssize_t count, uint64_t *out)
{
    Py_ssize_t whole = count / 64, part = count % 64, left = size - whole;
    memset(out, 0, whole * 8);
    out += whole;
    if (part == 0) {
        memcpy(out, in, left * 8);
        return;
    }
    out[0] = in[0] >> part;
    for (Py_ssize_t k = 1; k < left; k++)
        out[k] = in[k] >> part | in[k - 1] << (64 - part);
}

WIDE static void meet(uint64_t *words, const uint64_t *others, Py_ssize_t count)
{
    for (Py_ssize_t k = 0; k < count; k++)
        words[k] &= others[k];
}

WIDE static void join(uint64_t *words, const uint64_t *others, Py_ssize_t count)
{
    for (Py_ssize_t k = 0; k < count; k++)
        words[k] |= others[k];
}

/* What rows of a disc are made of: `lengths` in rising order, and for each row, from the top, its
   first column and which of the lengths it has. */
typedef struct {
    const int32_t *lengths, *rows;
    Py_ssize_t length_count, row_count;
} Disc;

/* `bits` met with its next shifts to the left (or joined with those to the right), as many as each
   length wants: one after the other in `runs`. `done` and `moved` have room for `size` words. */
static void spans_of(const uint64_t *bits, Py_ssize_t size, const Disc *disc, int met,
                     uint64_t *done, uint64_t *moved, uint64_t *runs)
{
    Py_ssize_t reached = 1;
    memcpy(done, bits, size * 8);
    for (Py_ssize_t k = 0; k < disc->length_count; k++) {
        while (reached < disc->lengths[k]) {
            Py_ssize_t further = disc->lengths[k] - reached;
            Py_ssize_t step = reached < further ? reached : further;
            if (met) {
                shift_left(done, size, step, moved);
                meet(done, moved, size);
            } else {
                shift_right(done, size, step, moved);
                join(done, moved, size);
            }
            reached += step;
        }
        memcpy(runs + k * size, done, size * 8);
    }
}

static int is_disc(const Disc *disc, Py_ssize_t size, Py_ssize_t row)
{
    for (Py_ssize_t k = 0; k < disc->length_count; k++)
        if (disc->lengths[k] < 1 || disc->lengths[k] > 64 * (size - 1) ||
            (k && disc->lengths[k] <= disc->lengths[k - 1]))
            return 0;
    for (Py_ssize_t k = 0; k < disc->row_count; k++) {
        int32_t first = disc->rows[2 * k], which = disc->rows[2 * k + 1];
        if (first < 0 || first > 64 * (size - 1) || which < 0 || which >= disc->length_count)
            return 0;
    }
    return size > 1 && row > 0 && disc->row_count <= size / row;
}

static void open_by_disc(const uint64_t *shape, Py_ssize_t size, Py_ssize_t row, const Disc *disc,
                         uint64_t *room, uint64_t *swept)
{
    uint64_t *fits = room, *done = room + size, *moved = done + size, *runs = moved + size;
    memset(fits, 0xFF, size * 8);
    spans_of(shape, size, disc, 1, done, moved, runs);
    for (Py_ssize_t k = 0; k < disc->row_count; k++) {
        Py_ssize_t down = k * row;
        shift_left(runs + disc->rows[2 * k + 1] * size, size, disc->rows[2 * k], moved);
        meet(fits, moved + down, size - down);
        memset(fits + size - down, 0, down * 8);
    }
    memset(swept, 0, size * 8);
    spans_of(fits, size, disc, 0, done, moved, runs);
    for (Py_ssize_t k = 0; k < disc->row_count; k++) {
        Py_ssize_t down = k * row;
        shift_right(runs + disc->rows[2 * k + 1] * size, size, disc->rows[2 * k], moved);
        join(swept + down, moved, size - down);
    }
}

/* disc_opening(shape, row, lengths, rows, swept)

   The part of a shape that a disc can sweep; rows have `row` words of 64 pixels. Of the disc
   `lengths` are the different lengths of its rows, rising, and `rows` has two numbers for each of
   them from the top: its first column, and which of the lengths; both int32. */
PyObject *disc_opening(PyObject *module, PyObject *arguments)
{
    PyObject *shape, *lengths, *rows, *swept, *result = NULL;
    Py_ssize_t row;
    Py_buffer given, some, all, found;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnOOO", &shape, &row, &lengths, &rows, &swept))
        return NULL;
    if (!take_buffer(shape, &given, -1, 0))
        return NULL;
    if (!take_buffer(lengths, &some, -1, 0))
        goto no_lengths;
    if (!take_buffer(rows, &all, -1, 0))
        goto no_rows;
    if (!take_buffer(swept, &found, given.len, 1))
        goto no_room;
    Disc disc = {some.buf, all.buf, some.len / 4, all.len / 8};
    Py_ssize_t size = given.len / 8;
    if (!is_disc(&disc, size, row)) {
        PyErr_SetString(PyExc_ValueError, "that is no disc, or is larger than the shape");
        goto done;
    }
    uint64_t *room = PyMem_Malloc((3 + disc.length_count) * size * 8);
    if (room == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    Py_BEGIN_ALLOW_THREADS
    open_by_disc(given.buf, size, row, &disc, room, found.buf);
    Py_END_ALLOW_THREADS
    PyMem_Free(room);
    result = Py_NewRef(Py_None);
done:
    PyBuffer_Release(&found);
no_room:
    PyBuffer_Release(&all);
no_rows:
    PyBuffer_Release(&some);
no_lengths:
    PyBuffer_Release(&given);
    return result;
}
