/* What the opening of a shape with a disc takes of a part of a picture, in one window of words
   around the part, the first pixel of a word highest: one long row, so that a step in any
   direction is one shift of all of it. What a shift carries over the end of a row comes in at the
   next, and reaches no farther than the surroundings; so the part itself is the same as in the
   NumPy twin, in disc_opening.py, which tells what is measured and why. */

#include "kernels.h"
#include "shifts.h"

#include <stdlib.h>

/* The different rows of a disc, (length, first column) each, the shortest first; and for each of its
   rows, from the top, which of them it is. */
typedef struct {
    const int32_t *runs, *rows;
    Py_ssize_t run_count, row_count;
} Disc;

/* The question, as the arguments tell it, and the window: `height` rows of `row` words, in which
   the part begins at row `halo` and word `beside`; `shape` and three buffers are of that size.
   `counted` are the pixels of the part that can be lost, `inside` is a row: what lies in the area.
   Of each different row of the disc there are as many lines as it has rows, the last of those with
   the places where it fits, and of those that it covers. */
typedef struct {
    const uint8_t *rows;
    Py_ssize_t row_bytes, skip, width, before, after, left, right, halo, steps, near;
    int ink;
    Disc disc;
    Py_ssize_t row, height, size, beside, part_rows, part_words;
    uint64_t *shape, *kept, *one, *other, *counted, *inside, *fitting, *covered, *lines[3];
} Window;

/* Numbers of pixels, a list that grows. */
typedef struct {
    int64_t *at;
    size_t count, room;
} Pixels;

/* Cut the window out of the rows. Beyond the area the shape goes on. */
WIDE static void take_in(Window *at)
{
    Py_ssize_t row = at->row, begin = at->left - 8 * at->beside, end = (at->width + 7) / 8;
    Py_ssize_t first = begin > 0 ? begin : 0;
    Py_ssize_t stop = end < begin + 8 * row ? end : begin + 8 * row;
    uint64_t *inside = at->inside, turned = at->ink ? 0 : UINT64_MAX;
    uint8_t *bytes = (uint8_t *)inside + (first - begin);
    memset(inside, 0, row * 8);
    memset(bytes, 0xFF, stop - first);
    if (first == 0)
        bytes[0] = (uint8_t)(0xFF >> at->skip);
    if (stop == end)
        bytes[stop - first - 1] &= (uint8_t)(0xFF << (-at->width & 7));
    for (Py_ssize_t x = 0; x < row; x++)
        inside[x] = first_bit_highest(inside[x]);
    memset(at->shape, 0xFF, at->before * row * 8);
    memset(at->shape + (at->height - at->after) * row, 0xFF, at->after * row * 8);
    for (Py_ssize_t y = at->before; y < at->height - at->after; y++) {
        uint64_t *line = at->shape + y * row;
        line[0] = line[row - 1] = 0;
        if (stop - first < 8 * (row - 2))
            memset(line, 0, row * 8);
        const uint8_t *from = at->rows + (y - at->before) * at->row_bytes + first;
        memcpy((uint8_t *)line + (first - begin), from, stop - first);
        for (Py_ssize_t x = 0; x < row; x++)
            line[x] = (first_bit_highest(line[x]) ^ turned) | ~inside[x];
    }
}

/* Whether all of the window is shape, and nothing to be lost. */
static int is_full(const Window *at)
{
    Py_ssize_t k = 0;
    while (k < at->size && at->shape[k] == UINT64_MAX)
        k++;
    return k == at->size;
}

/* The pixels of the window together with so many before each, `unit` pixels apart; where they are
   then, of `words` and `other`. */
static inline uint64_t *spanned(uint64_t *words, uint64_t *other, Py_ssize_t size, Py_ssize_t count,
                         Py_ssize_t unit)
{
    for (Py_ssize_t reached = 1; reached <= count;) {
        Py_ssize_t further = count + 1 - reached, step = reached < further ? reached : further;
        join_before(words, size, step * unit, other);
        uint64_t *free = words;
        words = other, other = free;
        reached += step;
    }
    return words;
}

