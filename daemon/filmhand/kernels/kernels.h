/* What all loops share: the stable interface of Python, buffers, and how they are compiled. */

#ifndef FILMHAND_KERNELS_H
#define FILMHAND_KERNELS_H

#define PY_SSIZE_T_CLEAN
#define Py_LIMITED_API 0x030B0000 /* Python 3.11, the first whose limited API has buffers */
#include <Python.h>

#include <stdint.h>
#include <string.h>

#define KERNELS_VERSION 20

/* Loops marked so are compiled once more for processors with wider registers, where the system's
   loader can choose. Neither has fused multiply-add, so both give the same bits. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && defined(__GLIBC__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

/* Eight bytes of packed pixels as one number, the first pixel its highest bit; and back. */
static inline uint64_t first_bit_highest(uint64_t word)
{
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    return word;
#else
    word = (word >> 8 & 0x00FF00FF00FF00FFu) | (word & 0x00FF00FF00FF00FFu) << 8;
    word = (word >> 16 & 0x0000FFFF0000FFFFu) | (word & 0x0000FFFF0000FFFFu) << 16;
    return word >> 32 | word << 32;
#endif
}

/* The same with the first pixel as its lowest bit. */
static inline uint64_t first_bit_lowest(uint64_t word)
{
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    word = (word >> 8 & 0x00FF00FF00FF00FFu) | (word & 0x00FF00FF00FF00FFu) << 8;
    word = (word >> 16 & 0x0000FFFF0000FFFFu) | (word & 0x0000FFFF0000FFFFu) << 16;
    word = word >> 32 | word << 32;
#endif
    word = (word >> 1 & 0x5555555555555555u) | (word & 0x5555555555555555u) << 1;
    word = (word >> 2 & 0x3333333333333333u) | (word & 0x3333333333333333u) << 2;
    return (word >> 4 & 0x0F0F0F0F0F0F0F0Fu) | (word & 0x0F0F0F0F0F0F0F0Fu) << 4;
}

static inline int leading_zeros(uint64_t word)
{
#if defined(__GNUC__)
    return __builtin_clzll(word);
#else
    int count = 0;
    for (; !(word >> 63); word <<= 1)
        count++;
    return count;
#endif
}

static inline int trailing_zeros(uint64_t word)
{
#if defined(__GNUC__)
    return __builtin_ctzll(word);
#else
    int count = 0;
    for (; !(word & 1); word >>= 1)
        count++;
    return count;
#endif
}

static inline int bits_in(uint64_t word)
{
#if defined(__GNUC__)
    return __builtin_popcountll(word);
#else
    int count = 0;
    for (; word; word &= word - 1)
        count++;
    return count;
#endif
}

/* Take a C-contiguous buffer of exactly `bytes` bytes, or of any length where `bytes` is
   negative; 0 with an exception set where the object gives none. Release it with
   PyBuffer_Release. */
int take_buffer(PyObject *object, Py_buffer *view, Py_ssize_t bytes, int writable);

PyObject *bare_codes(PyObject *module, PyObject *arguments);
PyObject *code_pixels(PyObject *module, PyObject *arguments);
PyObject *count_codes(PyObject *module, PyObject *arguments);
PyObject *count_flats(PyObject *module, PyObject *arguments);
PyObject *count_ink(PyObject *module, PyObject *arguments);
PyObject *depth_below(PyObject *module, PyObject *arguments);
PyObject *divide_pixels(PyObject *module, PyObject *arguments);
PyObject *encode_group4(PyObject *module, PyObject *arguments);
PyObject *join_moved(PyObject *module, PyObject *arguments);
PyObject *join_seam(PyObject *module, PyObject *arguments);
PyObject *label_strip(PyObject *module, PyObject *arguments);
PyObject *local_maximum(PyObject *module, PyObject *arguments);
PyObject *opening_loss(PyObject *module, PyObject *arguments);
PyObject *opening_pieces(PyObject *module, PyObject *arguments);
PyObject *pack_lines(PyObject *module, PyObject *arguments);
PyObject *pick_floats(PyObject *module, PyObject *arguments);
PyObject *reach_pixels(PyObject *module, PyObject *arguments);
PyObject *reduce_bits(PyObject *module, PyObject *arguments);
PyObject *reduce_columns(PyObject *module, PyObject *arguments);
PyObject *resample(PyObject *module, PyObject *arguments);
PyObject *smooth(PyObject *module, PyObject *arguments);
PyObject *stretch_rows(PyObject *module, PyObject *arguments);
PyObject *sum_blocks(PyObject *module, PyObject *arguments);
PyObject *unpack_line(PyObject *module, PyObject *arguments);

#endif
