/* A counted strip joined to what is open above it; what is told of each stands in
   mesh/bitmap/joined_strips.py, beside the NumPy twin.

   Everything is whole numbers, so it gives what its twin gives. */

#include "kernels.h"

#include <stdlib.h>

/* The pixels of a small component, as the rows of an array have them. */
typedef struct {
    int64_t component, row, start, stop;
} Run;

/* What hangs on one side of the seam: its components, and the runs of the small ones. */
typedef struct {
    const uint8_t *ink, *cut;
    const int64_t *area;
    const Run *runs;
    Py_ssize_t count, run_count;
} Side;

enum { CLOSED_BARE, CLOSED_INK, STILL_OPEN, KINDS };

/* The sets that the components of both sides form, numbered by the first of each. The answer is by
   kind: sets that are closed, of each color, and open ones. */
typedef struct {
    Py_ssize_t count;
    int32_t *of;     /* the set of each component, those above the seam first; at first its parent */
    int32_t *number; /* of open sets, and of closed ones that are small, by kind */
    uint8_t *kind, *ink, *cut, *small;
    int64_t *area;
    /* The answer. */
    Py_ssize_t cut_count[2], area_count[KINDS], run_count[KINDS];
    int64_t *areas[KINDS];
    Run *runs[KINDS];
    uint8_t *open_ink, *open_cut;
    int32_t *last;
} Sets;

static int32_t root_of(int32_t *parent, int32_t one)
{
    while (parent[one] != one) {
        parent[one] = parent[parent[one]];
        one = parent[one];
    }
    return one;
}

/* Join components whose runs share a column: where the later of two runs begins, both are there. */
static void join_at_seam(const int32_t *columns[2], const int32_t *owner[2], Py_ssize_t count[2],
                         const Side sides[2], int32_t *parent)
{
    Py_ssize_t above = 0, below = 0;
    while (above < count[0] && below < count[1]) {
        int32_t one = owner[0][above], other = owner[1][below];
        if (sides[0].ink[one] == sides[1].ink[other]) {
            one = root_of(parent, one);
            other = root_of(parent, other + (int32_t)sides[0].count);
            if (one < other)
                parent[other] = one;
            else
                parent[one] = other;
        }
        int64_t next = above + 1 < count[0] ? columns[0][above + 1] : INT64_MAX;
        int64_t after = below + 1 < count[1] ? columns[1][below + 1] : INT64_MAX;
        above += next <= after;
        below += after <= next;
    }
}

/* Find the set of each component, and sum up what is known of them. */
static void sum_up(const Side sides[2], Sets *sets)
{
    Py_ssize_t above = sides[0].count, both = above + sides[1].count;
    for (Py_ssize_t k = 0; k < both; k++) {
        const Side *side = &sides[k >= above];
        Py_ssize_t at = k >= above ? k - above : k;
        if (sets->of[k] == (int32_t)k) {
            sets->of[k] = (int32_t)sets->count;
            sets->ink[sets->count] = side->ink[at];
            sets->cut[sets->count] = 0;
            sets->area[sets->count++] = 0;
        } else {
            sets->of[k] = sets->of[sets->of[k]]; /* of those before it the sets are known */
        }
        sets->area[sets->of[k]] += side->area[at];
        sets->cut[sets->of[k]] |= side->cut[at];
    }
}

/* Part the open sets, which reach the strip's last row, from those that are closed. */
static void part(const int32_t *last, Py_ssize_t last_count, Py_ssize_t above,
                 const long long keep[2], Sets *sets)
{
    for (Py_ssize_t k = 0; k < sets->count; k++)
        sets->kind[k] = sets->ink[k] ? CLOSED_INK : CLOSED_BARE;
    for (Py_ssize_t k = 0; k < last_count; k++)
        sets->kind[sets->of[above + last[k]]] = STILL_OPEN;
    int32_t numbers[KINDS] = {0};
    for (Py_ssize_t k = 0; k < sets->count; k++) {
        int kind = sets->kind[k], is_open = kind == STILL_OPEN;
        sets->small[k] = !sets->cut[k] && sets->area[k] < keep[sets->ink[k]];
        if (is_open) {
            sets->open_ink[sets->area_count[kind]] = sets->ink[k];
            sets->open_cut[sets->area_count[kind]] = sets->cut[k];
        } else if (sets->cut[k]) {
            sets->cut_count[kind]++;
        }
        if (is_open || !sets->cut[k])
            sets->areas[kind][sets->area_count[kind]++] = sets->area[k];
        if (is_open || sets->small[k])
            sets->number[k] = numbers[kind]++;
    }
    for (Py_ssize_t k = 0; k < last_count; k++)
        sets->last[k] = sets->number[sets->of[above + last[k]]];
}

/* The runs of the sets that are small yet, under their numbers. */
static void keep_runs(const Side *side, Py_ssize_t first, Sets *sets)
{
    for (Py_ssize_t k = 0; k < side->run_count; k++) {
        Run run = side->runs[k];
        int32_t set = sets->of[first + run.component];
        if (!sets->small[set])
            continue;
        int kind = sets->kind[set];
        run.component = sets->number[set];
        sets->runs[kind][sets->run_count[kind]++] = run;
    }
}

