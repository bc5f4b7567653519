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

from filmhand.arrays import Int32Array, UInt8Array, UInt64Array
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
        """The different lengths of its rows, rising, and for each row its first column and which
        of them it has.
        """
        lengths, which = np.unique([length for _, length in self.spans], return_inverse=True)
        rows = np.column_stack([[first for first, _ in self.spans], which])
        return lengths.astype(np.int32), rows.astype(np.int32)


@dataclass(frozen=True, slots=True)
class RowWindow:
    """A part of a strip with its surroundings: one long row of words, the first pixel highest.

    Beyond the area the shape is taken to go on, so that a shape cut by the border is not narrow
    because of the cut. What runs over the end of one row comes out at the beginning of the next,
    but no farther than the surroundings reach.

    Attributes
    ----------
    shape : 1 = of the shape
    inside : 1 = in the area
    row : words of a row
    core : rows and words of a row that are the part itself
    disc, steps : what opens it, and how far what survives reaches
    near : how far from ink gaps count
    """

    shape: UInt64Array
    inside: UInt64Array
    row: int
    core: tuple[slice, slice]
    disc: Disc
    steps: int
    near: int

    @classmethod
    def of(
        cls,
        rows: UInt8Array,
        area: tuple[int, int],
        *,
        before: int,
        after: int,
        columns: tuple[int, int],
        halo: int,
        disc: Disc,
        steps: int,
        near: int,
        ink: bool,
    ) -> RowWindow:
        """The window of some bytes (first, past the last) of the rows.

        ``area`` are the first column of the area and the column past its last. ``before`` and
        ``after`` of the ``halo`` rows around the strip lie beyond the area.
        """
        beside = (halo + 63) // 64
        row_bytes = (area[1] + 7) // 8
        left = columns[0]
        words = (columns[1] - left + 7) // 8
        row = words + 2 * beside
        inside = np.zeros((before + len(rows) + after, 8 * row), np.uint8)
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
        if not ink:
            np.invert(shape, out=shape)
        shape |= ~within
        core = (slice(halo, len(inside) - halo), slice(beside, beside + words))
        return cls(shape, within, row, core, disc, steps, near)

    def lost(self, *, enough: int = 0) -> tuple[UInt64Array, int]:
        """The part's pixels that vanish, (rows, words), and how many count.

        Where no more than ``enough`` vanish, that is all that is certain: some of those told may
        be forgiven yet.
        """
        counted = self.shape & self.inside
        if self.near:
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
        loops = compiled()
        if loops is None:
            return self._opened_by_numpy()
        lengths, rows = self.disc.rows
        swept = np.empty_like(self.shape)
        loops.disc_opening(self.shape, self.row, lengths, rows, swept)
        return swept

    def _opened_by_numpy(self) -> UInt64Array:
        spans = self.disc.spans
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
        """``kept`` grown within the shape, by one pixel at each step, corners every second time.

        ``kept`` may be changed.
        """
        loops = compiled()
        if loops is None:
            return self._forgiven_by_numpy(kept, counted, enough)
        rows, words = self.core
        part = (rows.start, rows.stop, words.start, words.stop)
        loops.spread_within(kept, self.shape, self.row, part, counted, self.steps, enough)
        return kept

    def _forgiven_by_numpy(
        self, kept: UInt64Array, counted: UInt64Array, enough: int
    ) -> UInt64Array:
        row = self.row
        for step in range(self.steps):
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
        side = 2 * self.near + 1
        done = _left(_spans(bits, {side}, _right, np.bitwise_or)[side], self.near)
        reached = 1
        while reached < side:
            step = min(reached, side - reached)
            further = done.copy()
            further[step * self.row :] |= done[: -step * self.row]
            done, reached = further, reached + step
        moved = np.zeros_like(done)
        up = self.near * self.row
        moved[: done.size - up] = done[up:]
        return moved


def _words(rows: UInt8Array) -> UInt64Array:
    """Packed rows as words, one row after the other."""
    return rows.ravel().view(">u8").astype(np.uint64)


def packed_rows(words: UInt64Array) -> UInt8Array:
    """Rows of words as packed rows."""
    return np.ascontiguousarray(words).byteswap().view(np.uint8)


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
