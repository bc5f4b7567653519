/* A film made smaller: boxes of its bits become light, and that is filtered across and down.

   Both passes add up in double, tap by tap, and keep float, as Pillow's resampling of pictures in
   float does. Which of them comes first is Pillow's affair, so a float may differ in its last bit. */

#include "kernels.h"

#define LANES 16 /* rows that are filtered side by side */
#define AT_ONCE 64
#define BYTES_AT_ONCE 16 /* of a row, the light of whose boxes, of all lanes, stays in a near cache */

/* What a pass is made of: for each output its first input, how many there are, and their weights. */
typedef struct {
    const int32_t *first, *count;
    const double *weight;
    Py_ssize_t taps;
} Filter;

/* The light of some boxes of a row, every LANES-th of `out`; `rows` begin at the first box's byte,
   `skip` is its pixel there, and `ink` has room for the pixels of all `bytes`. */
WIDE static void row_of_light(const uint8_t *rows, Py_ssize_t row_bytes, Py_ssize_t bytes,
                              Py_ssize_t skip, Py_ssize_t across, Py_ssize_t down,
                              Py_ssize_t boxes, const float *light, const uint8_t *spread,
                              uint8_t *ink, double *out)
{
    for (Py_ssize_t row = 0; row < down; row++, rows += row_bytes) {
        for (Py_ssize_t at = 0; at < bytes; at++) {
            uint64_t sum, more;
            memcpy(&more, spread + 8 * rows[at], 8);
            if (row) {
                memcpy(&sum, ink + 8 * at, 8);
                more += sum; /* no byte runs over, as there are at most 255 rows */
            }
            memcpy(ink + 8 * at, &more, 8);
        }
    }
    ink += skip;
    if (across == 1) {
        for (Py_ssize_t x = 0; x < boxes; x++)
            out[x * LANES] = light[ink[x]];
        return;
    }
    for (Py_ssize_t x = 0; x < boxes; x++, ink += across) {
        uint32_t sum = 0;
        for (Py_ssize_t k = 0; k < across; k++)
            sum += ink[k];
        out[x * LANES] = light[sum];
    }
}

/* Of some rows, for each byte and for the end, how many before it have any ink, and how many any bare
   film; `any` and `all` have room for a row. */
WIDE static void count_bytes(const uint8_t *rows, Py_ssize_t row_bytes, Py_ssize_t count,
                             uint8_t *any, uint8_t *all, int32_t *inked, int32_t *bared)
{
    memset(any, 0, row_bytes);
    memset(all, 255, row_bytes);
    for (; count > 0; count--, rows += row_bytes)
        for (Py_ssize_t at = 0; at < row_bytes; at++) {
            any[at] |= rows[at];
            all[at] &= rows[at];
        }
    for (Py_ssize_t at = 0; at < row_bytes; at++) {
        inked[at + 1] = inked[at] + (any[at] != 0);
        bared[at + 1] = bared[at] + (all[at] != 255);
    }
}

/* `inked` and `bared` are as above. An output that is made of bare film alone is what `bare` has,
   and one of solid ink alone what `solid` has. */
WIDE static void filter_lanes(const double *in, const Filter *filter, Py_ssize_t outputs,
                              Py_ssize_t across, const int32_t *inked, const int32_t *bared,
                              const float *bare, const float *solid, float *out)
{
    for (Py_ssize_t k = 0; k < outputs; k++) {
        Py_ssize_t begin = filter->first[k] * across / 8;
        Py_ssize_t end = ((filter->first[k] + filter->count[k]) * across + 7) / 8;
        if (inked[begin] == inked[end] || bared[begin] == bared[end]) {
            float alike = inked[begin] == inked[end] ? bare[k] : solid[k];
            for (int lane = 0; lane < LANES; lane++)
                out[lane * outputs + k] = alike;
            continue;
        }
        double sum[LANES] = {0};
        const double *weight = filter->weight + k * filter->taps;
        const double *from = in + (Py_ssize_t)filter->first[k] * LANES;
        for (int32_t tap = 0; tap < filter->count[k]; tap++, from += LANES)
            /* Unrolled, the taps would be put side by side, and the rows lane by lane. */
#if defined(__GNUC__)
#pragma GCC unroll 1
#endif
            for (int lane = 0; lane < LANES; lane++)
                sum[lane] += from[lane] * weight[tap];
        for (int lane = 0; lane < LANES; lane++)
            out[lane * outputs + k] = (float)sum[lane];
    }
}

