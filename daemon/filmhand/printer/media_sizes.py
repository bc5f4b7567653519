"""Sizes of sheets and resolutions: whether they fit, and in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil

from filmhand.language import or_list
from filmhand.printer.capabilities import MediaEntry
from filmhand.printer.printer_words import MediaCount, MediaWord
from filmhand.units import Resolution, SheetSize, size_text

SAME_SIZE = 20  # 1/100 mm by which sizes of one sheet may differ: what rounding to 1/16 in leaves


def dpi_list(resolutions: Iterable[Resolution]) -> str:
    """One or more resolutions in words, such as "600 or 1200"."""
    ordered = sorted(set(resolutions), key=lambda one: (one.x, one.y))
    return or_list(list(map(str, ordered)))


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


def sizes_list(media: Sequence[MediaEntry], in_inches: bool | None = None) -> str:
    """The sizes of sheets in words, each once, a dozen at most."""
    told = list(dict.fromkeys(media_size_text(one, in_inches) for one in media))
    listed = ", ".join(told[:12])
    return MediaCount.MORE.say(len(told) - 12, listed=listed) if len(told) > 12 else listed


def media_size_text(one: MediaEntry, in_inches: bool | None = None) -> str:
    """The entry's size, or its smallest and its largest, in words.

    Where nobody says whether people there measure ``in_inches``, it is the unit of the entry's own
    size: inches if both sides are whole eighths of one.
    """
    if in_inches is None:
        in_inches = _is_in_inches(*one.width, *one.height)
    low = lengths_text(one.width[0], one.height[0], in_inches=in_inches)
    if not is_range(one):
        return low
    high = lengths_text(one.width[1], one.height[1], in_inches=in_inches)
    return MediaWord.FROM_TO.say(smallest=low, largest=high)


def nearest_sheet(media: Iterable[MediaEntry], width: int, height: int) -> str:
    """The size that differs least from these lengths, as a profile has it in its own unit."""
    sizes = [
        (nearest_length(width, one.width), nearest_length(height, one.height)) for one in media
    ]
    nearest = min(sizes, key=lambda size: abs(size[0] - width) + abs(size[1] - height))
    return sheet_as_written(*nearest, in_inches=_is_in_inches(*nearest))


def _is_in_inches(*lengths: int) -> bool:
    return all(length * 8 % 2540 == 0 for length in lengths)


def lengths_text(*lengths: int, in_inches: bool) -> str:
    """Lengths of 1/100 mm as people read them.

    >>> lengths_text(21590, 27940, in_inches=True), lengths_text(423, in_inches=False)
    ('8.5 x 11 in (215.9 x 279.4 mm)', '4.23 mm (0.17 in)')
    """
    return size_text([one / 100 for one in lengths], SheetSize(0, 0, in_inches), decimals=2)


def as_written(length: int, *, in_inches: bool) -> str:
    """A length of 1/100 mm as a profile has it, no shorter than it is.

    >>> as_written(423, in_inches=True), as_written(423, in_inches=False)
    ('0.17 in', '4.23 mm')
    """
    return f"{ceil(round(length / 25.4, 6)) / 100:g} in" if in_inches else f"{length / 100:g} mm"


def sheet_as_written(width: int, height: int, *, in_inches: bool) -> str:
    """A sheet of 1/100 mm as a profile has it.

    >>> sheet_as_written(21590, 27940, in_inches=True)
    '8.5 x 11 in'
    """
    if in_inches:
        return f"{round(width / 2540, 3):g} x {round(height / 2540, 3):g} in"
    return f"{width / 100:g} x {height / 100:g} mm"
