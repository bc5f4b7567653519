/* The module filmhand.kernels._compiled: one row for each loop. */

#include "kernels.h"

int take_buffer(PyObject *object, Py_buffer *view, Py_ssize_t bytes, int writable)
{
    int flags = PyBUF_C_CONTIGUOUS | (writable ? PyBUF_WRITABLE : 0);
    if (PyObject_GetBuffer(object, view, flags) < 0)
        return 0;
    if (bytes >= 0 && view->len != bytes) {
        PyErr_Format(PyExc_ValueError, "a buffer has %zd bytes, needed are %zd", view->len, bytes);
        PyBuffer_Release(view);
        return 0;
    }
    return 1;
}

static PyMethodDef methods[] = {
    {"bare_codes", bare_codes, METH_VARARGS, NULL},
    {"code_pixels", code_pixels, METH_VARARGS, NULL},
    {"count_codes", count_codes, METH_VARARGS, NULL},
    {"count_flats", count_flats, METH_VARARGS, NULL},
    {"count_ink", count_ink, METH_VARARGS, NULL},
    {"depth_below", depth_below, METH_VARARGS, NULL},
    {"divide_pixels", divide_pixels, METH_VARARGS, NULL},
    {"encode_group4", encode_group4, METH_VARARGS, NULL},
    {"join_moved", join_moved, METH_VARARGS, NULL},
    {"join_seam", join_seam, METH_VARARGS, NULL},
    {"label_strip", label_strip, METH_VARARGS, NULL},
    {"local_maximum", local_maximum, METH_VARARGS, NULL},
    {"opening_loss", opening_loss, METH_VARARGS, NULL},
    {"opening_pieces", opening_pieces, METH_VARARGS, NULL},
    {"pack_lines", pack_lines, METH_VARARGS, NULL},
    {"pick_floats", pick_floats, METH_VARARGS, NULL},
    {"reach_pixels", reach_pixels, METH_VARARGS, NULL},
    {"reduce_bits", reduce_bits, METH_VARARGS, NULL},
    {"reduce_columns", reduce_columns, METH_VARARGS, NULL},
    {"resample", resample, METH_VARARGS, NULL},
    {"smooth", smooth, METH_VARARGS, NULL},
    {"stretch_rows", stretch_rows, METH_VARARGS, NULL},
    {"sum_blocks", sum_blocks, METH_VARARGS, NULL},
    {"unpack_line", unpack_line, METH_VARARGS, NULL},
    {NULL, NULL, 0, NULL},
};

static int begin(PyObject *module)
{
    return PyModule_AddIntConstant(module, "VERSION", KERNELS_VERSION);
}

static PyModuleDef_Slot slots[] = {
    {Py_mod_exec, begin},
    {0, NULL},
};

static struct PyModuleDef definition = {
    PyModuleDef_HEAD_INIT,
    .m_name = "_compiled",
    .m_doc = "Inner loops in C; see the package's __init__.",
    .m_methods = methods,
    .m_slots = slots,
};

PyMODINIT_FUNC PyInit__compiled(void)
{
    return PyModuleDef_Init(&definition);
}
