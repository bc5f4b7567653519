"""The narrowest strokes and gaps of line art, by openings with a disc.

The work is cut into parts with enough around them that the result does not depend on the cuts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from math import ceil, floor, inf

import numpy as np

from filmhand.arrays import Int64Array, UInt8Array
from filmhand.mesh.bitmap.disc_opening import Disc, PartOfStrip
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

ReadPackedRows = Callable[[int, int], UInt8Array]
# First row and first byte of a part of the area.
StrokePart = tuple[int, int]
# Rows of a part, and the most bytes of each; several arrays of that size fit into a processor's
# cache.
_STRIP, _BYTES = 512, 256
# One part of so many tells about how wide the answer is.
_SAMPLE = 8
# Of the longest thin pieces so many are kept to show where they are.
_MOST_KEPT = 64


@dataclass(frozen=True, slots=True)
class ThinPiece:
    """One stroke or gap: a pixel on it, how long it is, and how wide on average."""

    x_px: int
    y_px: int
    length_um: float
    width_um: float


@dataclass(slots=True)
class ThinPieces:
    """Strokes or gaps at or under a limit that are too long to be passed over.

    Attributes
    ----------
    limit_um : the limit
    count, length_um : how many, and how long together
    narrowest_um : the least width on average of one of them
    longest : the longest of them, the longest first
    """

    limit_um: float
    count: int = 0
    length_um: float = 0.0
    narrowest_um: float = inf
    longest: list[ThinPiece] = field(default_factory=list)

    def add(self, pieces: list[ThinPiece]) -> None:
        """Count some more."""
        self.count += len(pieces)
        self.length_um += sum(piece.length_um for piece in pieces)
        self.narrowest_um = min([self.narrowest_um, *(piece.width_um for piece in pieces)])
        self.longest += pieces
        self.longest.sort(key=lambda piece: (-piece.length_um, piece.y_px, piece.x_px))
        del self.longest[_MOST_KEPT:]

    def record(self) -> dict[str, float]:
        """As records show it."""
        return {
            "count": self.count,
            "length_mm": round(self.length_um / 1000, 1),
            "narrowest_um": round(self.narrowest_um, 1),
        }


@dataclass(frozen=True, slots=True)
class Narrowness:
    """How narrow the shapes of one color are.

    Attributes
    ----------
    width_um : the widest disc under whose opening no more than the allowed share vanishes
    at_least : True where even the widest disc tried lost no more than that
    pieces : single ones at or under what the mesh holds, whatever their share; None without any
    """

    width_um: float
    at_least: bool
    pieces: ThinPieces | None = None

    @property
    def narrowest_um(self) -> float:
        """The width of the narrowest that counts, by its share or by its length."""
        return (
            self.width_um if self.pieces is None else min(self.width_um, self.pieces.narrowest_um)
        )


def narrowest(shape: InkShape, *, up_to_um: float, allowed: float = 0.005) -> Narrowness:
    """The narrowest stroke or gap of a bitmap.

    Parameters
    ----------
    shape : its ink, to measure strokes, or its bare film, to measure gaps
    up_to_um : the widest disc that is tried
    allowed : share of the ink (of the gap area near ink) that may vanish

    Notes
    -----
    A wider disc loses more. A sample of the area tells about how wide the answer is, so that on the
    whole area only the answer and the next width are tried, the latter no farther than needed.
    """
    pixel = max(shape.resolution.pixel_um())
    widest = max(1, ceil(up_to_um / pixel))
    parts = shape.parts
    some = parts[: len(parts) // _SAMPLE] or parts
    low, high = 0, widest + 1  # low loses little, high loses much
    while high - low > 1:
        middle = (low + high) // 2
        if shape.loses(middle * pixel, allowed, parts=some):
            high = middle
        else:
            low = middle
    if some is not parts:
        while low and shape.loses(low * pixel, allowed, parts=parts, expected=False):
            low, high = low - 1, low
        while high <= widest and not shape.loses(high * pixel, allowed, parts=parts):
            low, high = high, high + 1
    return Narrowness(low * pixel, low == widest)


class InkShape:
    """One color of a bitmap, opened with discs strip by strip.

    Parameters
    ----------
    read : gives rows a .. b of the area as packed bits, 1 = ink, MSB first
    size : (width, height) of the area in pixels
    ink : the shapes are strokes; otherwise gaps
    near_um : gaps count only within this distance of ink
    skip : pixels (0 .. 7) before the area in the first byte of every row
    """

    def __init__(
        self,
        read: ReadPackedRows,
        size: tuple[int, int],
        *,
        resolution: PixelsPerInch,
        ink: bool,
        near_um: float,
        skip: int = 0,
    ) -> None:
        self.read, self.ink, self.near_um = read, ink, near_um
        # From here on columns are counted from the first bit of a row.
        self.skip, self.width, self.height = skip, skip + size[0], size[1]
        self.resolution = resolution
        self._near = 0 if ink else max(1, floor(near_um / max(resolution.pixel_um())))
        self._lost: dict[tuple[float, StrokePart], int] = {}  # pixels lost, by disc
        self._rows: tuple[int, int, UInt8Array] | None = None
        row_bytes = (self.width + 7) // 8
        blocks = ceil(row_bytes / _BYTES)
        self._block = 8 * ceil(row_bytes / blocks / 8)
        every = [
            (top, left)
            for top in range(0, self.height, _STRIP)
            for left in range(0, row_bytes, self._block)
        ]
        # The first of them come from all over the area.
        self.parts = [part for _, part in sorted((_scattered(n), p) for n, p in enumerate(every))]
        self._most: dict[StrokePart, int] = {}  # the most pixels that can count

    def loses(
        self, disc_um: float, allowed: float, *, parts: list[StrokePart], expected: bool = True
    ) -> bool:
        """Whether more than this share vanishes under the opening.

        Parts are looked at in turn until the answer is certain. Where it is not ``expected`` to
        lose that much, a part is left as soon as it is known to lose less than half of it; only if
        all together that is not certain enough, those parts are looked at again.
        """
        if not self._most:
            self._look_through()
        lost = spared = 0
        most = sum(self._most[part] for part in parts)
        again: list[StrokePart] = []
        for part in parts:
            enough = 0 if expected else int(allowed * self._most[part] / 2)
            gone, more = self._loss(disc_um, part, enough)
            most += more
            if gone > enough or (disc_um, part) in self._lost:
                lost += gone
            else:
                spared += gone
                again.append(part)
            if lost > allowed * most:
                return True
        if lost + spared <= allowed * most:
            return False
        for part in again:
            lost += self._loss(disc_um, part, 0)[0]
            if lost > allowed * most:
                return True
        return False

    def _loss(self, disc_um: float, part: StrokePart, enough: int) -> tuple[int, int]:
        """Pixels that a part loses, and how many more count in it than was thought.

        Of a loss of no more than ``enough`` only that is certain, and it is not kept.
        """
        if (disc_um, part) in self._lost:
            return self._lost[disc_um, part], 0
        of_strip, rows = self._part(disc_um, part)
        gone, counted = of_strip.loss(rows, enough=enough)
        more = counted - self._most[part]
        self._most[part] = counted
        if gone > enough or not enough:
            self._lost[disc_um, part] = gone
        return gone, more

    def vanishing(self, disc_um: float, part: StrokePart) -> UInt8Array:
        """What the opening takes of a part: its rows as packed bits, (rows, bytes) uint8.

        The last bytes may lie beyond the area; nothing is set in them.
        """
        of_strip, rows = self._part(disc_um, part)
        return of_strip.lost(rows)

    @property
    def stride(self) -> int:
        """Numbers of pixels a row, so many that no neighbor of one lies beyond its end."""
        return self.width + 64

    def pieces(self, disc_um: float, part: StrokePart) -> tuple[Int64Array, Int64Array]:
        """What the opening takes of a part, near ink or not, and what of it touches what it leaves.

        Both are the numbers of pixels in order: ``stride`` times the row, and the column, counted
        from the first bit of a row.
        """
        of_strip, rows = self._part(disc_um, part)
        return of_strip.pieces(rows, part[0] * self.stride + 8 * part[1], self.stride)

    def around(self, place: tuple[int, int], reach: tuple[int, int]) -> tuple[InkShape, int, int]:
        """The shape about a pixel (column, row), as far as ``reach`` across and down.

        Returns
        -------
        (shape, column and row of its first pixel in this one)
        """
        column, row = place[0] + self.skip, place[1]
        first, last = max(0, column - reach[0]), min(self.width, column + reach[0] + 1)
        top, bottom = max(0, row - reach[1]), min(self.height, row + reach[1] + 1)
        first -= first % 8

        def rows(a: int, b: int) -> UInt8Array:
            return self.read(top + a, top + b)[:, first // 8 : (last + 7) // 8]

        skip = max(0, self.skip - first)
        near = InkShape(
            rows,
            (last - first - skip, bottom - top),
            resolution=self.resolution,
            ink=self.ink,
            near_um=self.near_um,
            skip=skip,
        )
        return near, first - self.skip, top

    def _look_through(self) -> None:
        """Count the shape's pixels in every part: no more than these can count."""
        blocks = range(0, (self.width + 7) // 8, self._block)
        for top in range(0, self.height, _STRIP):
            rows = self.read(top, min(self.height, top + _STRIP))
            for left in blocks:
                some = rows[:, left : left + self._block]
                ink = int(np.bitwise_count(some).sum(dtype=np.int64))
                self._most[top, left] = ink if self.ink else 8 * some.size - ink

    def _part(self, disc_um: float, part: StrokePart) -> tuple[PartOfStrip, UInt8Array]:
        """What is asked of a part, and its rows with those around it."""
        across, down = (max(1, round(disc_um / side)) for side in self.resolution.pixel_um())
        steps = max(across, down)
        top, left = part
        halo = 3 * steps + self._near + 2
        first, stop = top - halo, min(self.height, top + _STRIP) + halo
        of_strip = PartOfStrip(
            (self.skip, self.width),
            before=max(0, -first),
            after=max(0, stop - self.height),
            columns=(left, min(left + self._block, (self.width + 7) // 8)),
            halo=halo,
            disc=Disc.of(across, down),
            steps=steps,
            near=self._near,
            ink=self.ink,
        )
        return of_strip, self._read_rows(max(0, first), min(self.height, stop))

    def _read_rows(self, first: int, stop: int) -> UInt8Array:
        """The rows, which for the next part are often the same."""
        if self._rows is None or self._rows[:2] != (first, stop):
            self._rows = (first, stop, np.ascontiguousarray(self.read(first, stop)))
        return self._rows[2]


def _scattered(number: int) -> int:
    """A rank that spreads the first numbers over all of them, whatever period these have.

    Multiples of the golden section lie evenly on a circle, however many are taken (the
    three-distance theorem; from memory).
    """
    return number * 40503 % 65536