/* Of the part what can be lost: the shape, of gaps where ink is near. Whether there is any. */
WIDE static int find_counted(Window *at)
{
    const uint64_t *near = NULL;
    if (at->near) {
        uint64_t any = 0;
        for (Py_ssize_t y = 0; y < at->height; y++)
            for (Py_ssize_t x = 0; x < at->row; x++) {
                /* Beyond the area all is shape. */
                uint64_t ink = ~at->shape[y * at->row + x];
                at->one[y * at->row + x] = ink;
                any |= ink;
            }
        if (!any)
            return 0;
        uint64_t *grown = spanned(at->one, at->other, at->size, 2 * at->near, 1);
        uint64_t *free = grown == at->one ? at->other : at->one;
        grown = spanned(grown, free, at->size, 2 * at->near, 64 * at->row);
        free = grown == at->one ? at->other : at->one;
        shift_left(grown, at->size, at->near * (64 * at->row + 1), free);
        near = free;
    }
    uint64_t *restrict counted = at->counted, any = 0;
    for (Py_ssize_t y = at->halo; y < at->halo + at->part_rows; y++, counted += at->part_words) {
        Py_ssize_t left = y * at->row + at->beside, words = at->part_words;
        const uint64_t *shape = at->shape + left, *inside = at->inside + at->beside;
        for (Py_ssize_t x = 0; x < words; x++)
            counted[x] = shape[x] & inside[x];
        for (Py_ssize_t x = 0; x < words && near; x++)
            counted[x] &= near[left + x];
        for (Py_ssize_t x = 0; x < words; x++)
            any |= counted[x];
    }
    return any != 0;
}

/* The line of runs for a row of the window and one of the different rows of the disc. */
static inline uint64_t *line_of(const Window *at, uint64_t *lines, Py_ssize_t run, Py_ssize_t y)
{
    Py_ssize_t rows = at->disc.row_count;
    return lines + (run * rows + y % rows) * at->row;
}

/* Of each different row of the disc the places on a line where it fits, told at the disc's own
   first column; or, of places where the disc fits, what that row covers of the line. */
static inline void runs_of(const Window *at, const uint64_t *line, int fits, Py_ssize_t y)
{
    const Disc *disc = &at->disc;
    const uint64_t *done = line;
    Py_ssize_t row = at->row, reached = 1;
    for (Py_ssize_t k = 0; k < disc->run_count; k++) {
        Py_ssize_t length = disc->runs[2 * k], first = disc->runs[2 * k + 1];
        uint64_t *out = line_of(at, fits ? at->fitting : at->covered, k, y);
        while (reached < length) {
            Py_ssize_t step = reached < length - reached ? reached : length - reached;
            reached += step;
            uint64_t *next = done == at->lines[0] ? at->lines[1] : at->lines[0];
            if (reached == length && !first)
                next = out;
            if (fits)
                meet_after(done, row, step, next);
            else
                join_before(done, row, step, next);
            done = next;
        }
        if (done == out)
            continue;
        if (fits)
            shift_left(done, row, first, out);
        else
            shift_right(done, row, first, out);
    }
}

/* The places on a line where the disc fits, told at its first pixel. */
static inline const uint64_t *fits_at(const Window *at, Py_ssize_t y)
{
    const Disc *disc = &at->disc;
    Py_ssize_t row = at->row;
    uint64_t *restrict fits = at->lines[2];
    if (y > at->height - disc->row_count) {
        memset(fits, 0, row * 8);
        return fits;
    }
    const uint64_t *first = line_of(at, at->fitting, disc->rows[0], y);
    if (disc->row_count == 1)
        return first;
    for (Py_ssize_t k = 1; k < disc->row_count; k++) {
        const uint64_t *line = line_of(at, at->fitting, disc->rows[k], y + k);
        if (k == 1)
            for (Py_ssize_t x = 0; x < row; x++)
                fits[x] = first[x] & line[x];
        else
            for (Py_ssize_t x = 0; x < row; x++)
                fits[x] &= line[x];
    }
    return fits;
}