/* For each row, and each AT_ONCE columns of it: 1 where they are all the same, and 3 where they are
   the same as those of the row above, too. */
WIDE static void find_alike(const float *rows, Py_ssize_t width, Py_ssize_t height, uint8_t *alike)
{
    Py_ssize_t parts = (width + AT_ONCE - 1) / AT_ONCE;
    for (Py_ssize_t y = 0; y < height; y++)
        for (Py_ssize_t left = 0; left < width; left += AT_ONCE, alike++) {
            Py_ssize_t columns = width - left < AT_ONCE ? width - left : AT_ONCE;
            const float *from = rows + y * width + left;
            int differ = 0;
            for (Py_ssize_t x = 1; x < columns; x++)
                differ |= from[x] != from[0];
            *alike = !differ;
            if (!differ && y && (alike[-parts] & 1) && from[-width] == from[0])
                *alike = 3;
        }
}

/* A row, filtered down; `alike` is as above, from the first row that it is made of on. */
WIDE static void filter_column(const float *in, Py_ssize_t width, int32_t count,
                               const double *weight, const uint8_t *alike, float *out)
{
    Py_ssize_t parts = (width + AT_ONCE - 1) / AT_ONCE;
    for (Py_ssize_t left = 0; left < width; left += AT_ONCE, alike++) {
        Py_ssize_t columns = width - left < AT_ONCE ? width - left : AT_ONCE;
        int32_t same = count && alike[0];
        while (same && same < count && alike[same * parts] == 3)
            same++;
        double sum[AT_ONCE] = {0};
        /* Of columns that are the same in all rows, one is filtered for all. */
        Py_ssize_t filtered = same == count ? 1 : columns;
        for (int32_t tap = 0; tap < count; tap++) {
            const float *from = in + tap * width + left;
            for (Py_ssize_t x = 0; x < filtered; x++)
                sum[x] += from[x] * weight[tap];
        }
        for (Py_ssize_t x = 0; x < columns; x++)
            out[left + x] = (float)sum[x < filtered ? x : 0];
    }
}

/* What becomes of one light everywhere, added up as all else is. */
static void filter_alike(double light, const Filter *filter, Py_ssize_t outputs, float *out)
{
    for (Py_ssize_t k = 0; k < outputs; k++) {
        double sum = 0;
        for (int32_t tap = 0; tap < filter->count[k]; tap++)
            sum += light * filter->weight[k * filter->taps + tap];
        out[k] = (float)sum;
    }
}

/* The boxes that lie on some bytes of a row, from the first to the one past the last. */
static void boxes_on(Py_ssize_t begin, Py_ssize_t end, Py_ssize_t across, Py_ssize_t width,
                     Py_ssize_t *first, Py_ssize_t *stop)
{
    *first = begin * 8 / across;
    *stop = (end * 8 + across - 1) / across;
    if (*stop > width)
        *stop = width;
}

/* The light of boxes whose bytes had ink and have none any more is made that of bare film. */
static void bare_lanes(const int32_t *had, const int32_t *has, Py_ssize_t row_bytes,
                       Py_ssize_t across, Py_ssize_t width, double bare, double *lanes)
{
    for (Py_ssize_t at = 0; at < row_bytes; at++) {
        Py_ssize_t x, stop;
        if (had[at] == had[at + 1] || has[at] != has[at + 1])
            continue;
        boxes_on(at, at + 1, across, width, &x, &stop);
        for (; x < stop; x++)
            for (int lane = 0; lane < LANES; lane++)
                lanes[x * LANES + lane] = bare;
    }
}

/* Whether a filter's places all lie in its input; else an exception is set. */
static int is_within(const Filter *filter, Py_ssize_t outputs, Py_ssize_t inputs)
{
    for (Py_ssize_t k = 0; k < outputs; k++) {
        int32_t first = filter->first[k], count = filter->count[k];
        if (first < 0 || count < 0 || count > filter->taps || first > inputs - count) {
            PyErr_SetString(PyExc_ValueError, "a filter reaches beyond its input");
            return 0;
        }
    }
    return 1;
}

