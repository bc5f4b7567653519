/* Resampling a picture of 16-bit codes in two passes, and cutting the result into bits at once.

   A filter's weights are whole multiples of 2^-26 and what codes stand for are such of 2^-25, as is
   what the pass across leaves. So every sum of either pass is exact in double precision, and neither
   the order of the additions nor a fused multiply-add can change a bit of it. */

#include "kernels.h"

#include <stdlib.h>

#define TILE 512 /* columns at once: what is held of each row stays in the first cache */
#define GROUP 4  /* source rows that are gone across together */

/* Adding and taking away 1.5 * 2^27 rounds to multiples of 2^-25. */
#define ROUNDING 201326592.0

typedef struct {
    const uint16_t *codes; /* (source_rows, source_width) */
    Py_ssize_t source_rows, source_width;
    const double *values;  /* (65536): what a code stands for */
    const int32_t *across_since; /* (width): first source column of each result */
    const double *across;        /* (width, across_taps) */
    Py_ssize_t across_taps;
    const int32_t *down_since; /* (rows): first source row of each result, among those given */
    const double *down;        /* (rows, down_taps) */
    Py_ssize_t down_taps;
    Py_ssize_t width, rows; /* of the result */
} Resampling;

/* What the results are compared with: a tile that is laid out as a brick, its rows continued to the
   right by at least TILE columns. */
typedef struct {
    const float *levels; /* (height, stride) */
    const int64_t *starts; /* (rows): where in `levels` the first column of each result row lies */
    Py_ssize_t length;     /* the period along a row */
    Py_ssize_t stride;
    int dark_inks;  /* ink is where the result is at or below its level, not at or above */
    Py_ssize_t lead; /* bits before the first column in each packed row */
    Py_ssize_t row_bytes;
} Cuts;

/* The same column of GROUP rows. */
typedef double Four __attribute__((vector_size(GROUP * sizeof(double))));

/* Room for one tile: the ring of rows that went across, and the values of the codes in between. */
typedef struct {
    double *ring;    /* (groups, GROUP, TILE) */
    double *sources; /* (columns, GROUP) */
    Py_ssize_t groups;
} Room;

static inline __attribute__((always_inline)) void look_up(
    const Resampling *job, Py_ssize_t row, Py_ssize_t since, Py_ssize_t until, double *sources)
{
    for (int k = 0; k < GROUP; k++) {
        Py_ssize_t of = row + k < job->source_rows ? row + k : job->source_rows - 1;
        const uint16_t *codes = job->codes + of * job->source_width;
        for (Py_ssize_t column = since; column < until; column++)
            sources[(column - since) * GROUP + k] = job->values[codes[column]];
    }
}

static inline __attribute__((always_inline)) void sum_across(
    const Resampling *job, const double *sources, Py_ssize_t since, Py_ssize_t first,
    Py_ssize_t count, Py_ssize_t taps, double *ring)
{
    for (Py_ssize_t column = 0; column < count; column++) {
        const double *weights = job->across + (first + column) * taps;
        const double *source = sources + (job->across_since[first + column] - since) * GROUP;
        Four sum = {0};
        for (Py_ssize_t tap = 0; tap < taps; tap++) {
            Four some;
            memcpy(&some, source + tap * GROUP, sizeof some);
            sum += weights[tap] * some;
        }
        sum = (sum + ROUNDING) - ROUNDING;
        for (int k = 0; k < GROUP; k++)
            ring[k * TILE + column] = sum[k];
    }
}

static inline __attribute__((always_inline)) void go_across(
    const Resampling *job, const Room *room, Py_ssize_t row, Py_ssize_t first, Py_ssize_t count)
{
    Py_ssize_t taps = job->across_taps, since = job->across_since[first];
    Py_ssize_t until = job->across_since[first + count - 1] + taps;
    double *ring = room->ring + row / GROUP % room->groups * (GROUP * TILE);
    look_up(job, row, since, until, room->sources);
    switch (taps) { /* the usual ones, so that the compiler unrolls them */
    case 2: sum_across(job, room->sources, since, first, count, 2, ring); break;
    case 4: sum_across(job, room->sources, since, first, count, 4, ring); break;
    case 6: sum_across(job, room->sources, since, first, count, 6, ring); break;
    default: sum_across(job, room->sources, since, first, count, taps, ring);
    }
}

static inline __attribute__((always_inline)) const double *ring_row(
    const Room *room, Py_ssize_t row)
{
    return room->ring + (row / GROUP % room->groups * GROUP + row % GROUP) * TILE;
}

/* All TILE columns each time, as what lies behind the last is room of ours too. */
static inline __attribute__((always_inline)) void sum_down(
    const Room *room, const double *weights, Py_ssize_t since, int taps, float *light)
{
    const double *rows[8];
    double weight[8];
    for (int tap = 0; tap < taps; tap++) {
        rows[tap] = ring_row(room, since + tap);
        weight[tap] = weights[tap];
    }
    for (int column = 0; column < TILE; column++) {
        double sum = 0;
        for (int tap = 0; tap < taps; tap++)
            sum += weight[tap] * rows[tap][column];
        light[column] = (float)sum;
    }
}

