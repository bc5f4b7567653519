/* Pixels that spread within a shape, on long rows of words, the first pixel of a word highest. */

#include "kernels.h"

/* A picture of so many words, `row` of them a row; `part` is its first row, the row past its last,
   its first word of a row and the word past its last. */
typedef struct {
    const uint64_t *shape, *counted;
    Py_ssize_t size, row, part[4];
} Picture;

/* Each pixel together with those before and after it. */
WIDE static void with_sides(const uint64_t *words, Py_ssize_t size, uint64_t *sides)
{
    for (Py_ssize_t k = 1; k < size - 1; k++)
        sides[k] = words[k] | words[k] << 1 | words[k] >> 1 | words[k + 1] >> 63 |
                   words[k - 1] << 63;
    sides[0] = words[0] | words[0] << 1 | words[0] >> 1 | words[1] >> 63;
    Py_ssize_t last = size - 1;
    sides[last] = words[last] | words[last] << 1 | words[last] >> 1 | words[last - 1] << 63;
}

/* What `sides`, and of the rows above and below the `source`, cover of the shape; whether that is
   more than there was. */
WIDE static int within(const uint64_t *sides, const uint64_t *source, const uint64_t *before,
                       const Picture *of, uint64_t *grown)
{
    Py_ssize_t size = of->size, row = of->row, k = 0;
    const uint64_t *shape = of->shape;
    uint64_t changed = 0;
    for (; k < row; k++) {
        grown[k] = (sides[k] | source[k + row]) & shape[k];
        changed |= grown[k] ^ before[k];
    }
    for (; k < size - row; k++) {
        grown[k] = (sides[k] | source[k - row] | source[k + row]) & shape[k];
        changed |= grown[k] ^ before[k];
    }
    for (; k < size; k++) {
        grown[k] = (sides[k] | source[k - row]) & shape[k];
        changed |= grown[k] ^ before[k];
    }
    return changed != 0;
}

/* Whether more than `enough` of the pixels that count are not among these. */
static int misses(const uint64_t *words, const Picture *of, Py_ssize_t enough)
{
    const Py_ssize_t *part = of->part;
    const uint64_t *counted = of->counted;
    Py_ssize_t left = 0;
    for (Py_ssize_t y = part[0]; y < part[1]; y++)
        for (Py_ssize_t x = part[2]; x < part[3]; x++, counted++) {
            uint64_t missing = *counted & ~words[y * of->row + x];
            for (; missing; missing &= missing - 1)
                if (++left > enough)
                    return 1;
        }
    return 0;
}

/* The pixels end in the first of the three buffers that takes turns; which that is. */
static uint64_t *spread(uint64_t *words, uint64_t *sides, uint64_t *grown, const Picture *of,
                        Py_ssize_t steps, Py_ssize_t enough)
{
    for (Py_ssize_t step = 0; step < steps && misses(words, of, enough); step++) {
        with_sides(words, of->size, sides);
        int changed = within(sides, step % 2 ? sides : words, words, of, grown);
        if (step % 2 && !changed)
            break;
        uint64_t *other = words;
        words = grown, grown = other;
    }
    return words;
}

/* spread_within(words, shape, row, part, counted, steps, enough)

   Lets the pixels of `words`, in their place, grow within a shape: by one to all sides at each of
   so many steps, and at every second to the corners too. It ends where a step to the corners finds
   no more, and as soon as no more than `enough` of the pixels that count are missing. Rows have
   `row` words; `part` is four numbers as above, and `counted` has the words of that part. */
PyObject *spread_within(PyObject *module, PyObject *arguments)
{
    PyObject *words, *shape, *counted, *result = NULL;
    Py_ssize_t steps, enough;
    Picture of;
    Py_ssize_t *part = of.part;
    Py_buffer views[3];
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OOn(nnnn)Onn", &words, &shape, &of.row, &part[0], &part[1],
                          &part[2], &part[3], &counted, &steps, &enough))
        return NULL;
    if (!take_buffer(words, &views[0], -1, 1))
        return NULL;
    Py_ssize_t bytes = views[0].len;
    of.size = bytes / 8;
    if (of.row < 1 || of.size < 2 * of.row || of.size < 2 || of.size % of.row || part[0] < 0 ||
        part[1] < part[0] || part[1] > of.size / of.row || part[2] < 0 || part[3] < part[2] ||
        part[3] > of.row || bytes % 8) {
        PyErr_SetString(PyExc_ValueError, "there is no such part");
        goto no_shape;
    }
    if (!take_buffer(shape, &views[1], bytes, 0))
        goto no_shape;
    if (!take_buffer(counted, &views[2], (part[1] - part[0]) * (part[3] - part[2]) * 8, 0))
        goto no_counted;
    of.shape = views[1].buf, of.counted = views[2].buf;
    uint64_t *room = PyMem_Malloc(2 * bytes);
    if (room == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    Py_BEGIN_ALLOW_THREADS
    uint64_t *found = spread(views[0].buf, room, room + of.size, &of, steps, enough);
    if (found != views[0].buf)
        memcpy(views[0].buf, found, bytes);
    Py_END_ALLOW_THREADS
    PyMem_Free(room);
    result = Py_NewRef(Py_None);
done:
    PyBuffer_Release(&views[2]);
no_counted:
    PyBuffer_Release(&views[1]);
no_shape:
    PyBuffer_Release(&views[0]);
    return result;
}
