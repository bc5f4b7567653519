/* The components of one strip of packed rows, by its runs and a forest of sets.

   label_strip(rows, row_bytes, skip, width, beyond, begins_at_border, keep) tells of a strip all
   that joining it to its neighbors takes.

   rows        buffer of whole rows, packed most significant bit first, 1 = ink
   row_bytes   bytes of a row
   skip        pixels, 0 .. 7, before the strip in the first byte of a row
   width       pixels of a row of the strip
   beyond      None, or (rows, width) bytes: a component with a pixel where one is 1 is cut
   begins_at_border  whether the first row is cut, as the left and right side are
   keep        (bare, ink): uncut components with fewer pixels are small, and their runs are given

   It gives (pixels, cut, areas, small, first, last, opened): the first four in pairs, bare film
   first. Arrays are bytes objects of int32 in the machine's order.

   pixels      of the color
   cut         closed components of it that are cut
   areas       of the closed ones that are not, in the order of their first pixels
   small       runs of the small closed ones, (n, 4): component from 0, row, start, stop
   first, last (columns, owner): where the runs of the outer rows begin, and the open component
               that each belongs to
   opened      (ink, area, cut, runs) of the components on the outer rows: two of bytes 0 or 1, and
               the small ones' runs as above

   Everything is whole numbers, so it gives what its NumPy twin gives, in sealed_strip.py. */

#include "kernels.h"

#include <stdlib.h>

enum { INK = 1, CUT = 2, OPEN = 4 };
/* How many numbers the runs of a row may have room for more than it has pixels: see there. */
enum { BESIDE = 16 };
#define LAST_BIT (UINT64_C(1) << 63)
enum { LARGE = 0, SMALL_CLOSED = 1, SMALL_OPEN = 2 };

/* A list of whole numbers that grows. */
typedef struct {
    int32_t *at;
    size_t count, room;
} List;

typedef struct {
    /* The question. */
    const uint8_t *rows;
    const uint8_t *beyond;
    Py_ssize_t row_bytes, width, height;
    int skip, begins_at_border;
    int64_t keep[2];
    /* The components: the set each belongs to, always one with a lower number, and of sets the
       pixels and what is true of them. */
    List parent, area;
    uint8_t *flags;
    size_t flags_room;
    /* Of every run the component that it was counted in, and how many runs each row has. */
    List label;
    int32_t *runs_of_row;
    /* Two rows of runs: where they begin, and whose they are. */
    int32_t *starts[2], *owner[2];
    int first_color[2];
    uint64_t *line;
    /* The answer. */
    int64_t pixels[2], cut[2];
    List areas[2], small[2], columns[2], owners[2], opened_area, opened_runs;
    uint8_t *opened_ink, *opened_cut;
    size_t opened;
} Strip;

static int make_room_for(List *list, size_t more)
{
    if (list->room - list->count >= more)
        return 1;
    size_t room = 2 * list->room + more + 1024;
    int32_t *at = realloc(list->at, room * sizeof(int32_t));
    if (at == NULL)
        return 0;
    list->at = at;
    list->room = room;
    return 1;
}

static int add(List *list, int32_t value)
{
    if (!make_room_for(list, 1))
        return 0;
    list->at[list->count++] = value;
    return 1;
}

static int add_run(List *list, int32_t component, int32_t row, int32_t start, int32_t stop)
{
    return add(list, component) && add(list, row) && add(list, start) && add(list, stop);
}

/* Room for so many components more. */
static int make_room_for_components(Strip *strip, size_t more)
{
    if (!make_room_for(&strip->parent, more) || !make_room_for(&strip->area, more))
        return 0;
    if (strip->flags_room >= strip->parent.room)
        return 1;
    uint8_t *grown = realloc(strip->flags, strip->parent.room);
    if (grown == NULL)
        return 0;
    strip->flags = grown;
    strip->flags_room = strip->parent.room;
    return 1;
}

/* Where the runs of a row begin, with the row's width after the last, and then what no run reaches;
   how many there are. */