/* Room for what `both` sides have at most, in one piece that is given. */
static void share_out(char *room, Py_ssize_t both, Py_ssize_t runs, Py_ssize_t last, Sets *sets)
{
    for (int kind = 0; kind < KINDS; kind++, room += runs * sizeof(Run))
        sets->runs[kind] = (Run *)room;
    for (int kind = 0; kind < KINDS; kind++, room += both * 8)
        sets->areas[kind] = (int64_t *)room;
    sets->area = (int64_t *)room, room += both * 8;
    sets->of = (int32_t *)room, room += both * 4;
    sets->number = (int32_t *)room, room += both * 4;
    sets->last = (int32_t *)room, room += last * 4;
    uint8_t **bytes[] = {&sets->kind,  &sets->ink,      &sets->cut,
                         &sets->small, &sets->open_ink, &sets->open_cut};
    for (size_t k = 0; k < sizeof bytes / sizeof *bytes; k++, room += both)
        *bytes[k] = (uint8_t *)room;
}

/* Whether the runs of a row belong to components of a side, and all that is told of these fits. */
static int is_side(const Side *side, const int32_t *owners, Py_ssize_t count)
{
    for (Py_ssize_t k = 0; k < count; k++)
        if (owners[k] < 0 || owners[k] >= side->count)
            return 0;
    for (Py_ssize_t k = 0; k < side->run_count; k++)
        if (side->runs[k].component < 0 || side->runs[k].component >= side->count)
            return 0;
    for (Py_ssize_t k = 0; k < side->count; k++)
        if (side->ink[k] > 1 || side->cut[k] > 1)
            return 0;
    return 1;
}

static PyObject *as_bytes(const void *at, Py_ssize_t bytes)
{
    return PyBytes_FromStringAndSize(at, bytes);
}

static PyObject *answer(const Sets *sets, Py_ssize_t last_count)
{
    const Py_ssize_t *areas = sets->area_count, *runs = sets->run_count;
    return Py_BuildValue(
        "((nn)(NN)(NN)(NNNNN))", sets->cut_count[0], sets->cut_count[1],
        as_bytes(sets->areas[0], 8 * areas[0]), as_bytes(sets->areas[1], 8 * areas[1]),
        as_bytes(sets->runs[0], runs[0] * (Py_ssize_t)sizeof(Run)),
        as_bytes(sets->runs[1], runs[1] * (Py_ssize_t)sizeof(Run)),
        as_bytes(sets->last, 4 * last_count), as_bytes(sets->open_ink, areas[STILL_OPEN]),
        as_bytes(sets->areas[STILL_OPEN], 8 * areas[STILL_OPEN]),
        as_bytes(sets->open_cut, areas[STILL_OPEN]),
        as_bytes(sets->runs[STILL_OPEN], runs[STILL_OPEN] * (Py_ssize_t)sizeof(Run)));
}

/* join_seam(above, below, last, keep) -> (cut, areas, small, opened)

   above, below  of the open components (columns, owners, ink, area, cut, runs): int32 where the
                 runs of the row at the seam begin and whose they are, bytes 0 or 1, int64 areas,
                 bytes 0 or 1, and the runs of the small ones, (n, 4) int64
   last          whose the runs of the strip's last row are, int32
   keep          of bare film and of ink, components with fewer pixels are small

   cut, areas, small   of bare film and of ink: how many closed sets are cut, the areas of those
                       that are not, and the runs of the small ones, numbered from 0
   opened              (owners of the last row, ink, area, cut, runs) of the sets still open */
PyObject *join_seam(PyObject *module, PyObject *arguments)
{
    PyObject *objects[13], *result = NULL;
    Py_buffer views[13];
    long long keep[2];
    int taken = 0;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "(OOOOOO)(OOOOOO)O(LL)", &objects[0], &objects[1],
                          &objects[2], &objects[3], &objects[4], &objects[5], &objects[6],
                          &objects[7], &objects[8], &objects[9], &objects[10], &objects[11],
                          &objects[12], &keep[0], &keep[1]))
        return NULL;
    while (taken < 13 && take_buffer(objects[taken], &views[taken], -1, 0))
        taken++;
    if (taken < 13)
        goto done;
    Side sides[2];
    const int32_t *columns[2], *owners[2], *last = views[12].buf;
    Py_ssize_t count[2], last_count = views[12].len / 4;
    int fits = 1;
    for (int k = 0; k < 2; k++) {
        Py_buffer *of = views + 6 * k;
        columns[k] = of[0].buf, owners[k] = of[1].buf, count[k] = of[0].len / 4;
        sides[k] = (Side){of[2].buf, of[4].buf, of[3].buf, of[5].buf, of[2].len,
                          of[5].len / (Py_ssize_t)sizeof(Run)};
        fits = fits && of[1].len == of[0].len && of[3].len == 8 * of[2].len &&
               of[4].len == of[2].len && of[5].len % (Py_ssize_t)sizeof(Run) == 0 &&
               is_side(&sides[k], owners[k], count[k]);
    }
    if (!fits || !is_side(&sides[1], last, last_count)) {
        PyErr_SetString(PyExc_ValueError, "there are no such components");
        goto done;
    }
    Py_ssize_t both = sides[0].count + sides[1].count;
    Py_ssize_t runs = sides[0].run_count + sides[1].run_count;
    char *room = malloc(KINDS * runs * sizeof(Run) + both * (8 * (KINDS + 1) + 8 + 6) +
                        4 * last_count + 1);
    if (room == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    Sets sets = {0};
    Py_BEGIN_ALLOW_THREADS
    share_out(room, both, runs, last_count, &sets);
    for (Py_ssize_t k = 0; k < both; k++)
        sets.of[k] = (int32_t)k;
    join_at_seam(columns, owners, count, sides, sets.of);
    sum_up(sides, &sets);
    part(last, last_count, sides[0].count, keep, &sets);
    keep_runs(&sides[0], 0, &sets);
    keep_runs(&sides[1], sides[0].count, &sets);
    Py_END_ALLOW_THREADS
    result = answer(&sets, last_count);
    free(room);
done:
    while (taken--)
        PyBuffer_Release(&views[taken]);
    return result;
}