static inline __attribute__((always_inline)) void sum_down_many(
    const Room *room, const double *weights, Py_ssize_t since, Py_ssize_t taps, float *light)
{
    double sum[TILE] = {0};
    for (Py_ssize_t tap = 0; tap < taps; tap++) {
        const double *row = ring_row(room, since + tap);
        for (int column = 0; column < TILE; column++)
            sum[column] += weights[tap] * row[column];
    }
    for (int column = 0; column < TILE; column++)
        light[column] = (float)sum[column];
}

static inline __attribute__((always_inline)) void go_down(
    const Resampling *job, const Room *room, Py_ssize_t row, float *light)
{
    const double *weights = job->down + row * job->down_taps;
    Py_ssize_t since = job->down_since[row];
    switch (job->down_taps) {
    case 2: sum_down(room, weights, since, 2, light); break;
    case 4: sum_down(room, weights, since, 4, light); break;
    case 6: sum_down(room, weights, since, 6, light); break;
    default: sum_down_many(room, weights, since, job->down_taps, light);
    }
}

/* Eight bytes of 0 or 1 as the bits of one, the first the most significant. */
static inline __attribute__((always_inline)) uint8_t packed(const uint8_t *ink)
{
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
    uint64_t eight;
    memcpy(&eight, ink, 8);
    return (uint8_t)((eight * 0x8040201008040201u) >> 56);
#else
    unsigned bits = 0;
    for (int k = 0; k < 8; k++)
        bits = bits << 1 | ink[k];
    return (uint8_t)bits;
#endif
}

/* The tile's part of one row, as bits: `ink` begins with `before` columns that are not ours. */
static inline __attribute__((always_inline)) void cut(
    const Cuts *cuts, Py_ssize_t row, Py_ssize_t first, Py_ssize_t count, Py_ssize_t before,
    const float *light, uint8_t *out)
{
    int64_t start = cuts->starts[row], line = start / cuts->stride * cuts->stride;
    const float *levels = cuts->levels + line + (start - line + first) % cuts->length;
    uint8_t ink[8 + TILE + 8];
    memset(ink, 0, 8);
    if (cuts->dark_inks)
        for (int column = 0; column < TILE; column++)
            ink[8 + column] = light[column] <= levels[column];
    else
        for (int column = 0; column < TILE; column++)
            ink[8 + column] = light[column] >= levels[column];
    memset(ink + 8 + count, 0, 8);
    const uint8_t *from = ink + 8 - before;
    for (Py_ssize_t byte = 0; byte < (before + count + 7) / 8; byte++)
        out[byte] = packed(from + 8 * byte);
}

/* Exactly one of `light` (rows, width) and `bits` (rows, cuts->row_bytes) is given. */
WIDE static void run(
    const Resampling *job, const Room *room, const Cuts *cuts, float *light, uint8_t *bits)
{
    float some[TILE];
    Py_ssize_t lead = cuts ? cuts->lead : 0;
    Py_ssize_t until = 0;
    for (Py_ssize_t first = 0; first < job->width; first = until) {
        until = (lead + first) / TILE * TILE + TILE - lead;
        if (until > job->width)
            until = job->width;
        Py_ssize_t count = until - first, there = 0;
        for (Py_ssize_t row = 0; row < job->rows; row++) {
            Py_ssize_t since = job->down_since[row];
            if (there < since / GROUP * GROUP)
                there = since / GROUP * GROUP;
            for (; there < since + job->down_taps; there += GROUP)
                go_across(job, room, there, first, count);
            go_down(job, room, row, some);
            if (bits)
                cut(cuts, row, first, count, first ? 0 : lead, some,
                    bits + row * cuts->row_bytes + (lead + first) / 8);
            else
                memcpy(light + row * job->width + first, some, count * sizeof(float));
        }
    }
}

/* The most source columns that a tile takes. */
static Py_ssize_t most_columns(const Resampling *job)
{
    Py_ssize_t most = 0;
    for (Py_ssize_t first = 0; first < job->width; first++) {
        Py_ssize_t last = first + TILE < job->width ? first + TILE - 1 : job->width - 1;
        Py_ssize_t columns = job->across_since[last] + job->across_taps - job->across_since[first];
        if (columns > most)
            most = columns;
    }
    return most;
}

static int make_room(const Resampling *job, Room *room)
{
    room->groups = (job->down_taps + GROUP - 2) / GROUP + 1;
    /* Zeros, so that what lies behind the last column is no odd number. */
    room->ring = calloc(room->groups * GROUP * TILE, sizeof(double));
    room->sources = malloc(most_columns(job) * GROUP * sizeof(double));
    return room->ring && room->sources;
}

