"""Mending stray bits: components that the mesh cannot hold, where few pixels put it right.

Where the edges of the art cut through dots, bits of dots and slivers of shadow dots are left. A
small component is taken away, grown around its middle until the mesh holds it, or joined to a sound
neighbor by a bridge, whichever changes the fewest pixels. Where a tone is to be kept, some of the
small components of a neighborhood are grown instead of taken away, or the other way round, until
what the neighborhood has won and lost differs by half a small component at most. Changes are made
from the smallest up until the allowance is used; what is left stays for the checks to report.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import field
from enum import IntEnum
from math import ceil, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Int64Array, distinct
from filmhand.mesh.bitmap.bridges import Bridges, NearbyPixels, find_bridges
from filmhand.mesh.bitmap.small_components import HeldComponents, PixelMarks, SmallComponents
from filmhand.values import dataclass

ReadBits = Callable[[int, int], BoolArray]
_BAND = 256
# Side in pixels of the squares in which the tone is kept; a divisor of the band.
_SQUARE = 128


@dataclass(slots=True)
class SpottedOut:
    """What was spotted out: counts, changed pixels, where (column, row), and the changed rows."""

    specks: int = 0
    pinholes: int = 0
    enlarged: int = 0
    joined: int = 0
    pixels: int = 0
    places: list[tuple[int, int]] = field(default_factory=list)
    rows: set[int] = field(default_factory=set)

    @property
    def count(self) -> int:
        """Number of places spotted out."""
        return self.specks + self.pinholes + self.enlarged + self.joined

    def add(self, other: SpottedOut) -> None:
        """Add the counts of another round."""
        self.specks += other.specks
        self.pinholes += other.pinholes
        self.enlarged += other.enlarged
        self.joined += other.joined
        self.pixels += other.pixels
        self.places += other.places
        self.rows |= other.rows


class _Way(IntEnum):
    LEAVE = 0
    TURN = 1
    GROW = 2
    JOIN = 3


@dataclass(slots=True)
class _Color:
    """The small components of one color and what is to be done with each."""

    components: SmallComponents
    ink: bool
    sound: HeldComponents
    only_turn: bool
    bridges: Bridges
    way: NDArray[np.int8]

    @classmethod
    def of(
        cls, components: SmallComponents, *, ink: bool, sound: HeldComponents, only_turn: bool
    ) -> _Color:
        count = components.area.size
        none = Bridges.none(count if sound.bridge and not only_turn else 0)
        return cls(components, ink, sound, only_turn, none, np.zeros(count, np.int8))

    @property
    def missing(self) -> Int64Array:
        return self.sound.pixels - self.components.area

    def least(self) -> Int64Array:
        """The fewest pixels that each small component takes, as far as bridges are known."""
        least = self.components.area
        if not self.only_turn:
            least = np.minimum(least, self.missing)
        return np.minimum(least, self.bridges.cost) if self.bridges.cost.size else least

    def choose(self, which: Int64Array) -> None:
        """Settle on the way that changes the fewest pixels."""
        area, missing = self.components.area[which], self.missing[which]
        grow = (missing < area) & (not self.only_turn)
        way = np.where(grow, _Way.GROW, _Way.TURN)
        if self.bridges.cost.size:
            bridge = self.bridges.cost[which]
            way[bridge < np.minimum(area, missing)] = _Way.JOIN
        self.way[which] = way

    def change(self, which: Int64Array) -> Int64Array:
        """Pixels of ink that turning (negative for dots) or growing brings."""
        turned, grown = -self.components.area[which], self.missing[which]
        change = np.where(self.way[which] == _Way.GROW, grown, turned)
        joined = self.way[which] == _Way.JOIN
        if joined.any():
            change[joined] = self.bridges.cost[which][joined]
        return change if self.ink else -change

    def other(self, which: Int64Array) -> tuple[Int64Array, Int64Array]:
        """Exchanging growing for turning: how much ink that adds, and what it costs more."""
        size, twice = self.sound.pixels, 2 * self.components.area[which]
        grows = self.way[which] == _Way.GROW
        adds = np.where(grows, -size, size)
        adds[self.way[which] == _Way.JOIN] = 0
        return adds if self.ink else -adds, np.where(grows, twice - size, size - twice)


def spot_out(
    read: ReadBits,
    write: Callable[[int, BoolArray], None],
    size: tuple[int, int],
    *,
    dots: SmallComponents,
    shadow_dots: SmallComponents,
    dot: HeldComponents,
    shadow_dot: HeldComponents,
    allowance: int,
    barred: ReadBits | None = None,
    keep_tone: bool = False,
    only_turn: bool = False,
) -> SpottedOut:
    """Mend what the allowance covers, the least change first.

    Parameters
    ----------
    read, write : rows a .. b of the area as (b - a, width) bool, True = ink; and back from row a
    size : (width, height) of the area
    dots, shadow_dots : the components that are too small
    dot, shadow_dot : what the mesh holds
    allowance : pixels that may change
    barred : rows a .. b as bool, True where nothing may be inked
    keep_tone : balance what is won and lost in every neighborhood
    only_turn : take away and fill only, which never leaves a new small component
    """
    done = SpottedOut()
    colors = [
        _Color.of(dots, ink=True, sound=dot, only_turn=only_turn),
        _Color.of(shadow_dots, ink=False, sound=shadow_dot, only_turn=only_turn),
    ]
    reach = ceil(sqrt(2 * max(dot.pixels, shadow_dot.pixels) / pi)) + 2
    bands = _Bands(read, size, reach, barred, done)
    least = np.concatenate([color.least() for color in colors])
    scarce = int(least.sum()) > allowance
    if scarce:
        # Which are the least changes is not known before all bridges are.
        everything = [np.ones(color.components.area.size, np.bool_) for color in colors]
        for band, here in bands.over(colors, everything):
            for color, which in here:
                band.look_for_bridges(color, which)
        least = np.concatenate([color.least() for color in colors])
    order = np.argsort(least, kind="stable")
    wanted = np.zeros(least.size, np.bool_)
    wanted[order[np.cumsum(least[order]) <= allowance]] = True
    spare = allowance - int(least[wanted].sum())
    chosen = [wanted[: dots.area.size], wanted[dots.area.size :]]
    for band, here in bands.over(colors, chosen):
        promised = sum(int(color.least()[which].sum()) for color, which in here)
        for color, which in here:
            if not scarce:
                band.look_for_bridges(color, which)
            color.choose(which)
            promised -= int(color.least()[which].sum())
        band.spare = spare + promised
        if keep_tone and not only_turn:
            band.balance(here)
        for color, which in here:
            band.mend(color, which)
        for top, rows in band.changed():
            write(top, rows)
        spare = band.spare
    return done


# Some of the small components of each color.
_Here = list[tuple[_Color, Int64Array]]


@dataclass(frozen=True, slots=True)
class _Bands:
    """Cuts the area into bands of rows, with enough around them to mend what begins in them."""

    read: ReadBits
    size: tuple[int, int]
    reach: int
    barred: ReadBits | None
    done: SpottedOut
    marks: PixelMarks = field(default_factory=PixelMarks)

    def over(self, colors: list[_Color], wanted: list[BoolArray]) -> Iterator[tuple[_Band, _Here]]:
        """Each band that has wanted small components, and which these are by color."""
        for first in range(0, self.size[1], _BAND):
            here = [
                (color, np.flatnonzero(some & (color.components.top // _BAND == first // _BAND)))
                for color, some in zip(colors, wanted, strict=True)
            ]
            ends = [
                int(color.components.bottom[which].max()) for color, which in here if which.size
            ]
            if not ends:
                continue
            top = max(0, first - self.reach)
            bottom = min(self.size[1], max(*ends, first + _BAND) + self.reach)
            bits = np.ascontiguousarray(self.read(top, bottom))
            barred = self.barred(top, bottom) if self.barred else None
            yield _Band(bits, top, self.reach, barred, self.done, self.marks), here


@dataclass(slots=True)
class _Band:
    """Some rows of the area, contiguous, so that they can be changed through a flat view."""

    bits: BoolArray
    top: int
    reach: int
    barred: BoolArray | None
    done: SpottedOut
    marks: PixelMarks
    spare: int = 0  # pixels of the allowance that no small component has been promised
    first: int = 1 << 40  # the rows that were changed, first .. stop-1
    stop: int = 0

    def changed(self) -> Iterator[tuple[int, BoolArray]]:
        """The rows of the band that were changed, if any, with what lies between them."""
        if self.stop:
            yield self.top + self.first, self.bits[self.first : self.stop]

    def look_for_bridges(self, color: _Color, which: Int64Array) -> None:
        """Find the cheapest bridges of some small components that a bridge may be cheaper for."""
        bridges, components = color.bridges, color.components
        if not bridges.cost.size:
            return
        assert color.sound.bridge is not None
        # No bridge changes fewer than two pixels, unless it is a single one.
        fewest = min(2, *color.sound.bridge)
        which = which[np.minimum(components.area[which], color.missing[which]) > fewest]
        if not which.size:
            return
        whose, row, column = components.pixels_of(which)
        barred = self.barred if color.ink else None
        with self.marks.on(self.bits.shape, self._small(components)) as small:
            found = find_bridges(
                NearbyPixels(
                    self.bits, small, barred, self.reach, color.sound.bridge, ink=color.ink
                ),
                components.row[which] - self.top,
                components.column[which],
                (whose, row - self.top, column),
            )
        bridges.cost[which], bridges.column[which] = found.cost, found.column
        bridges.row[which] = found.row + self.top

    def _small(self, components: SmallComponents) -> Int64Array:
        """Places of the pixels of all small components of a color, in the flat band."""
        height, width = self.bits.shape
        near = np.flatnonzero((components.bottom > self.top) & (components.top < self.top + height))
        _, row, column = components.pixels_of(near)
        inside = (row >= self.top) & (row < self.top + height)
        places: Int64Array = (row[inside] - self.top) * width + column[inside]
        return places

    def balance(self, here: _Here) -> None:
        """Grow some instead of turning them, or the reverse, until squares keep their ink.

        A square's balance moves by the size of a whole small component with each exchange, so half
        of that can remain.
        """
        squares = self.bits.shape[1] // _SQUARE + 1
        place = [
            color.components.top[which] // _SQUARE * squares
            + color.components.column[which] // _SQUARE
            for color, which in here
        ]
        square = np.unique(np.concatenate(place), return_inverse=True)[1]
        change = np.concatenate([color.change(which) for color, which in here])
        won = np.bincount(square, change).astype(np.int64)
        size = max(1, round(sum(color.sound.pixels for color, _ in here) / 2))
        needed = (np.abs(won) + size // 2) // size
        if not needed.any():
            return
        other = [color.other(which) for color, which in here]
        adds = np.concatenate([adds for adds, _ in other])
        dearer = np.concatenate([cost for _, cost in other])
        helps = np.flatnonzero(adds * won[square] < 0)
        helps = helps[np.lexsort((dearer[helps], square[helps]))]
        rank = np.arange(helps.size) - np.searchsorted(square[helps], square[helps])
        helps = helps[rank < needed[square[helps]]]
        helps = helps[np.argsort(dearer[helps], kind="stable")]
        cost = np.cumsum(dearer[helps])
        helps = helps[cost <= self.spare]
        if not helps.size:
            return
        self.spare -= int(cost[helps.size - 1])
        exchange = np.zeros(square.size, np.bool_)
        exchange[helps] = True
        parts = np.split(exchange, [here[0][1].size])
        for (color, which), part in zip(here, parts, strict=True):
            way = color.way[which[part]]
            color.way[which[part]] = np.where(way == _Way.GROW, _Way.TURN, _Way.GROW)

    def mend(self, color: _Color, which: Int64Array) -> None:
        """Do with some small components of a color what was chosen."""
        components, done = color.components, self.done
        way = color.way[which]
        growing = which[way == _Way.GROW]
        able = self._grow(color, growing)
        grown, unable = growing[able], growing[~able]
        # What cannot grow is taken away instead, as far as the allowance covers the difference.
        dearer = np.cumsum((components.area[unable] - color.missing[unable]).clip(0))
        covered = dearer <= self.spare
        if covered.any():
            self.spare -= int(dearer[covered][-1])
        joining = which[way == _Way.JOIN]
        joined = joining[self._join(color, joining)]
        rest = np.sort(np.concatenate([which[way == _Way.TURN], unable[covered]]))
        turned = rest[self._turn(color, rest)]
        done.enlarged += grown.size
        done.joined += joined.size
        done.specks += turned.size if color.ink else 0
        done.pinholes += 0 if color.ink else turned.size
        mended = np.concatenate([grown, joined, turned])
        done.places += list(
            zip(components.column[mended].tolist(), components.row[mended].tolist(), strict=True)
        )

    def _turn(self, color: _Color, which: Int64Array) -> BoolArray:
        """Exchange their color, unless that inks a barred pixel; True for those done."""
        component, row, column = color.components.pixels_of(which)
        pixels = (row - self.top) * self.bits.shape[1] + column
        able = np.ones(which.size, np.bool_)
        if not color.ink and self.barred is not None:
            able[component[self.barred.ravel()[pixels]]] = False
        self._put(pixels[able[component]], not color.ink)
        return able

    def _join(self, color: _Color, which: Int64Array) -> BoolArray:
        """Build bridges, unless the changes made meanwhile make one dearer; True for those done."""
        if not which.size:
            return np.empty(0, np.bool_)
        assert color.sound.bridge is not None
        across, down = color.sound.bridge
        width = self.bits.shape[1]
        corner = (color.bridges.row[which] - self.top) * width + color.bridges.column[which]
        block = (np.arange(down)[:, None] * width + np.arange(across)).ravel()
        places = corner[:, None] + block
        costs = (self.bits.ravel()[places] != color.ink).sum(axis=1)
        able: BoolArray = costs <= color.bridges.cost[which]
        pixels = distinct(places[able])
        self._put(pixels[self.bits.ravel()[pixels] != color.ink], color.ink)
        return able

    def _put(self, pixels: Int64Array, ink: bool) -> None:
        self.bits.ravel()[pixels] = ink
        self.done.pixels += pixels.size
        rows = distinct(pixels // self.bits.shape[1])
        self.done.rows.update((rows + self.top).tolist())
        if rows.size:
            self.first = min(self.first, int(rows[0]))
            self.stop = max(self.stop, int(rows[-1]) + 1)

    def _grow(self, color: _Color, which: Int64Array) -> BoolArray:
        """Grow components by the free pixels next to their middles; True for those that could."""
        if not which.size:
            return np.empty(0, np.bool_)
        components, ink = color.components, color.ink
        missing = color.missing[which]
        height, width = self.bits.shape
        row, column = components.row[which] - self.top, components.column[which]
        # A crooked small component need not hold its own middle; growing there would make another
        # small component.
        whole = self.bits[row, column] == ink
        down, across = _from_the_middle(self.reach)
        y, x = row[:, None] + down, column[:, None] + across
        places = y.clip(0, height - 1) * width + x.clip(0, width - 1)
        takes = (y >= 0) & (y < height) & (x >= 0) & (x < width)
        takes &= self.bits.ravel()[places] != ink
        if ink and self.barred is not None:
            takes &= ~self.barred.ravel()[places]
        so_far = np.cumsum(takes, axis=1)
        able: BoolArray = whole & (so_far[:, -1] >= missing)
        takes &= (so_far <= missing[:, None]) & able[:, None]
        self._put(distinct(places[takes]), ink)
        return able


def _from_the_middle(reach: int) -> tuple[Int64Array, Int64Array]:
    """Offsets (down, across) of all pixels within ``reach``, nearest first."""
    down, across = (axis.ravel() for axis in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    distance = down * down + across * across
    order = np.argsort(distance, kind="stable")
    order = order[distance[order] <= reach * reach]
    return down[order], across[order]
