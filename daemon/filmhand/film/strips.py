"""What every writer of a film needs to know before its first strip, and the strip itself."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cached_property
from typing import TypeVar

from filmhand.arrays import UInt8Array
from filmhand.film.bits import BitSheet
from filmhand.film.formats import BrokenFilm
from filmhand.film.group4 import BitString, encode_group4
from filmhand.units import Resolution
from filmhand.values import dataclass

ROWS_PER_STRIP = 256
# A decoded strip takes a byte a pixel; very wide sheets get lower strips instead of more memory.
_PIXELS_PER_STRIP = 1 << 24
_SAMPLES, _SAMPLE_ROWS = 16, 32
_SWELLS = 0.5

_Item = TypeVar("_Item")
_Answer = TypeVar("_Answer")


@dataclass(frozen=True, slots=True)
class FilePlan:
    """Size, resolution, strip height and compression of a film, the same for all its files."""

    width: int
    height: int
    dpi: Resolution
    rows_per_strip: int
    group4: bool

    @property
    def row_bytes(self) -> int:
        """ceil(width / 8)."""
        return (self.width + 7) // 8

    @property
    def starts(self) -> range:
        """First rows of the strips."""
        return range(0, self.height, self.rows_per_strip)

    def rows_at(self, y: int) -> int:
        """How many rows the strip that starts at y has."""
        return min(self.rows_per_strip, self.height - y)


@dataclass
class FilmStrip:
    """Some rows of a sheet, with the row above them (None at the top)."""

    rows: UInt8Array
    before: UInt8Array | None
    width: int

    @cached_property
    def code(self) -> BitString:
        """The rows' Group 4 code, made once however many writers ask."""
        return encode_group4(self.rows, width=self.width)


def plan_file(bits: BitSheet, *, dpi: Resolution, group4: bool) -> FilePlan:
    """The plan for a sheet."""
    fitting = max(8, min(ROWS_PER_STRIP, _PIXELS_PER_STRIP // bits.width))
    return FilePlan(bits.width, bits.height, dpi, fitting, group4=group4)


def read_strip(bits: BitSheet, plan: FilePlan, y: int) -> FilmStrip:
    """The strip that starts at row y."""
    before = bits.read(y - 1, 1) if y else None
    return FilmStrip(bits.read(y, plan.rows_at(y)), before, bits.width)


def in_order(
    function: Callable[[_Item], _Answer], items: Iterable[_Item], *, threads: int
) -> Iterator[_Answer]:
    """function(item) for each item, in the items' order, worked out `threads` at a time.

    At most ``threads + 1`` items are under way or waiting to be fetched, so memory stays
    bounded however many there are.
    """
    if threads <= 1:
        yield from map(function, items)
        return
    waiting: deque[Future[_Answer]] = deque()
    with ThreadPoolExecutor(threads, thread_name_prefix="film") as pool:
        try:
            for item in items:
                waiting.append(pool.submit(function, item))
                if len(waiting) > threads:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def compare_strips(
    stored: Iterable[_Item],
    holds: Callable[[FilmStrip, _Item], bool],
    bits: BitSheet,
    plan: FilePlan,
    *,
    threads: int,
) -> None:
    """Hold what a file stores of each strip against the film's bits.

    Parameters
    ----------
    stored : as many as there are strips; it is asked for its end as well
    holds : whether one is what it should be, asked from several threads

    Raises
    ------
    BrokenFilm
        At the first strip that differs.
    """

    def compared(item: tuple[int, _Item]) -> bool:
        return holds(read_strip(bits, plan, item[0]), item[1])

    answers = in_order(compared, zip(plan.starts, stored, strict=True), threads=threads)
    for y, same in zip(plan.starts, answers, strict=True):
        if not same:
            raise BrokenFilm(f"does not hold the film's bits in the rows from {y}")


def swells(bits: BitSheet) -> bool:
    """Whether Group 4 takes over half of the packed size, judged by bands over the sheet."""
    if bits.height <= _SAMPLES * _SAMPLE_ROWS:
        tops = range(0, bits.height, _SAMPLE_ROWS)
    else:
        last = bits.height - _SAMPLE_ROWS
        tops = range(0, last + 1, last // (_SAMPLES - 1))
    coded = packed = 0
    for y in tops:
        rows = bits.read(y, min(_SAMPLE_ROWS, bits.height - y))
        coded += encode_group4(rows, width=bits.width).length
        packed += rows.size * 8
    return coded > _SWELLS * packed