WIDE static Py_ssize_t cut_into_runs(const Strip *strip, Py_ssize_t y, int32_t *starts,
                                     int *first_color)
{
    Py_ssize_t skip = strip->skip, end = skip + strip->width;
    Py_ssize_t words = (end + 63) / 64;
    int32_t *next = starts;
    /* The line has room for whole words, and 0 in what lies beyond the row. */
    memcpy(strip->line, strip->rows + y * strip->row_bytes, (size_t)strip->row_bytes);
    uint64_t carried = 0;
    *next++ = 0;
    for (Py_ssize_t k = 0; k < words; k++) {
        uint64_t word = first_bit_lowest(strip->line[k]);
        uint64_t changes = word ^ (word << 1 | carried);
        carried = word >> 63;
        if (k == 0) {
            *first_color = (int)(word >> skip & 1);
            changes &= UINT64_MAX << skip << 1;
        }
        if (k == words - 1 && end % 64)
            changes &= UINT64_MAX >> (64 - end % 64);
        int32_t base = (int32_t)(64 * k - skip);
        int32_t *at = next;
        next += bits_in(changes);
        /* Eight are written at a time, be there fewer: that takes no guesses of the processor. */
        do {
            for (int bit = 0; bit < 8; bit++) {
                at[bit] = base + trailing_zeros(changes | LAST_BIT);
                changes &= changes - 1;
            }
            at += 8;
        } while (changes);
    }
    next[0] = (int32_t)strip->width;
    next[1] = INT32_MAX;
    return next - starts;
}

static int32_t root_of(int32_t *parent, int32_t one)
{
    while (parent[one] != one) {
        parent[one] = parent[parent[one]];
        one = parent[one];
    }
    return one;
}

static int32_t join(Strip *strip, int32_t one, int32_t other)
{
    int32_t low = one < other ? one : other, high = one < other ? other : one;
    if (low != high) {
        strip->parent.at[high] = low;
        strip->area.at[low] += strip->area.at[high];
        strip->flags[low] |= strip->flags[high];
    }
    return low;
}

/* Count the runs of a row into the components that they touch in the row above. */
static int count_row(Strip *strip, Py_ssize_t y, int here, Py_ssize_t count, Py_ssize_t above)
{
    if (!make_room_for_components(strip, (size_t)count))
        return 0;
    const int32_t *restrict starts = strip->starts[here], *upper = strip->starts[1 - here];
    const int32_t *restrict upper_owner = strip->owner[1 - here];
    int32_t *restrict owner = strip->owner[here];
    int32_t *parent = strip->parent.at, *area = strip->area.at;
    int32_t components = (int32_t)strip->parent.count;
    int color = strip->first_color[here];
    uint8_t of_row = y == 0 ? (uint8_t)(OPEN | (strip->begins_at_border ? CUT : 0)) : 0;
    /* The first run above of this one's color that does not end before it. Colors take turns, so
       for the next run it is the one after the last that touched this one, or the one before. */
    Py_ssize_t over = above && strip->first_color[1 - here] != color;
    int64_t ink = 0;
    for (Py_ssize_t k = 0; k < count; k++, color ^= 1) {
        int32_t start = starts[k], stop = starts[k + 1], mine;
        while (above && upper[over + 1] <= start)
            over += 2;
        if (above && upper[over] < stop) {
            mine = root_of(parent, upper_owner[over]);
            while (upper[over + 2 < above ? over + 2 : above] < stop) {
                over += 2;
                mine = join(strip, mine, root_of(parent, upper_owner[over]));
            }
            over++;
        } else {
            mine = components++;
            parent[mine] = mine;
            area[mine] = 0;
            strip->flags[mine] = (uint8_t)((color ? INK : 0) | of_row);
            over--;
        }
        area[mine] += stop - start;
        ink += color ? stop - start : 0;
        owner[k] = mine;
    }
    strip->parent.count = strip->area.count = (size_t)components;
    strip->pixels[0] += strip->width - ink;
    strip->pixels[1] += ink;
    /* A later run of the row may have joined a component to another. */
    strip->flags[root_of(parent, owner[0])] |= CUT;
    strip->flags[root_of(parent, owner[count - 1])] |= CUT;
    if (strip->beyond) {
        const uint8_t *beyond = strip->beyond + y * strip->width;
        for (Py_ssize_t k = 0; k < count; k++)
            if (memchr(beyond + starts[k], 1, (size_t)(starts[k + 1] - starts[k])))
                strip->flags[root_of(parent, owner[k])] |= CUT;
    }
    if (strip->keep[0] > 1 || strip->keep[1] > 1) {
        if (!make_room_for(&strip->label, (size_t)count))
            return 0;
        memcpy(strip->label.at + strip->label.count, owner, (size_t)count * sizeof(int32_t));
        strip->label.count += (size_t)count;
    }
    return 1;
}