/* What discs cover of a line. */
static inline void cover(const Window *at, Py_ssize_t y, uint64_t *restrict kept)
{
    const Disc *disc = &at->disc;
    Py_ssize_t row = at->row, rows = disc->row_count < y + 1 ? disc->row_count : y + 1;
    const uint64_t *first = line_of(at, at->covered, disc->rows[0], y);
    if (rows == 1)
        memcpy(kept, first, row * 8);
    for (Py_ssize_t k = 1; k < rows; k++) {
        const uint64_t *line = line_of(at, at->covered, disc->rows[k], y - k);
        if (k == 1)
            for (Py_ssize_t x = 0; x < row; x++)
                kept[x] = first[x] | line[x];
        else
            for (Py_ssize_t x = 0; x < row; x++)
                kept[x] |= line[x];
    }
}

/* Keep the part of the shape that the disc can sweep. */
WIDE static void open_by_disc(Window *at)
{
    Py_ssize_t further = at->disc.row_count - 1;
    for (Py_ssize_t y = -further; y < at->height; y++) {
        if (y + further < at->height)
            runs_of(at, at->shape + (y + further) * at->row, 1, y + further);
        if (y < 0)
            continue;
        runs_of(at, fits_at(at, y), 0, y);
        cover(at, y, at->kept + y * at->row);
    }
}

