"""Memory that one step has let go of, given back to the system before the next begins.

The C library keeps what was freed between blocks that are still in use, as it may be asked for
again. Steps of a film ask for blocks of other sizes, so what they keep would add up. A little of it
is kept all the same: the next step asks for that much anyway, and each page of it that comes back
from the system is emptied once more.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import lru_cache

_LITTLE = 20 * 2**20  # bytes; the most that any of our jobs held was the same without them


class _Blocks(ctypes.Structure):
    """struct mallinfo2, of mallinfo(3)."""

    _fields_ = tuple(
        (name, ctypes.c_size_t)
        for name in (
            *("arena", "ordblks", "smblks", "hblks", "hblkhd"),
            *("usmblks", "fsmblks", "uordblks", "fordblks", "keepcost"),
        )
    )


def give_back_memory() -> None:
    """Let the C library give back its free pages, where they are many; nothing where it cannot."""
    trim, blocks = _calls()
    if trim is not None and (blocks is None or blocks().fordblks > _LITTLE):
        trim(0)


@lru_cache(maxsize=1)
def _calls() -> tuple[Callable[[int], int] | None, Callable[[], _Blocks] | None]:
    """malloc_trim(3), which is glibc's, and mallinfo2(3), which is its own since 2.33."""
    library = ctypes.CDLL(None)
    trim, blocks = (getattr(library, name, None) for name in ("malloc_trim", "mallinfo2"))
    if trim is not None:
        trim.argtypes, trim.restype = [ctypes.c_size_t], ctypes.c_int
    if blocks is not None:
        blocks.restype = _Blocks
    return trim, blocks
