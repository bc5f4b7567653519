"""Whose each device pixel is, of regions that share the pixels of art.

A pixel that art gives wholly to one region is that region's on film, corners and all. A pixel that
several share is divided by device pixels: shares are taken to change evenly from pixel to pixel, so
slanted edges come out straight, and are moved until each region gets the very part of the pixel
that it has. Where the film has fewer pixels than the art, a device pixel goes to whoever has most
of it.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from PIL import Image

from filmhand.arrays import BoolArray, Float32Array, Int32Array, Int64Array, UInt8Array, UInt16Array
from filmhand.art.raster import in_threads
from filmhand.kernels.loops import compiled
from filmhand.sheet.resample import Resampled
from filmhand.tone import FULL

# A share this near to all is taken for that: shares were rounded, and add up to a little less.
_WHOLE = FULL - FULL // 256
_FINE = 8  # places to a side at which the division of a pixel is tried
_ROUNDS = 8
_NEAR = FULL // (2 * _FINE)  # what a row of places more would not better
# Pixels that are divided at a time; each takes a few kilobytes meanwhile.
_AT_ONCE = 8192
_MOST_COMPILED = 17  # regions that the loop in C divides a pixel among


class RegionOwners(Protocol):
    """Gives rows of owners; several threads may ask."""

    def rows(self, first: int, count: int) -> UInt8Array:
        """(count, width) uint8, the place of the region whose each device pixel is.

        Where several have as much of one the first has it.
        """


def region_owners(areas: UInt16Array, to: tuple[int, int]) -> RegionOwners:
    """Whose each device pixel is.

    Parameters
    ----------
    areas : (n, H, W) uint16, the part of each pixel that each region has, 65535 for all of it;
        those of a pixel add up to that
    to : (width, height) that the art has on the film, in device pixels
    """
    height, width = areas.shape[1:]
    if to == (width, height):
        return _Same(areas)
    if to[0] >= width and to[1] >= height:
        return _Enlarged(areas, to)
    return _Reduced(areas, to)


class _Same:
    """A device pixel for each of the art."""

    def __init__(self, areas: UInt16Array) -> None:
        self._areas = areas

    def rows(self, first: int, count: int) -> UInt8Array:
        owners: UInt8Array = self._areas[:, first : first + count].argmax(axis=0).astype(np.uint8)
        return owners


class _Reduced:
    """Device pixels that are wider or higher than those of the art."""

    def __init__(self, areas: UInt16Array, to: tuple[int, int]) -> None:
        parts = np.arange(FULL + 1) / FULL
        method = Image.Resampling.BOX
        self._areas = [Resampled(area, parts, to, method=method) for area in areas]

    def rows(self, first: int, count: int) -> UInt8Array:
        most = self._areas[0].rows(first, count)
        owners = np.zeros(most.shape, np.uint8)
        for place, area in enumerate(self._areas[1:], 1):
            part = area.rows(first, count)
            more = part > most
            owners[more], most = place, np.maximum(most, part, out=most)
        return owners


class _Enlarged:
    """Several device pixels for each of the art.

    Most pixels of art are whole, so each refers to a row of a table: one row for each region, then
    one for each pixel that is shared.
    """

    def __init__(self, areas: UInt16Array, to: tuple[int, int]) -> None:
        self._to = to
        self._regions = len(areas)
        place = areas.argmax(axis=0).astype(np.int32)
        shared = np.take_along_axis(areas, place[None], axis=0)[0] < _WHOLE
        rows, columns = np.nonzero(shared)
        place[shared] = self._regions + np.arange(len(rows))
        self._place = place
        parts = areas[:, rows, columns].T
        whole = np.eye(self._regions, dtype=np.uint16) * np.uint16(FULL)
        self._table: UInt16Array = np.concatenate([whole, parts])
        self._move_edges(rows.astype(np.int32), columns.astype(np.int32))

    def rows(self, first: int, count: int) -> UInt8Array:
        height, width = self._place.shape
        down, across = _Position.of(height, self._to[1]), _Position.of(width, self._to[0])
        own = slice(first, first + count)
        nearest = self._place[down.nearest[own]][:, across.nearest]
        owners: UInt8Array = np.minimum(nearest, self._regions - 1).astype(np.uint8)
        y, x = np.nonzero(nearest >= self._regions)
        owners[y, x] = self._divided(y + first, x, down, across)
        return owners

    def _divided(
        self, y: Int64Array, x: Int64Array, down: _Position, across: _Position
    ) -> UInt8Array:
        """(m,) the owners of device pixels in pixels that are shared."""
        corners = [
            (self._place[rows, columns], high * wide)
            for rows, high in (
                (down.before[y], 1 - down.behind[y]),
                (down.after[y], down.behind[y]),
            )
            for columns, wide in (
                (across.before[x], 1 - across.behind[x]),
                (across.after[x], across.behind[x]),
            )
        ]
        owners = np.zeros(len(y), np.uint8)
        most = np.full(len(y), -1, np.float32)
        for region in range(self._regions):
            values = self._table[:, region]
            part = np.zeros(len(y), np.float32)
            for place, weight in corners:
                part += values[place] * weight
            more = part > most
            owners[more], most = region, np.maximum(most, part, out=most)
        return owners

    def _move_edges(self, rows: Int32Array, columns: Int32Array) -> None:
        """Change what pixels are taken to have, so that each is divided as it is shared."""
        taken = self._table[self._regions :]
        shares = taken.astype(np.int32)
        lacks = np.empty_like(shares)
        changed = np.zeros(self._place.shape, np.bool_)
        asked = np.arange(len(rows))
        for number in range(_ROUNDS):
            down, across, goals = rows[asked], columns[asked], shares[asked]
            found = np.empty_like(goals)

            def one(
                part: slice,
                found: Int32Array = found,
                pixels: tuple[Int32Array, ...] = (goals, down, across),
            ) -> None:
                found[part] = self._lacking(*(each[part] for each in pixels))

            in_threads(one, _parts(len(down)))
            lacks[asked] = found
            before = taken[asked]
            # Ever less of what lacks, as the edges of neighbors move, too.
            after = np.clip(before + found // (2 + number), 0, FULL).astype(np.uint16)
            taken[asked] = after
            changed[:] = False
            changed[down, across] = (after != before).any(axis=1)
            # What has all that it should, in surroundings that stay, would be found so again.
            asked = np.flatnonzero(lacks.any(axis=1) | _beside(changed, rows, columns))
            if not len(asked):
                return

    def _lacking(self, shares: Int32Array, rows: Int32Array, columns: Int32Array) -> Int32Array:
        """(m, n) how much less of some pixels regions get than they have of them.

        shares : (m, n) what they have
        """
        loops = compiled()
        if loops is None or self._regions > _MOST_COMPILED:
            return self._plainly_lacking(shares, rows, columns)
        lacks = np.empty_like(shares)
        loops.divide_pixels(
            self._place, self._place.shape[1], self._table, self._regions, _WHOLE, _NEAR,
            rows, columns, shares, lacks,
        )  # fmt: skip
        return lacks

    def _plainly_lacking(
        self, shares: Int32Array, rows: Int32Array, columns: Int32Array
    ) -> Int32Array:
        height, width = self._place.shape
        near = np.arange(-1, 2)
        down = np.clip(rows[:, None] + near, 0, height - 1)
        across = np.clip(columns[:, None] + near, 0, width - 1)
        around = self._table[self._place[down[:, :, None], across[:, None, :]]]
        goal = np.where(_in_company(around), shares, 0)
        total = goal.sum(axis=1, keepdims=True)
        found = _division(np.moveaxis(around, -1, 1).astype(np.float32))
        lacks: Int32Array = (goal - found * (total // _FINE**2)).astype(np.int32)
        lacks[(np.abs(lacks) <= _NEAR) | (goal == 0)] = 0
        return lacks


class _Position:
    """Where device pixels of one axis lie in the art.

    nearest : the pixel of the art that each lies in
    before, after : the pixels whose middles it lies between
    behind : (to,) float32, how far it is on its way from the one to the other, 0..1
    """

    __slots__ = ("after", "before", "behind", "nearest")

    def __init__(self, count: int, to: int) -> None:
        middle = (2 * np.arange(to) + 1) * count  # in parts of 2 * to
        self.nearest = middle // (2 * to)
        before, behind = np.divmod(middle - to, 2 * to)
        self.before, self.after = np.maximum(before, 0), np.minimum(before + 1, count - 1)
        self.behind: Float32Array = (behind / (2 * to)).astype(np.float32)

    @classmethod
    def of(cls, count: int, to: int) -> _Position:
        """Of so many pixels of art, and so many device pixels."""
        return cls(count, to)


def _beside(mask: BoolArray, rows: Int32Array, columns: Int32Array) -> BoolArray:
    """(m,) whether pixels, or any of the eight around them, are in a mask."""
    padded = np.pad(mask, 1)
    wide = padded[:-2] | padded[1:-1] | padded[2:]
    wide = wide[:, :-2] | wide[:, 1:-1] | wide[:, 2:]
    found: BoolArray = wide[rows, columns]
    return found


def _parts(count: int) -> list[slice]:
    return [slice(first, first + _AT_ONCE) for first in range(0, count, _AT_ONCE)]


def _in_company(around: UInt16Array) -> BoolArray:
    """(m, n) whether a region has a whole pixel or more of some two by two pixels.

    around : (m, 3, 3, n) what pixels and their neighbors have

    What compression leaves far from all edges is no part of a shape.
    """
    wide = around.astype(np.int32)
    pairs = wide[:, :-1] + wide[:, 1:]
    squares = pairs[:, :, :-1] + pairs[:, :, 1:]
    company: BoolArray = squares.max(axis=(1, 2)) >= _WHOLE
    return company


def _division(around: Float32Array) -> Int64Array:
    """(m, n) at how many of the fine places each region has most.

    around : (m, n, 3, 3) of whole numbers up to 65535, so that all sums are exact
    """
    places = 2 * np.arange(_FINE) + 1 - _FINE  # in parts of 2 * _FINE, from the middle
    weights = np.stack(
        [np.maximum(-places, 0), 2 * _FINE - np.abs(places), np.maximum(places, 0)]
    ).astype(np.float32)
    across = around @ weights
    parts = np.swapaxes(across, -1, -2) @ weights
    count, regions = around.shape[:2]
    owners = parts.argmax(axis=1).reshape(count, -1)
    key = owners + regions * np.arange(count)[:, None]
    found: Int64Array = np.bincount(key.ravel(), minlength=regions * count).reshape(count, regions)
    return found