/* Whether all rows and columns that the weights ask for are there, in rising order. */
static int lie_within(const int32_t *since, Py_ssize_t count, Py_ssize_t taps, Py_ssize_t size)
{
    for (Py_ssize_t k = 0; k < count; k++)
        if (since[k] < (k ? since[k - 1] : 0) || since[k] + taps > size)
            return 0;
    return 1;
}

static int starts_lie_within(const Cuts *cuts, Py_ssize_t rows, Py_ssize_t bytes)
{
    Py_ssize_t size = bytes / (Py_ssize_t)sizeof(float);
    if (cuts->length < 1 || cuts->stride < cuts->length + TILE || cuts->lead < 0 || cuts->lead > 7)
        return 0;
    for (Py_ssize_t row = 0; row < rows; row++)
        if (cuts->starts[row] < 0 || cuts->starts[row] % cuts->stride >= cuts->length
            || cuts->starts[row] / cuts->stride * cuts->stride + cuts->stride > size)
            return 0;
    return 1;
}

/* resample(codes, values, across_since, across, down_since, down, out, source_width, cuts=None)

   codes         (n, source_width) uint16
   values        (65536) float64, multiples of 2^-25
   across_since  (width) int32, rising
   across        (width, taps) float64, multiples of 2^-26 that add up to 1
   down_since    (rows) int32, rising: counted from the first row of codes
   down          (rows, taps) float64, likewise
   out           without cuts (rows, width) float32, with them (rows, ceil((lead + width) / 8)) uint8
   cuts          (levels (height, stride) float32, starts (rows) int64, length, stride, dark_inks,
                  lead) */
PyObject *resample(PyObject *module, PyObject *arguments)
{
    (void)module;
    enum { CODES, VALUES, ACROSS_SINCE, ACROSS, DOWN_SINCE, DOWN, OUT, LEVELS, STARTS, COUNT };
    PyObject *objects[COUNT] = {0}, *limits = NULL;
    Py_buffer views[COUNT];
    Resampling job;
    Cuts cuts;
    Room room = {0};
    int taken = 0, count = LEVELS, done = 0;
    if (!PyArg_ParseTuple(arguments, "OOOOOOOn|O", &objects[0], &objects[1], &objects[2],
                          &objects[3], &objects[4], &objects[5], &objects[6], &job.source_width,
                          &limits))
        return NULL;
    if (limits == Py_None)
        limits = NULL;
    if (limits) {
        if (!PyArg_ParseTuple(limits, "OOnnpn", &objects[LEVELS], &objects[STARTS], &cuts.length,
                              &cuts.stride, &cuts.dark_inks, &cuts.lead))
            return NULL;
        count = COUNT;
    }
    for (; taken < count; taken++)
        if (!take_buffer(objects[taken], &views[taken], taken == VALUES ? 65536 * 8 : -1,
                         taken == OUT))
            goto end;
    job.codes = views[CODES].buf;
    job.values = views[VALUES].buf;
    job.across_since = views[ACROSS_SINCE].buf;
    job.across = views[ACROSS].buf;
    job.down_since = views[DOWN_SINCE].buf;
    job.down = views[DOWN].buf;
    job.width = views[ACROSS_SINCE].len / 4;
    job.rows = views[DOWN_SINCE].len / 4;
    if (job.source_width < 1 || !job.width || !job.rows)
        goto wrong;
    job.source_rows = views[CODES].len / 2 / job.source_width;
    job.across_taps = views[ACROSS].len / 8 / job.width;
    job.down_taps = views[DOWN].len / 8 / job.rows;
    if (!job.across_taps || !job.down_taps
        || !lie_within(job.across_since, job.width, job.across_taps, job.source_width)
        || !lie_within(job.down_since, job.rows, job.down_taps, job.source_rows))
        goto wrong;
    if (limits) {
        cuts.levels = views[LEVELS].buf;
        cuts.starts = views[STARTS].buf;
        cuts.row_bytes = (cuts.lead + job.width + 7) / 8;
        if (views[STARTS].len != job.rows * 8 || views[OUT].len != job.rows * cuts.row_bytes
            || !starts_lie_within(&cuts, job.rows, views[LEVELS].len))
            goto wrong;
    } else if (views[OUT].len != job.rows * job.width * (Py_ssize_t)sizeof(float))
        goto wrong;
    if (!make_room(&job, &room)) {
        PyErr_NoMemory();
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    run(&job, &room, limits ? &cuts : NULL, limits ? NULL : views[OUT].buf,
        limits ? views[OUT].buf : NULL);
    Py_END_ALLOW_THREADS
    done = 1;
    goto end;
wrong:
    PyErr_SetString(PyExc_ValueError, "the arrays do not go together");
end:
    free(room.ring);
    free(room.sources);
    while (taken--)
        PyBuffer_Release(&views[taken]);
    if (!done)
        return NULL;
    Py_RETURN_NONE;
}
