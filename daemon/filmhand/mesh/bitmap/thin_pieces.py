"""Single strokes and gaps that an opening takes away, each measured by itself.

A share of the ink says nothing of one hairline beside a large solid, so the pieces that an opening
takes are told apart here: pixels that touch, be it at a corner, are one piece. Strips are joined
along their seams and only sums are kept of each piece, so memory follows the strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, ceil, hypot, pi

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, Int64Array
from filmhand.mesh.bitmap.labeling import joined_sets, label_strip
from filmhand.mesh.bitmap.strokes import InkShape, ThinPiece, ThinPieces
from filmhand.mesh.bitmap.worst_places import disc_over
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# In widths of the limit: what is shorter is a dot and no stroke, and of a point that tapers so much
# is not missed.
_SHORTEST, _LONGEST_POINT = 2.0, 15.0
# A point holds most of its area at one end: a triangle's skewness along its height is 0.57
# (2 sqrt(2) / 5), a bar's is 0. Half of that parts them. How straight it must be is in limits.
_SKEWED, _STRAIGHT = 0.28, 0.5
# Where pieces are only a pixel or two wide, so many are looked at with a disc twice as wide to tell
# whether they are points.
_MOST_LOOKED_AT = 200
# What is summed of each piece: pixels, those that touch what is left, starts of runs in four
# directions, and moments up to the third of the places, in limits.
_POWERS = ((1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3))
_STARTS, _MOMENTS = slice(2, 6), 6
_SUMS = _MOMENTS + len(_POWERS)


@dataclass(frozen=True, slots=True)
class PieceLengths:
    """How long pieces may be, in micrometers: a single one, and all of them together, or None."""

    single_um: float
    together_um: float | None

    @classmethod
    def of_line_art(cls, limit_um: float) -> PieceLengths:
        """Five limits, and a hundred in all."""
        return cls(5 * limit_um, 100 * limit_um)


def thin_pieces(shape: InkShape, limit_um: float, lengths: PieceLengths) -> ThinPieces | None:
    """The pieces at or under a limit that are too long; None where there are none.

    Parameters
    ----------
    shape : the ink, for strokes, or the bare film, for gaps
    limit_um : its opening is one with the narrowest disc of whole pixels that is wider
    lengths : pieces over ``single_um`` count; where none is, those that stand alone, of two limits
        and more, if together they are over ``together_um``

    Notes
    -----
    Points and corners do not count: what lies within one disc of what the opening leaves is
    forgiven, and a straight piece that tapers to one end is passed over up to fifteen limits.
    """
    long, alone = ThinPieces(limit_um), ThinPieces(limit_um)
    points = PointFinder(shape, limit_um)
    for found in PieceGatherer(shape, limit_um).pieces():
        alone.add([one.piece for one in found if not one.attached])
        long.add(
            [
                one.piece
                for one in found
                if one.piece.length_um > lengths.single_um and not points.is_point(one)
            ]
        )
    if long.count:
        return long
    if lengths.together_um is not None and alone.length_um > lengths.together_um:
        return alone
    return None


class PointFinder:
    """Tells points from strokes, as long as that does not take too long."""

    def __init__(self, shape: InkShape, limit_um: float) -> None:
        self._shape, self._limit_um = shape, limit_um
        self._looked_at = 0

    def is_point(self, found: FoundPiece) -> bool:
        """Whether a piece of up to fifteen limits is the tapering end of something wider."""
        if not found.attached or found.piece.length_um > _LONGEST_POINT * self._limit_um:
            return False
        if found.tapers:
            return True
        self._looked_at += 1
        return self._looked_at <= _MOST_LOOKED_AT and _goes_on_as_point(
            self._shape, found.piece, self._limit_um
        )


def _goes_on_as_point(shape: InkShape, piece: ThinPiece, limit_um: float) -> bool:
    """Whether a piece goes on, straight and tapering, where the limit is twice as wide."""
    wide_um = 2 * disc_over(limit_um, shape.resolution)
    # As wide a point is twice as long, and the piece's middle is on its thin half.
    reach_um = 1.6 * _LONGEST_POINT * limit_um
    across, down = (ceil(reach_um / side) for side in shape.resolution.pixel_um())
    near, left, top = shape.around((piece.x_px, piece.y_px), (across, down))
    taken = np.zeros((near.height, near.width), np.bool_)
    for part in near.parts:
        taken[np.divmod(near.pieces(wide_um, part)[0], near.stride)] = True
    place = (piece.y_px - top, piece.x_px - left)
    if not taken[place]:
        return False
    rows, columns = np.nonzero(_connected(taken, place))
    x, y = (
        pixels.astype(np.float64) * (side / limit_um)
        for pixels, side in zip((columns, rows), shape.resolution.pixel_um(), strict=True)
    )
    sums = np.array([[rows.size, *(moment.sum() for moment in _moments(x, y))]])
    return bool(_Form.of(sums).tapers(straight=2 * _STRAIGHT)[0])


def _connected(taken: BoolArray, place: tuple[int, int]) -> BoolArray:
    """What hangs together with a place, be it at corners."""
    # Pixels that touch at a corner touch edge to edge once each is grown by one.
    grown = taken.copy()
    grown[1:] |= taken[:-1]
    grown[:, 1:] |= grown[:, :-1].copy()
    labeled = label_strip(grown, None)
    which = np.searchsorted(labeled.bounds, place[0] * taken.shape[1] + place[1], side="right") - 1
    mine = labeled.owner == labeled.owner[which]
    connected: BoolArray = np.repeat(mine, np.diff(labeled.bounds)).reshape(taken.shape)
    return connected & taken


@dataclass(frozen=True, slots=True)
class FoundPiece:
    """A piece as it was found, with what tells it from points and dots.

    Attributes
    ----------
    piece : where, how long and how wide it is
    attached : whether it hangs on something wider
    tapers : whether it is straight and has most of its area at one end
    x, y, angle : its middle in limits, and its axis in radians, downward from the row
    """

    piece: ThinPiece
    attached: bool
    tapers: bool
    x: float
    y: float
    angle: float


class PieceGatherer:
    """Goes through the strips of a shape and gives the pieces that have come to an end."""

    def __init__(self, shape: InkShape, limit_um: float, *, shortest: float = _SHORTEST) -> None:
        self._shape, self._limit_um, self._shortest = shape, limit_um, shortest
        self._disc_um = disc_over(limit_um, shape.resolution)
        # Keys of pixels: the shape's numbers.
        self._row = shape.stride
        # The last row so far: its pixels, and whose they are of those that are open.
        self._last, self._owner = np.empty(0, np.int64), np.empty(0, np.int32)
        self._sums = np.empty((0, _SUMS))
        self._place = np.empty((0, 2), np.int64)  # (pixels there, key of one on it)

    def pieces(self) -> Iterator[list[FoundPiece]]:
        """The pieces from so many limits on, some at a time."""
        tops = sorted({top for top, _ in self._shape.parts})
        for number, top in enumerate(tops):
            keys, touching = self._taken(top)
            if keys.size or self._last.size:
                stop = tops[number + 1] if number + 1 < len(tops) else self._shape.height
                yield self._add(keys, touching, stop - 1)
        yield self._finished(np.ones(len(self._sums), np.bool_))

    def _taken(self, top: int) -> tuple[Int64Array, Int64Array]:
        """Keys, in order, of the pixels taken of a strip, and of those that touch what is left."""
        parts = [
            self._shape.pieces(self._disc_um, part) for part in self._shape.parts if part[0] == top
        ]
        every, touching = (np.sort(np.concatenate(keys)) for keys in zip(*parts, strict=True))
        return every, touching

    def _add(self, keys: Int64Array, touching: Int64Array, last_row: int) -> list[FoundPiece]:
        """Join a strip's pixels to what is open, and give what is not open any more."""
        opened = len(self._sums)
        every = np.concatenate([self._last, keys])
        run = np.cumsum(np.diff(every, prepend=-2) != 1) - 1
        first = np.flatnonzero(np.diff(run, prepend=-1))
        begin = every[first]
        end = every[np.append(first[1:], every.size) - 1]
        # Runs of the next row that touch, be it at a corner, follow one another.
        lowest = np.searchsorted(end, begin + self._row - 1)
        highest = np.searchsorted(begin, end + self._row + 1, side="right")
        below = np.maximum(highest - lowest, 0)
        upper = np.repeat(np.arange(begin.size), below)
        offset = np.arange(upper.size) - np.repeat(np.cumsum(below) - below, below)
        lower = np.repeat(lowest, below) + offset
        # Open pieces first, then the runs.
        one = np.concatenate([self._owner, upper.astype(np.int32) + np.int32(opened)])
        other = np.concatenate([run[: self._last.size], lower]).astype(np.int32) + np.int32(opened)
        root = joined_sets(opened + begin.size, one, other)
        number = (np.cumsum(root == np.arange(root.size)) - 1)[root]
        count = int(number.max()) + 1 if number.size else 0
        owner = number[opened:][run]
        new = owner[self._last.size :]
        sums = self._sums_of(every, keys, new, count)
        sums[:, 1] = np.bincount(new[np.searchsorted(keys, touching)], minlength=count)
        np.add.at(sums, number[:opened], self._sums)
        self._place = self._places(number[:opened], keys, new, count)
        self._sums = sums
        in_last = every >= last_row * self._row
        is_open = np.zeros(count, np.bool_)
        is_open[owner[in_last]] = True
        done = self._finished(~is_open)
        renumber = np.cumsum(is_open, dtype=np.int32) - 1
        self._last, self._owner = every[in_last], renumber[owner[in_last]]
        self._sums, self._place = sums[is_open], self._place[is_open]
        return done

    def _sums_of(
        self, every: Int64Array, keys: Int64Array, owner: Int64Array, count: int
    ) -> Float64Array:
        """Pixels, starts of runs and moments of a strip's pixels, by piece."""
        sums = np.empty((count, _SUMS))
        sums[:, 0] = np.bincount(owner, minlength=count)
        for column, back in enumerate((1, self._row, self._row + 1, self._row - 1), _STARTS.start):
            before = every[np.searchsorted(every, keys - back).clip(max=every.size - 1)]
            sums[:, column] = np.bincount(owner[before != keys - back], minlength=count)
        row, column_of = np.divmod(keys, self._row)
        width, height = self._shape.resolution.pixel_um()
        moments = _moments(column_of * (width / self._limit_um), row * (height / self._limit_um))
        for column, moment in enumerate(moments, _MOMENTS):
            sums[:, column] = np.bincount(owner, moment, minlength=count)
        return sums

    def _places(
        self, before: Int64Array, keys: Int64Array, owner: Int64Array, count: int
    ) -> Int64Array:
        """The pixel nearest to the middle of each piece, in the strip where it has the most."""
        counts = np.bincount(owner, minlength=count)
        row, column = np.divmod(keys, self._row)
        apart = np.zeros(keys.size)
        for pixels, side in zip((column, row), self._shape.resolution.pixel_um(), strict=True):
            middle = np.bincount(owner, pixels, minlength=count) / np.maximum(counts, 1)
            apart += ((pixels - middle[owner]) * side) ** 2
        order = np.lexsort((apart, owner))
        here = counts > 0
        first = (np.cumsum(counts) - counts)[here]
        place = np.zeros((count, 2), np.int64)
        place[here] = np.stack([counts[here], keys[order[first]]], axis=1)
        for piece, old in zip(before, self._place, strict=True):
            if old[0] > place[piece, 0]:
                place[piece] = old
        return place

    def _finished(self, which: BoolArray) -> list[FoundPiece]:
        length = _length_um(self._sums[which][:, _STARTS], self._shape.resolution)
        wanted = length > self._shortest * self._limit_um
        length, sums = length[wanted], self._sums[which][wanted]
        form = _Form.of(sums[:, [0, *range(_MOMENTS, _SUMS)]])
        pixel_um2 = float(np.prod(self._shape.resolution.pixel_um()))
        # It was measured in whole pixels: no disc over the limit fits in.
        width = np.minimum(self._limit_um, sums[:, 0] * pixel_um2 / length)
        tapers = form.tapers(straight=_STRAIGHT)
        found = []
        for one, (_, key) in enumerate(self._place[which][wanted]):
            y, x = divmod(int(key), self._row)
            place = (x - self._shape.skip, y, float(length[one]), float(width[one]))
            where = (float(form.x[one]), float(form.y[one]), float(form.angle[one]))
            attached = bool(sums[one, 1] > 0)
            found.append(FoundPiece(ThinPiece(*place), attached, bool(tapers[one]), *where))
        return found


