"""Openings of a bitmap with discs, 64 pixels at a time.

Opening a shape with a disc keeps what the disc can sweep and loses what is narrower
(G. Matheron, Random Sets and Integral Geometry, Wiley, 1975). What is lost at corners and at the
tapered ends of strokes is not narrow in the stencil's sense, so everything within one disc of
what survived, reached inside the shape, is forgiven.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, lru_cache
from math import ceil, sqrt

import numpy as np

from filmhand.arrays import Int32Array, Int64Array, UInt8Array, UInt64Array
from filmhand.kernels.loops import compiled
from filmhand.values import dataclass

_ALL = np.uint64(0xFFFFFFFFFFFFFFFF)


@dataclass(frozen=True)
class Disc:
    """A digital disc: rows of pixels whose centers lie inside a circle of a given diameter.

    Attributes
    ----------
    spans : (first column, length) of each row, from the top
    """

    spans: tuple[tuple[int, int], ...]

    @classmethod
    @lru_cache(maxsize=64)
    def of(cls, across: int, down: int) -> Disc:
        """The disc ``across`` pixels wide and ``down`` pixels high."""
        radius = 0.5 - 0.05 / max(across, down)
        spans = []
        for row in range(down):
            y = (row + 0.5) / down - 0.5
            half = sqrt(max(0.0, radius * radius - y * y)) * across
            first = ceil((across - 1) / 2 - half - 1e-9)
            length = across - 2 * first
            if length > 0:
                spans.append((first, length))
        return cls(tuple(spans))

    @cached_property
    def rows(self) -> tuple[Int32Array, Int32Array]:
        """Its different rows, (length, first column) each, the shortest first; and for each of its
        rows which of them it is.
        """
        lengths = [(length, first) for first, length in self.spans]
        runs = sorted(set(lengths))
        which = [runs.index(one) for one in lengths]
        return np.array(runs, np.int32).reshape(-1, 2), np.array(which, np.int32)


@dataclass(frozen=True, slots=True)
class PartOfStrip:
    """A part of a strip of packed rows, and what is asked of it.

    It is looked at with ``halo`` rows around it, and as many pixels to both sides, so that what is
    found does not depend on the cuts. Beyond the area the shape is taken to go on, so that a shape
    cut by the border is not narrow because of the cut.

    Attributes
    ----------
    area : the first column of the area, 0 .. 7, and the column past its last
    before, after : so many of the ``halo`` rows above and below the part lie beyond the area
    columns : the first byte of a row that is of the part, and the byte past its last
    halo : at least three times ``steps``, and ``near``, and 2
    disc, steps : what opens it, and how far what survives reaches: the disc's larger side
    near : how far from ink gaps count; 0 where all of the shape does
    ink : the shape is ink, not bare film
    """

    area: tuple[int, int]
    before: int
    after: int
    columns: tuple[int, int]
    halo: int
    disc: Disc
    steps: int
    near: int
    ink: bool

    def loss(self, rows: UInt8Array, *, enough: int = 0) -> tuple[int, int]:
        """How many pixels vanish, and how many count.

        Where no more than ``enough`` vanish, that is all that is certain: some of those told may
        be forgiven yet.

        Parameters
        ----------
        rows : those of the part and of its surroundings that lie in the area, packed, uint8
        """
        loops = compiled()
        if loops is None:
            vanished, counted = RowWindow.of(rows, self).lost(enough=enough)
            return count_pixels(vanished), counted
        return loops.opening_loss(rows, self._question(rows), *self.disc.rows, enough, None)

    def lost(self, rows: UInt8Array) -> UInt8Array:
        """The pixels that vanish: the part's rows, packed, (rows, bytes) uint8 in whole words."""
        loops = compiled()
        if loops is None:
            return packed_rows(RowWindow.of(rows, self).lost()[0])
        left, right = self.columns
        height = self.before + len(rows) + self.after - 2 * self.halo
        packed = np.empty((height, (right - left + 7) // 8 * 8), np.uint8)
        loops.opening_loss(rows, self._question(rows), *self.disc.rows, 0, packed)
        return packed

    def pieces(self, rows: UInt8Array, first: int, stride: int) -> tuple[Int64Array, Int64Array]:
        """The pixels that vanish, in order, and those of them beside one that is left, be it at a
        corner.

        They are told by their numbers: ``first`` is the part's first pixel, and ``stride`` more the
        one below it.
        """
        loops = compiled()
        if loops is None:
            vanished, touching = RowWindow.of(rows, self).pieces()
            return _numbers(vanished, first, stride), _numbers(touching, first, stride)
        question = self._question(rows)
        found = loops.opening_pieces(rows, question, *self.disc.rows, first, stride)
        pixels, beside = (np.frombuffer(some, np.int64) for some in found)
        return pixels, beside

    def _question(self, rows: UInt8Array) -> tuple[int, ...]:
        """As the loops in C want it."""
        beyond = (self.before, self.after)
        reach = (self.halo, self.steps, self.near)
        return (rows.shape[1], *self.area, *beyond, *self.columns, *reach, self.ink)


@dataclass(frozen=True, slots=True)
class RowWindow:
    """A part of a strip with its surroundings: one long row of words, the first pixel highest.

    What runs over the end of one row comes out at the beginning of the next, but no farther than
    the surroundings reach. This is the twin of ``kernels/opening.c``.

    Attributes
    ----------
    shape : 1 = of the shape
    inside : 1 = in the area
    row : words of a row
    core : rows and words of a row that are the part itself
    of_strip : what the part is
    """

    shape: UInt64Array
    inside: UInt64Array
    row: int
    core: tuple[slice, slice]
    of_strip: PartOfStrip

    @classmethod
    def of(cls, rows: UInt8Array, part: PartOfStrip) -> RowWindow:
        """The window around a part, from the rows that :meth:`PartOfStrip.loss` takes."""
        area, before, halo = part.area, part.before, part.halo
        beside = (halo + 63) // 64
        row_bytes = (area[1] + 7) // 8
        left = part.columns[0]
        words = (part.columns[1] - left + 7) // 8
        row = words + 2 * beside
        inside = np.zeros((before + len(rows) + part.after, 8 * row), np.uint8)
        first, stop = max(0, left - 8 * beside), min(row_bytes, left + 8 * (words + beside))
        place = first - left + 8 * beside
        here = np.s_[before : before + len(rows), place : place + stop - first]
        inside[here] = 255
        if first == 0:
            inside[here[0], place] = 0xFF >> area[0]
        if stop == row_bytes:
            inside[here[0], place + stop - first - 1] &= (0xFF << (-area[1] % 8)) & 0xFF
        bits = np.zeros_like(inside)
        bits[here] = rows[:, first:stop]
        shape, within = _words(bits), _words(inside)
        if not part.ink:
            np.invert(shape, out=shape)
        shape |= ~within
        core = (slice(halo, len(inside) - halo), slice(beside, beside + words))
        return cls(shape, within, row, core, part)

    def lost(self, *, enough: int = 0) -> tuple[UInt64Array, int]:
        """The part's pixels that vanish, (rows, words), and how many count.

        Where no more than ``enough`` vanish, that is all that is certain: some of those told may
        be forgiven yet.
        """
        counted = self.shape & self.inside
        if self.of_strip.near:
            ink = ~self.shape & self.inside
            if not ink.any():  # as around most letters
                return self._part(ink), 0
            counted &= self._grown(ink)
        part = self._part(counted)
        if not part.any():
            return part, 0
        kept = self._forgiven(self._opened(), part, enough)
        return part & ~self._part(kept), count_pixels(part)

    def pieces(self) -> tuple[UInt64Array, UInt64Array]:
        """The part's pixels that vanish, and those of them beside one that is left, be it at a
        corner: (rows, words) each.
        """
        part = self._part(self.shape & self.inside)
        if not part.any() or (self.shape == _ALL).all():
            return np.zeros_like(part), np.zeros_like(part)
        grown = self._forgiven(self._opened(), part, 0)
        kept = self._part(grown)
        vanished = part & ~kept
        if not vanished.any():
            return vanished, vanished
        around = grown | _left(grown, 1)
        around |= _right(grown, 1)
        beside = around.copy()
        beside[self.row :] |= around[: -self.row]
        beside[: -self.row] |= around[self.row :]
        return vanished, vanished & self._part(beside)

    def _part(self, words: UInt64Array) -> UInt64Array:
        return np.ascontiguousarray(words.reshape(-1, self.row)[self.core])

    def _opened(self) -> UInt64Array:
        """The part of the shape that the disc can sweep."""
        spans = self.of_strip.disc.spans
        fits = np.full_like(self.shape, _ALL)
        worn = _spans(self.shape, {length for _, length in spans}, _left, np.bitwise_and)
        lines = {span: _left(worn[span[1]], span[0]) for span in set(spans)}
        size = fits.size
        for number, span in enumerate(spans):
            down = number * self.row
            fits[: size - down] &= lines[span][down:]
            fits[size - down :] = 0
        swept = np.zeros_like(self.shape)
        spread = _spans(fits, {length for _, length in spans}, _right, np.bitwise_or)
        lines = {span: _right(spread[span[1]], span[0]) for span in set(spans)}
        for number, span in enumerate(spans):
            down = number * self.row
            swept[down:] |= lines[span][: size - down]
        return swept

    def _forgiven(self, kept: UInt64Array, counted: UInt64Array, enough: int) -> UInt64Array:
        """``kept`` grown within the shape, by one pixel at each step, corners every second time."""
        row = self.row
        for step in range(self.of_strip.steps):
            if count_pixels(counted & ~self._part(kept)) <= enough:
                break
            sides = kept | _left(kept, 1)
            sides |= _right(kept, 1)
            grown = sides.copy()
            source = sides if step % 2 else kept
            grown[row:] |= source[:-row]
            grown[:-row] |= source[row:]
            grown &= self.shape
            # A step that takes in the corners and finds nothing was the last that could.
            if step % 2 and np.array_equal(grown, kept):
                break
            kept = grown
        return kept

    def _grown(self, bits: UInt64Array) -> UInt64Array:
        """All pixels within ``near`` rows and columns of a set pixel."""
        near = self.of_strip.near
        side = 2 * near + 1
        done = _left(_spans(bits, {side}, _right, np.bitwise_or)[side], near)
        reached = 1
        while reached < side:
            step = min(reached, side - reached)
            further = done.copy()
            further[step * self.row :] |= done[: -step * self.row]
            done, reached = further, reached + step
        moved = np.zeros_like(done)
        up = near * self.row
        moved[: done.size - up] = done[up:]
        return moved


def _words(rows: UInt8Array) -> UInt64Array:
    """Packed rows as words, one row after the other."""
    return rows.ravel().view(">u8").astype(np.uint64)


def packed_rows(words: UInt64Array) -> UInt8Array:
    """Rows of words as packed rows."""
    return np.ascontiguousarray(words).byteswap().view(np.uint8)


def _numbers(words: UInt64Array, first: int, stride: int) -> Int64Array:
    """The numbers of the pixels that are set in rows of words."""
    row, column = np.nonzero(np.unpackbits(packed_rows(words), axis=1))
    numbers: Int64Array = first + row * stride + column
    return numbers


def _left(bits: UInt64Array, count: int) -> UInt64Array:
    """Every pixel takes the value ``count`` pixels after it."""
    whole, part = divmod(count, 64)
    size = bits.size - whole
    moved: UInt64Array = np.zeros_like(bits) if whole else np.empty_like(bits)
    np.left_shift(bits[whole:], np.uint64(part), out=moved[:size])
    if part:
        moved[: size - 1] |= bits[whole + 1 :] >> np.uint64(64 - part)
    return moved


def _right(bits: UInt64Array, count: int) -> UInt64Array:
    """Every pixel takes the value ``count`` pixels before it."""
    whole, part = divmod(count, 64)
    size = bits.size - whole
    moved: UInt64Array = np.zeros_like(bits) if whole else np.empty_like(bits)
    np.right_shift(bits[:size], np.uint64(part), out=moved[whole:])
    if part:
        moved[whole + 1 :] |= bits[: size - 1] << np.uint64(64 - part)
    return moved


def _spans(
    bits: UInt64Array,
    lengths: set[int],
    shift: Callable[[UInt64Array, int], UInt64Array],
    combine: Callable[[UInt64Array, UInt64Array], UInt64Array],
) -> dict[int, UInt64Array]:
    """``bits`` combined with its next length-1 shifts, for each length."""
    result: dict[int, UInt64Array] = {}
    done, reached = bits, 1
    for length in sorted(lengths):
        while reached < length:
            step = min(reached, length - reached)
            done = combine(done, shift(done, step))
            reached += step
        result[length] = done
    return result


def count_pixels(words: UInt64Array) -> int:
    """How many bits are set."""
    return int(np.bitwise_count(words).sum(dtype=np.int64))