static int take_filter(PyObject *first, PyObject *count, PyObject *weight, Py_buffer *views,
                       Filter *filter, Py_ssize_t outputs, Py_ssize_t inputs)
{
    if (!take_buffer(first, &views[0], 4 * outputs, 0))
        return 0;
    if (take_buffer(count, &views[1], 4 * outputs, 0)) {
        if (take_buffer(weight, &views[2], 8 * outputs * filter->taps, 0)) {
            filter->first = views[0].buf;
            filter->count = views[1].buf;
            filter->weight = views[2].buf;
            if (is_within(filter, outputs, inputs))
                return 1;
            PyBuffer_Release(&views[2]);
        }
        PyBuffer_Release(&views[1]);
    }
    PyBuffer_Release(&views[0]);
    return 0;
}

static void drop_filter(Py_buffer *views)
{
    for (int k = 0; k < 3; k++)
        PyBuffer_Release(&views[k]);
}

/* reduce_bits(rows, row_bytes, across, down, width, light, first, count, weight, taps, out, outputs)

   Packed rows, 1 = ink, in boxes of `across` x `down` pixels (at most 255 rows), `width` of them
   beside one another; `light` is a float for each number of inked pixels. Each row of boxes becomes
   a row of `out`, float (boxes down, outputs), filtered across. */
PyObject *reduce_bits(PyObject *module, PyObject *arguments)
{
    PyObject *rows, *light, *first, *count, *weight, *out;
    Py_ssize_t row_bytes, across, down, width, outputs;
    Py_buffer packed, table, found, views[3];
    Filter filter;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnnnnOOOOnOn", &rows, &row_bytes, &across, &down, &width,
                          &light, &first, &count, &weight, &filter.taps, &out, &outputs))
        return NULL;
    if (row_bytes < 1 || across < 1 || down < 1 || down > 255 || width < 1 || outputs < 1 ||
        filter.taps < 1 || width > 8 * row_bytes / across) {
        PyErr_SetString(PyExc_ValueError, "there are no such boxes");
        return NULL;
    }
    if (!take_filter(first, count, weight, views, &filter, outputs, width))
        return NULL;
    PyObject *result = NULL;
    if (!take_buffer(rows, &packed, -1, 0))
        goto no_rows;
    Py_ssize_t height = packed.len / row_bytes / down;
    if (!take_buffer(light, &table, 4 * (across * down + 1), 0))
        goto no_light;
    if (!take_buffer(out, &found, 4 * height * outputs, 1))
        goto no_room;
    double *lanes = PyMem_Malloc(LANES * width * sizeof(double));
    float *filtered = PyMem_Malloc(LANES * outputs * sizeof(float));
    float *bare = PyMem_Malloc(2 * outputs * sizeof(float));
    int32_t *counts = PyMem_Calloc(3 * (row_bytes + 1), sizeof(int32_t));
    uint8_t *ink = PyMem_Malloc(8 * row_bytes), *spread = PyMem_Malloc(8 * 256);
    uint8_t *any = PyMem_Malloc(2 * row_bytes);
    if (lanes == NULL || filtered == NULL || bare == NULL || counts == NULL || ink == NULL ||
        spread == NULL || any == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    for (int byte = 0; byte < 256; byte++)
        for (int bit = 0; bit < 8; bit++)
            spread[8 * byte + bit] = (byte >> (7 - bit)) & 1;
    Py_BEGIN_ALLOW_THREADS
    const float *levels = table.buf;
    for (Py_ssize_t k = 0; k < LANES * width; k++)
        lanes[k] = levels[0];
    float *solid = bare + outputs;
    filter_alike(levels[0], &filter, outputs, bare);
    filter_alike(levels[across * down], &filter, outputs, solid);
    int32_t *inked = counts, *before = inked + row_bytes + 1, *bared = before + row_bytes + 1;
    for (Py_ssize_t top = 0; top < height; top += LANES) {
        Py_ssize_t together = height - top < LANES ? height - top : LANES;
        const uint8_t *from = (const uint8_t *)packed.buf + top * down * row_bytes;
        int32_t *other = before;
        before = inked, inked = other;
        count_bytes(from, row_bytes, together * down, any, any + row_bytes, inked, bared);
        bare_lanes(before, inked, row_bytes, across, width, levels[0], lanes);
        /* Only where there is ink is light worked out. */
        for (Py_ssize_t end, begin = 0; begin < row_bytes; begin = end) {
            end = begin + 1;
            if (inked[begin] == inked[end])
                continue;
            while (end < row_bytes && end - begin < BYTES_AT_ONCE && inked[end] < inked[end + 1])
                end++;
            Py_ssize_t left, stop;
            boxes_on(begin, end, across, width, &left, &stop);
            if (left >= stop)
                break;
            Py_ssize_t byte = left * across / 8, skip = left * across % 8;
            Py_ssize_t bytes = (skip + (stop - left) * across + 7) / 8;
            for (Py_ssize_t lane = 0; lane < together; lane++)
                row_of_light(from + lane * down * row_bytes + byte, row_bytes, bytes, skip, across,
                             down, stop - left, levels, spread, ink, lanes + left * LANES + lane);
        }
        float *to = (float *)found.buf + top * outputs;
        if (inked[row_bytes]) {
            filter_lanes(lanes, &filter, outputs, across, inked, bared, bare, solid, filtered);
            memcpy(to, filtered, together * outputs * sizeof(float));
        } else {
            for (Py_ssize_t lane = 0; lane < together; lane++)
                memcpy(to + lane * outputs, bare, outputs * sizeof(float));
        }
    }
    Py_END_ALLOW_THREADS
    result = Py_NewRef(Py_None);
done:
    PyMem_Free(lanes);
    PyMem_Free(filtered);
    PyMem_Free(bare);
    PyMem_Free(counts);
    PyMem_Free(ink);
    PyMem_Free(spread);
    PyMem_Free(any);
    PyBuffer_Release(&found);
no_room:
    PyBuffer_Release(&table);
no_light:
    PyBuffer_Release(&packed);
no_rows:
    drop_filter(views);
    return result;
}

