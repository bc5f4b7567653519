/* Rows of pixels moved by any number of them: words, the first pixel of a word highest. A row has
   more words than the pixels it is moved by fill. */

#ifndef FILMHAND_SHIFTS_H
#define FILMHAND_SHIFTS_H

#include "kernels.h"

/* Every pixel takes the value `count` pixels after it; nothing comes in at the end. */
static inline void shift_left(const uint64_t *restrict in, Py_ssize_t size, Py_ssize_t count,
                              uint64_t *restrict out)
{
    Py_ssize_t whole = count / 64, part = count % 64, left = size - whole;
    const uint64_t *on = in + whole;
    if (part)
        for (Py_ssize_t k = 0; k < left - 1; k++)
            out[k] = on[k] << part | on[k + 1] >> (64 - part);
    else
        memcpy(out, on, left * 8);
    out[left - 1] = on[left - 1] << part;
    memset(out + left, 0, whole * 8);
}

/* Every pixel takes the value `count` pixels before it; nothing comes in at the beginning. */
static inline void shift_right(const uint64_t *restrict in, Py_ssize_t size, Py_ssize_t count,
                               uint64_t *restrict out)
{
    Py_ssize_t whole = count / 64, part = count % 64, left = size - whole;
    memset(out, 0, whole * 8);
    out += whole;
    out[0] = in[0] >> part;
    if (part)
        for (Py_ssize_t k = 1; k < left; k++)
            out[k] = in[k] >> part | in[k - 1] << (64 - part);
    else
        memcpy(out, in, left * 8);
}

/* Each pixel where it and the one `count` pixels after it are set. */
static inline void meet_after(const uint64_t *restrict in, Py_ssize_t size, Py_ssize_t count,
                              uint64_t *restrict out)
{
    Py_ssize_t whole = count / 64, part = count % 64, left = size - whole;
    const uint64_t *on = in + whole;
    if (part)
        for (Py_ssize_t k = 0; k < left - 1; k++)
            out[k] = in[k] & (on[k] << part | on[k + 1] >> (64 - part));
    else
        for (Py_ssize_t k = 0; k < left - 1; k++)
            out[k] = in[k] & on[k];
    out[left - 1] = in[left - 1] & on[left - 1] << part;
    memset(out + left, 0, whole * 8);
}

/* Each pixel where it or the one `count` pixels before it is set. */
static inline void join_before(const uint64_t *restrict in, Py_ssize_t size, Py_ssize_t count,
                               uint64_t *restrict out)
{
    Py_ssize_t whole = count / 64, part = count % 64, left = size - whole;
    const uint64_t *here = in + whole;
    memcpy(out, in, whole * 8);
    out += whole;
    out[0] = here[0] | in[0] >> part;
    if (part)
        for (Py_ssize_t k = 1; k < left; k++)
            out[k] = here[k] | in[k] >> part | in[k - 1] << (64 - part);
    else
        for (Py_ssize_t k = 1; k < left; k++)
            out[k] = here[k] | in[k];
}

#endif
