"""Memory that one step has let go of, given back to the system before the next begins.

The C library keeps what was freed between blocks that are still in use, as it may be asked for
again. Steps of a film ask for blocks of other sizes, so what they keep would add up.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import lru_cache


def give_back_memory() -> None:
    """Let the C library give back every free page; nothing where it has no word for that."""
    trim = _malloc_trim()
    if trim is not None:
        trim(0)


@lru_cache(maxsize=1)
def _malloc_trim() -> Callable[[int], int] | None:
    """malloc_trim(3), which is glibc's."""
    function = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if function is None:
        return None
    function.argtypes, function.restype = [ctypes.c_size_t], ctypes.c_int
    trim: Callable[[int], int] = function
    return trim