/* reduce_columns(rows, width, first, count, weight, taps, out, outputs)

   Rows of floats, `width` each, filtered down into `out`, float (outputs, width). */
PyObject *reduce_columns(PyObject *module, PyObject *arguments)
{
    PyObject *rows, *first, *count, *weight, *out;
    Py_ssize_t width, outputs;
    Py_buffer given, found, views[3];
    Filter filter;
    (void)module;
    if (!PyArg_ParseTuple(arguments, "OnOOOnOn", &rows, &width, &first, &count, &weight,
                          &filter.taps, &out, &outputs))
        return NULL;
    if (width < 1 || outputs < 1 || filter.taps < 1) {
        PyErr_SetString(PyExc_ValueError, "there are no such rows");
        return NULL;
    }
    if (!take_buffer(rows, &given, -1, 0))
        return NULL;
    PyObject *result = NULL;
    if (!take_filter(first, count, weight, views, &filter, outputs, given.len / 4 / width))
        goto no_filter;
    if (!take_buffer(out, &found, 4 * outputs * width, 1))
        goto no_room;
    Py_ssize_t parts = (width + AT_ONCE - 1) / AT_ONCE, height = given.len / 4 / width;
    uint8_t *alike = PyMem_Malloc(height * parts + 1);
    if (alike == NULL) {
        PyErr_NoMemory();
        goto done;
    }
    Py_BEGIN_ALLOW_THREADS
    find_alike(given.buf, width, height, alike);
    for (Py_ssize_t k = 0; k < outputs; k++)
        filter_column((const float *)given.buf + filter.first[k] * width, width, filter.count[k],
                      filter.weight + k * filter.taps, alike + filter.first[k] * parts,
                      (float *)found.buf + k * width);
    Py_END_ALLOW_THREADS
    PyMem_Free(alike);
    result = Py_NewRef(Py_None);
done:
    PyBuffer_Release(&found);
no_room:
    drop_filter(views);
no_filter:
    PyBuffer_Release(&given);
    return result;
}