/* Each pixel together with those before and after it. */
WIDE static void with_sides(const uint64_t *restrict words, Py_ssize_t size,
                            uint64_t *restrict sides)
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
                       const Window *at, uint64_t *restrict grown)
{
    Py_ssize_t size = at->size, row = at->row, k = 0;
    const uint64_t *shape = at->shape;
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

/* Those of a row of the part that are not kept: whether there are any. */
static inline uint64_t any_missing(const Window *at, Py_ssize_t y)
{
    const uint64_t *kept = at->kept + (y + at->halo) * at->row + at->beside;
    const uint64_t *counted = at->counted + y * at->part_words;
    uint64_t any = 0;
    for (Py_ssize_t x = 0; x < at->part_words; x++)
        any |= counted[x] & ~kept[x];
    return any;
}

/* How many of the pixels that count are not kept, as far as that is no more than `most`. */
WIDE static Py_ssize_t missing(const Window *at, Py_ssize_t most)
{
    Py_ssize_t count = 0;
    for (Py_ssize_t y = 0; y < at->part_rows && count <= most; y++) {
        if (!any_missing(at, y))
            continue;
        const uint64_t *kept = at->kept + (y + at->halo) * at->row + at->beside;
        const uint64_t *counted = at->counted + y * at->part_words;
        for (Py_ssize_t x = 0; x < at->part_words; x++)
            count += bits_in(counted[x] & ~kept[x]);
    }
    return count;
}

/* Let what is kept grow within the shape, by a pixel to all sides at each step, and at every second
   to the corners too; not farther than until no more than `enough` are missing. */
static void forgive(Window *at, Py_ssize_t enough)
{
    for (Py_ssize_t step = 0; step < at->steps && missing(at, enough) > enough; step++) {
        uint64_t *before = at->kept;
        with_sides(before, at->size, at->one);
        int changed = within(at->one, step % 2 ? at->one : before, before, at, at->other);
        if (step % 2 && !changed)
            break; /* a step that takes in the corners was the last that could find any */
        at->kept = at->other;
        at->other = before;
    }
}

/* Whether it is a disc of no more than `most` pixels across or down. */
static int is_disc(const Disc *disc, Py_ssize_t most)
{
    const int32_t *run = disc->runs;
    for (Py_ssize_t k = 0; k < disc->run_count; k++, run += 2)
        if (run[0] < 1 || run[1] < 0 || run[0] > most - run[1] || (k && run[0] <= run[-2]))
            return 0;
    for (Py_ssize_t k = 0; k < disc->row_count; k++)
        if (disc->rows[k] < 0 || disc->rows[k] >= disc->run_count)
            return 0;
    return disc->row_count > 0 && disc->row_count <= most;
}

static int fits_together(const Window *at, Py_ssize_t bytes)
{
    return at->row_bytes > 0 && bytes % at->row_bytes == 0 && at->skip >= 0 && at->skip <= 7 &&
           at->width > at->skip && at->width <= 8 * at->row_bytes && at->left >= 0 &&
           at->right > at->left && at->right <= (at->width + 7) / 8 && at->before >= 0 &&
           at->before <= at->halo && at->after >= 0 && at->after <= at->halo && at->near >= 0 &&
           at->steps > 0 && at->halo >= 3 * at->steps + at->near + 2 &&
           at->height > 2 * at->halo && is_disc(&at->disc, at->steps);
}

/* The question of the arguments (rows, (row bytes, skip, width, before, after, left, right, halo,
   steps, near, ink), runs and rows of a Disc), and room for the window; 0 with an exception. */
static int open_window(Window *at, PyObject *question, PyObject *objects[3], Py_buffer views[3])
{
    if (!PyArg_ParseTuple(question, "nnnnnnnnnnp", &at->row_bytes, &at->skip, &at->width,
                          &at->before, &at->after, &at->left, &at->right, &at->halo, &at->steps,
                          &at->near, &at->ink))
        return 0;
    for (int k = 0; k < 3; k++)
        if (!take_buffer(objects[k], &views[k], -1, 0)) {
            while (k--)
                PyBuffer_Release(&views[k]);
            return 0;
        }
    at->rows = views[0].buf;
    at->disc = (Disc){views[1].buf, views[2].buf, views[1].len / 8, views[2].len / 4};
    if (at->row_bytes > 0)
        at->height = at->before + views[0].len / at->row_bytes + at->after;
    if (!fits_together(at, views[0].len)) {
        PyErr_SetString(PyExc_ValueError, "rows, window and disc do not fit together");
        goto failed;
    }
    at->beside = (at->halo + 63) / 64;
    at->part_rows = at->height - 2 * at->halo;
    at->part_words = (at->right - at->left + 7) / 8;
    at->row = at->part_words + 2 * at->beside;
    at->size = at->height * at->row;
    Py_ssize_t lines = at->disc.run_count * at->disc.row_count * at->row;
    at->shape = malloc(8 * (4 * at->size + at->part_rows * at->part_words + 2 * lines + 4 * at->row));
    if (at->shape == NULL) {
        PyErr_NoMemory();
        goto failed;
    }
    at->kept = at->shape + at->size;
    at->one = at->kept + at->size;
    at->other = at->one + at->size;
    at->counted = at->other + at->size;
    at->fitting = at->counted + at->part_rows * at->part_words;
    at->covered = at->fitting + lines;
    at->inside = at->covered + lines;
    for (int k = 0; k < 3; k++)
        at->lines[k] = at->inside + (k + 1) * at->row;
    return 1;
failed:
    for (int k = 0; k < 3; k++)
        PyBuffer_Release(&views[k]);
    return 0;
}

static void close_window(Window *at, Py_buffer views[3])
{
    free(at->shape);
    for (int k = 0; k < 3; k++)
        PyBuffer_Release(&views[k]);
}

/* What the opening takes: the rows of the part, packed, where `lost` has room for them. */
static void tell_lost(const Window *at, uint8_t *lost)
{
    const uint64_t *counted = at->counted;
    for (Py_ssize_t y = at->halo; y < at->halo + at->part_rows; y++)
        for (Py_ssize_t x = at->beside; x < at->beside + at->part_words; x++, lost += 8) {
            uint64_t word = first_bit_highest(*counted++ & ~at->kept[y * at->row + x]);
            memcpy(lost, &word, 8);
        }
}

/* opening_loss(rows, question, runs, disc, enough, lost) -> (lost, counted)

   How many pixels of a part vanish and how many count; of a loss of no more than `enough` that is
   all that is certain. `lost`, unless None, takes those that vanish, as packed rows of whole words.
   The question is as above; `runs` and `disc` are the int32 of a Disc. */
PyObject *opening_loss(PyObject *module, PyObject *arguments)
{
    PyObject *objects[3], *question, *out, *result = NULL;
    Py_ssize_t enough, gone = 0, count = 0;
    Window at = {0};
    Py_buffer views[3], lost = {0};
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OOOOnO", &objects[0], &question, &objects[1], &objects[2],
                          &enough, &out))
        return NULL;
    if (!open_window(&at, question, objects, views))
        return NULL;
    if (out != Py_None && !take_buffer(out, &lost, 8 * at.part_rows * at.part_words, 1))
        goto done;
    Py_BEGIN_ALLOW_THREADS
    take_in(&at);
    if (find_counted(&at)) {
        memset(at.kept, 0, at.size * 8);
        count = missing(&at, PY_SSIZE_T_MAX);
    }
    if (count && !is_full(&at)) {
        open_by_disc(&at);
        forgive(&at, enough);
        gone = missing(&at, PY_SSIZE_T_MAX);
    }
    if (gone && lost.buf)
        tell_lost(&at, lost.buf);
    else if (lost.buf)
        memset(lost.buf, 0, lost.len);
    Py_END_ALLOW_THREADS
    result = Py_BuildValue("(nn)", gone, count);
    if (lost.buf)
        PyBuffer_Release(&lost);