/* Keep where the runs of an outer row begin and whose they are; their components are open. */
static int keep_seam(Strip *strip, int which, int here, Py_ssize_t count)
{
    for (Py_ssize_t k = 0; k < count; k++) {
        if (!add(&strip->columns[which], strip->starts[here][k]) ||
            !add(&strip->owners[which], strip->owner[here][k]))
            return 0;
    }
    return 1;
}

/* Part the components into those that are closed and those that are open, and give the open and
   the small ones their numbers: `number` and `kind` have an entry for each component. */
static int part(Strip *strip, int32_t *number, uint8_t *kind, int *any_small)
{
    int32_t *parent = strip->parent.at;
    int32_t small[2] = {0, 0};
    for (size_t k = 0; k < strip->owners[1].count; k++)
        strip->flags[root_of(parent, strip->owners[1].at[k])] |= OPEN;
    for (size_t k = 0; k < strip->parent.count; k++) {
        parent[k] = parent[parent[k]]; /* all before it point at their sets already */
        if (parent[k] != (int32_t)k) {
            kind[k] = kind[parent[k]];
            continue;
        }
        uint8_t flags = strip->flags[k];
        int color = flags & INK ? 1 : 0;
        int is_small = !(flags & CUT) && strip->area.at[k] < strip->keep[color];
        kind[k] = !is_small ? LARGE : flags & OPEN ? SMALL_OPEN : SMALL_CLOSED;
        *any_small |= is_small;
        if (flags & OPEN) {
            number[k] = (int32_t)strip->opened;
            strip->opened_ink[strip->opened] = (uint8_t)color;
            strip->opened_cut[strip->opened++] = flags & CUT ? 1 : 0;
            if (!add(&strip->opened_area, strip->area.at[k]))
                return 0;
        } else if (flags & CUT) {
            strip->cut[color]++;
        } else {
            if (!add(&strip->areas[color], strip->area.at[k]))
                return 0;
            if (is_small)
                number[k] = small[color]++;
        }
    }
    for (int which = 0; which < 2; which++) {
        List *owners = &strip->owners[which];
        for (size_t k = 0; k < owners->count; k++)
            owners->at[k] = number[parent[owners->at[k]]];
    }
    return 1;
}

/* The runs of the small components, from the rows that have some. */
static int keep_small(Strip *strip, const int32_t *number, const uint8_t *kind)
{
    const int32_t *parent = strip->parent.at;
    size_t first = 0;
    for (Py_ssize_t y = 0; y < strip->height; y++) {
        size_t stop = first + (size_t)strip->runs_of_row[y], some = first;
        while (some < stop && kind[strip->label.at[some]] == LARGE)
            some++;
        if (some < stop) {
            int32_t *starts = strip->starts[0];
            int first_color;
            cut_into_runs(strip, y, starts, &first_color);
            for (; some < stop; some++) {
                if (kind[strip->label.at[some]] == LARGE)
                    continue;
                int32_t component = parent[strip->label.at[some]];
                List *list = kind[component] == SMALL_OPEN
                                 ? &strip->opened_runs
                                 : &strip->small[strip->flags[component] & INK ? 1 : 0];
                size_t k = some - first;
                if (!add_run(list, number[component], (int32_t)y, starts[k], starts[k + 1]))
                    return 0;
            }
        }
        first = stop;
    }
    return 1;
}

static int label(Strip *strip)
{
    Py_ssize_t above = 0, count = 0;
    for (Py_ssize_t y = 0; y < strip->height; y++) {
        int here = (int)(y & 1);
        count = cut_into_runs(strip, y, strip->starts[here], &strip->first_color[here]);
        if (!count_row(strip, y, here, count, above))
            return 0;
        strip->runs_of_row[y] = (int32_t)count;
        if (y == 0 && !keep_seam(strip, 0, here, count))
            return 0;
        above = count;
    }
    if (!keep_seam(strip, 1, (int)((strip->height - 1) & 1), count))
        return 0;
    size_t most = strip->owners[0].count + strip->owners[1].count;
    strip->opened_ink = malloc(most);
    strip->opened_cut = malloc(most);
    int32_t *number = malloc(strip->parent.count * sizeof(int32_t));
    uint8_t *kind = malloc(strip->parent.count);
    int any_small = 0;
    int done = strip->opened_ink && strip->opened_cut && number && kind &&
               part(strip, number, kind, &any_small) &&
               (!any_small || keep_small(strip, number, kind));
    free(number);
    free(kind);
    return done;
}

