"""Sizes of sheets and resolutions: whether they fit, and in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from filmhand.printer.capabilities import MediaEntry
from filmhand.units import Resolution

SAME_SIZE = 20  # 1/100 mm by which sizes of one sheet may differ: what rounding to 1/16 in leaves


def dpi_list(resolutions: Iterable[Resolution]) -> str:
    """Resolutions in words, such as "600 or 1200"."""
    ordered = sorted(set(resolutions), key=lambda one: (one.x, one.y))
    return " or ".join(map(str, ordered)) or "no known"


def sheet_fits(one: MediaEntry, width: int, height: int) -> bool:
    """True if the entry takes a sheet of these lengths, 1/100 mm, this way round."""
    return all(
        low - SAME_SIZE <= length <= high + SAME_SIZE
        for length, (low, high) in ((width, one.width), (height, one.height))
    )


def is_range(one: MediaEntry) -> bool:
    """True for custom sizes and rolls."""
    return one.width[0] != one.width[1] or one.height[0] != one.height[1]


def nearest_length(length: int, span: tuple[int, int]) -> int:
    """The printer's own word for the length: it refuses one that it does not list."""
    return min(max(length, span[0]), span[1])


def sizes_list(media: Sequence[MediaEntry]) -> str:
    """The sizes of sheets in words, each once, a dozen at most."""
    told = list(dict.fromkeys(media_size_text(one) for one in media))
    return ", ".join(told[:12]) + (f" and {len(told) - 12} more" if len(told) > 12 else "")


def media_size_text(one: MediaEntry) -> str:
    """The entry's size, or its smallest and its largest, in words."""
    low = mm_text(one.width[0], one.height[0])
    return low if not is_range(one) else f"{low} to {mm_text(one.width[1], one.height[1])}"


def mm_text(width: int, height: int) -> str:
    """Lengths of 1/100 mm as people read them."""
    return f"{width / 100:g} x {height / 100:g} mm"