done:
    close_window(&at, views);
    return result;
}

static int add_pixels(Pixels *list, uint64_t word, int64_t first)
{
    if (list->room - list->count < 64) {
        size_t room = list->room ? 2 * list->room : 1024;
        int64_t *at = realloc(list->at, room * sizeof(int64_t));
        if (at == NULL)
            return 0;
        list->at = at;
        list->room = room;
    }
    for (int bit = 0; word; bit++, word <<= 1) {
        int zeros = leading_zeros(word);
        bit += zeros;
        word <<= zeros;
        list->at[list->count++] = first + bit;
    }
    return 1;
}

/* What vanishes, and of that what lies beside a pixel that is left, be it at a corner. */
WIDE static int tell_pieces(const Window *at, int64_t first, int64_t stride, Pixels *all,
                       Pixels *touching)
{
    for (Py_ssize_t y = 0; y < at->part_rows; y++) {
        if (!any_missing(at, y))
            continue;
        const uint64_t *counted = at->counted + y * at->part_words;
        const uint64_t *kept = at->kept + (y + at->halo) * at->row + at->beside;
        for (Py_ssize_t x = 0; x < at->part_words; x++) {
            uint64_t gone = counted[x] & ~kept[x], around = 0;
            if (!gone)
                continue;
            for (const uint64_t *near = kept + x - at->row; near <= kept + x + at->row;
                 near += at->row)
                around |= near[0] | near[0] << 1 | near[0] >> 1 | near[1] >> 63 | near[-1] << 63;
            int64_t pixel = first + y * stride + 64 * x;
            if (!add_pixels(all, gone, pixel) || !add_pixels(touching, gone & around, pixel))
                return 0;
        }
    }
    return 1;
}

static PyObject *as_bytes(const Pixels *pixels)
{
    return PyBytes_FromStringAndSize((const char *)pixels->at,
                                     (Py_ssize_t)(pixels->count * sizeof(int64_t)));
}

/* opening_pieces(rows, question, runs, disc, first, stride) -> (pixels, touching)

   The pixels of a part that vanish, in order, and those of them beside one that is left: bytes of
   int64, each the number of a pixel, `first` for the part's first and `stride` more with each row.
   The rest as above. */
PyObject *opening_pieces(PyObject *module, PyObject *arguments)
{
    PyObject *objects[3], *question, *result = NULL;
    long long first, stride;
    Window at = {0};
    Py_buffer views[3];
    Pixels all = {0}, touching = {0};
    int done = 1;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OOOOLL", &objects[0], &question, &objects[1], &objects[2],
                          &first, &stride))
        return NULL;
    if (!open_window(&at, question, objects, views))
        return NULL;
    at.near = 0; /* the pixels of pieces count near ink or not */
    Py_BEGIN_ALLOW_THREADS
    take_in(&at);
    if (find_counted(&at) && !is_full(&at)) {
        open_by_disc(&at);
        forgive(&at, 0);
        done = tell_pieces(&at, first, stride, &all, &touching);
    }
    Py_END_ALLOW_THREADS
    result = done ? Py_BuildValue("(NN)", as_bytes(&all), as_bytes(&touching)) : PyErr_NoMemory();
    free(all.at);
    free(touching.at);
    close_window(&at, views);
    return result;
}