static int make_room(Strip *strip)
{
    size_t runs = (size_t)strip->width + BESIDE, words = (size_t)strip->row_bytes / 8 + 2;
    strip->runs_of_row = malloc((size_t)strip->height * sizeof(int32_t));
    strip->line = calloc(words, sizeof(uint64_t));
    for (int k = 0; k < 2; k++) {
        strip->starts[k] = malloc(runs * sizeof(int32_t));
        strip->owner[k] = malloc(runs * sizeof(int32_t));
        if (strip->starts[k] == NULL || strip->owner[k] == NULL)
            return 0;
    }
    return strip->runs_of_row != NULL && strip->line != NULL;
}

static void give_back(Strip *strip)
{
    List *lists[] = {&strip->parent,     &strip->area,        &strip->label,
                     &strip->areas[0],   &strip->areas[1],    &strip->small[0],
                     &strip->small[1],   &strip->columns[0],  &strip->columns[1],
                     &strip->owners[0],  &strip->owners[1],   &strip->opened_area,
                     &strip->opened_runs};
    for (size_t k = 0; k < sizeof lists / sizeof *lists; k++)
        free(lists[k]->at);
    for (int k = 0; k < 2; k++) {
        free(strip->starts[k]);
        free(strip->owner[k]);
    }
    free(strip->flags);
    free(strip->runs_of_row);
    free(strip->line);
    free(strip->opened_ink);
    free(strip->opened_cut);
}

static PyObject *as_bytes(const List *list)
{
    return PyBytes_FromStringAndSize((const char *)list->at,
                                     (Py_ssize_t)(list->count * sizeof(int32_t)));
}

static PyObject *answer(const Strip *strip)
{
    return Py_BuildValue(
        "((LL)(LL)(NN)(NN)(NN)(NN)(NNNN))", (long long)strip->pixels[0],
        (long long)strip->pixels[1], (long long)strip->cut[0], (long long)strip->cut[1],
        as_bytes(&strip->areas[0]), as_bytes(&strip->areas[1]), as_bytes(&strip->small[0]),
        as_bytes(&strip->small[1]), as_bytes(&strip->columns[0]), as_bytes(&strip->owners[0]),
        as_bytes(&strip->columns[1]), as_bytes(&strip->owners[1]),
        PyBytes_FromStringAndSize((const char *)strip->opened_ink, (Py_ssize_t)strip->opened),
        as_bytes(&strip->opened_area),
        PyBytes_FromStringAndSize((const char *)strip->opened_cut, (Py_ssize_t)strip->opened),
        as_bytes(&strip->opened_runs));
}

PyObject *label_strip(PyObject *module, PyObject *arguments)
{
    (void)module;
    PyObject *rows, *beyond, *result = NULL;
    long long keep[2];
    Strip strip = {0};
    if (!PyArg_ParseTuple(arguments, "OninOp(LL)", &rows, &strip.row_bytes, &strip.skip,
                          &strip.width, &beyond, &strip.begins_at_border, &keep[0], &keep[1]))
        return NULL;
    strip.keep[0] = keep[0];
    strip.keep[1] = keep[1];
    Py_buffer view, beside = {0};
    if (!take_buffer(rows, &view, -1, 0))
        return NULL;
    strip.rows = view.buf;
    strip.height = strip.row_bytes > 0 ? view.len / strip.row_bytes : 0;
    if (strip.height < 1 || view.len % strip.row_bytes || strip.skip < 0 || strip.skip > 7 ||
        strip.width < 1 || strip.width > INT32_MAX / strip.height ||
        strip.skip + strip.width > 8 * strip.row_bytes) {
        PyErr_SetString(PyExc_ValueError, "rows, width and skip of the strip do not fit together");
        goto rows_done;
    }
    if (beyond != Py_None) {
        if (!take_buffer(beyond, &beside, strip.height * strip.width, 0))
            goto rows_done;
        strip.beyond = beside.buf;
    }
    int done;
    Py_BEGIN_ALLOW_THREADS
    done = make_room(&strip) && label(&strip);
    Py_END_ALLOW_THREADS
    result = done ? answer(&strip) : PyErr_NoMemory();
    give_back(&strip);
    if (strip.beyond)
        PyBuffer_Release(&beside);
rows_done:
    PyBuffer_Release(&view);
    return result;
}