def _length_um(starts: Float64Array, resolution: PixelsPerInch) -> Float64Array:
    """The length of thin pieces from the runs that they have along rows, columns and diagonals.

    Each run is where a line of the grid crosses the piece. The mean over directions of how often
    parallel lines cross a curve tells its length (Cauchy and Crofton; L. A. Santaló, Integral
    Geometry and Geometric Probability, Addison-Wesley, 1976); with four directions to within 5 %.
    A straight piece is as long as its crossings along rows and columns say (Pythagoras).
    """
    width, height = resolution.pixel_um()
    diagonal, angle = width * height / hypot(width, height), atan2(height, width)
    apart = np.array([height, width, diagonal, diagonal])
    share = np.array([angle / pi, 0.5 - angle / pi, 0.25, 0.25])
    curve = pi / 2 * (starts * apart * share).sum(axis=1)
    straight = np.hypot(starts[:, 0] * height, starts[:, 1] * width)
    longer: Float64Array = np.maximum(curve, straight)
    return longer


def _moments(x: Float64Array, y: Float64Array) -> Iterator[Float64Array]:
    return (x**power_x * y**power_y for power_x, power_y in _POWERS)


@dataclass(frozen=True, slots=True)
class _Form:
    """How pieces lie: the middle and axis of each, its spread beside the axis and its skewness."""

    x: Float64Array
    y: Float64Array
    angle: Float64Array
    beside: Float64Array
    skewness: Float64Array

    @classmethod
    def of(cls, sums: Float64Array) -> _Form:
        """From the pixels and moments of each, (n, 10)."""
        pixels, x, y, xx, xy, yy, xxx, xxy, xyy, yyy = sums.T
        x, y, xx, xy, yy = x / pixels, y / pixels, xx / pixels, xy / pixels, yy / pixels
        xxx, xxy, xyy, yyy = xxx / pixels, xxy / pixels, xyy / pixels, yyy / pixels
        across, both, down = xx - x * x, xy - x * y, yy - y * y
        angle = 0.5 * np.arctan2(2 * both, across - down)
        c, s = np.cos(angle), np.sin(angle)
        along = c * c * across + 2 * c * s * both + s * s * down
        third = (
            c**3 * (xxx - 3 * x * xx + 2 * x**3)
            + 3 * c * c * s * (xxy - 2 * x * xy - y * xx + 2 * x * x * y)
            + 3 * c * s * s * (xyy - 2 * y * xy - x * yy + 2 * x * y * y)
            + s**3 * (yyy - 3 * y * yy + 2 * y**3)
        )
        return cls(x, y, angle, across + down - along, third / np.maximum(along, 1e-9) ** 1.5)

    def tapers(self, *, straight: float) -> BoolArray:
        """Whether each is straight, to so many limits, and has most of its area at one end."""
        tapering: BoolArray = (np.abs(self.skewness) > _SKEWED) & (self.beside < straight**2)
        return tapering
