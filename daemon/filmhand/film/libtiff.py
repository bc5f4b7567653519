"""Strips of a TIFF decoded by libtiff itself: the one that Pillow has loaded, asked without Pillow.

Pillow has a byte for each pixel, which must be made, cleared and packed again; libtiff gives bits
as they are stored, in half the time. It is asked through its own interface, as tiffio.h and the
manual pages TIFFOpen(3) and TIFFReadEncodedStrip(3) tell it.
"""

from __future__ import annotations

import ctypes
import os
from functools import lru_cache

from PIL import _imaging

from filmhand.arrays import UInt8Array

# tmsize_t, toff_t and thandle_t of tiffio.h.
_Size, _Offset, _Handle = ctypes.c_ssize_t, ctypes.c_uint64, ctypes.c_void_p
_Transfer = ctypes.CFUNCTYPE(_Size, _Handle, ctypes.c_void_p, _Size)
_Seek = ctypes.CFUNCTYPE(_Offset, _Handle, _Offset, ctypes.c_int)
_Close = ctypes.CFUNCTYPE(ctypes.c_int, _Handle)
_Length = ctypes.CFUNCTYPE(_Offset, _Handle)
_Chars, _Memory = ctypes.c_char_p, ctypes.c_void_p
# A function, what it gives, what it takes. No file is mapped into memory, so the last two calls
# that an open file has are NULL.
_FUNCTIONS = (
    (
        "TIFFClientOpen",
        _Memory,
        (_Chars, _Chars, _Handle, _Transfer, _Transfer, _Seek, _Close, _Length, _Memory, _Memory),
    ),
    ("TIFFStripSize", _Size, (_Memory,)),
    ("TIFFReadEncodedStrip", _Size, (_Memory, ctypes.c_uint32, _Memory, _Size)),
    ("TIFFClose", None, (_Memory,)),
    ("TIFFSetErrorHandler", _Memory, (_Memory,)),
    ("TIFFSetWarningHandler", _Memory, (_Memory,)),
)


def read_first_strip(tiff: bytes, out: UInt8Array) -> bool | None:
    """Decode the first strip of a TIFF; whether libtiff filled ``out`` with it.

    libtiff forgives much in Group 4: that bits are the right ones is for the caller to see.

    Parameters
    ----------
    tiff : bytes
        The whole file.
    out : uint8, C-contiguous
        What the strip decodes to, of exactly its size.

    Returns
    -------
    bool or None
        None where Pillow has no libtiff that can be asked: it is part of Pillow's own library in
        some builds, or this process may make no functions for C to call.
    """
    libtiff = _libtiff()
    if libtiff is None:
        return None
    place = 0
    raised: list[BaseException] = []

    def read(_: object, to: int, count: int) -> int:
        nonlocal place
        try:
            part = tiff[place : place + count]
            ctypes.memmove(to, part, len(part))
        except BaseException as error:  # which C would not hand on
            raised.append(error)
            return 0
        place += len(part)
        return len(part)

    def seek(_: object, offset: int, whence: int) -> int:
        nonlocal place
        place = offset + {os.SEEK_CUR: place, os.SEEK_END: len(tiff)}.get(whence, 0)
        return place

    try:
        # They must live as long as the file is open.
        calls = (
            _Transfer(read),
            _Transfer(lambda *_: 0),  # nothing is written
            _Seek(seek),
            _Close(lambda _: 0),
            _Length(lambda _: len(tiff)),
        )
    except (MemoryError, OSError):
        return None
    is_whole = False
    opened = libtiff.TIFFClientOpen(b"strip", b"rm", None, *calls, None, None)
    if opened:
        try:
            if libtiff.TIFFStripSize(opened) == out.nbytes:
                got = libtiff.TIFFReadEncodedStrip(opened, 0, out.ctypes.data, out.nbytes)
                is_whole = got == out.nbytes
        finally:
            libtiff.TIFFClose(opened)
    if raised:
        raise raised[0]
    return is_whole


@lru_cache(maxsize=1)
def _libtiff() -> ctypes.CDLL | None:
    """The functions of the libtiff that Pillow is linked with; None where they are not to be had.

    What a library is asked for is looked for in those that it was linked with, too (dlsym(3)).
    """
    try:
        library = ctypes.CDLL(_imaging.__file__)
        for name, result, arguments in _FUNCTIONS:
            function = getattr(library, name)
            function.restype, function.argtypes = result, arguments
    except (OSError, AttributeError):
        return None
    # As Pillow has it: nothing is printed about what is damaged.
    library.TIFFSetErrorHandler(None)
    library.TIFFSetWarningHandler(None)
    return library
