"""Drawings and pages that lie a little crooked: how far, and straightening them.

Rows of letters, rules and frames put many edges on few lines. Edges that run nearly across or down
are projected along every angle of some degrees; at the right one they fall together, and the sum
of squares of the counts is largest (the projection profile of W. Postl, US patent 4,723,297,
lapsed; energy in place of its difference of neighbors). A free drawing has no such angle.

The limits were set on pages and drawings turned on purpose (the tests hold them); they have no
other source.
"""

from __future__ import annotations

import numpy as np
from PIL import Image

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array
from filmhand.art.analysis.paper_estimate import reduced_light
from filmhand.art.files.gray import WHITE, Codes, codes_of_light
from filmhand.art.raster import closing, local_maximum, median_of, quantile_of, row_strips, smooth
from filmhand.speaking_pool import SpeakingPool
from filmhand.values import dataclass

Matrix = tuple[float, float, float, float, float, float]

SMALLEST, LARGEST = 0.2, 5.0  # degrees
_SIDE = 1000
_REACH = 6.5
_COARSE, _FINE = 0.25, 0.03
_NEARLY = 0.16  # slope against the axis of an edge that counts
_LEAST_CHANGE = 0.3  # of the strongest edges
_MOST_EDGES = 30_000
_EDGES_AT_ONCE = 50_000  # places along several angles
_LEAST_EDGES = 150
# Energy at the angle against the middle one, and lines that have to share it: a few that are
# sharp, such as a frame, or the many rows of a page.
_FEW, _MANY = (3.5, 3), (2.5, 12)
_LINE_LENGTH, _LIKE_LONGEST = 0.05, 0.3  # edges of a line, of the art's side and of the longest's
_APART = 24  # half pixels from one line to the next
_STRIP_PIXELS = 400_000
_MOST_CUT = 0.004  # share of the corners that may be ink


@dataclass(frozen=True, slots=True)
class Skew:
    """How crooked a drawing lies.

    Attributes
    ----------
    angle : degrees, positive where its rows rise to the right as a viewer sees them
    sharpness : how much better than at other angles its edges fall together there
    lines : how many lines of edges were found
    framed : whether some of them run across and some down
    """

    angle: float
    sharpness: float
    lines: int
    framed: bool


def find_skew(coded: Codes) -> Skew | None:
    """How far a drawing or page is turned, where that is certain and 0.2 to 5 degrees; or None.

    Looks at a copy of about a megapixel.

    coded : (H, W) uint16 sRGB-coded gray.
    """
    factor = max(1, -(-max(coded.shape) // _SIDE))
    if min(coded.shape) // factor < 64:
        return None
    found = measured(np.sqrt(reduced_light(coded, factor)))
    if found is None:
        return None
    # A few lines that run one way may be meant to slant: a leaning fence, a roof.
    enough = [_FEW, _MANY] if found.framed else [_MANY]
    if not any(found.sharpness >= sharp and found.lines >= lines for sharp, lines in enough):
        return None
    return found if SMALLEST <= abs(found.angle) <= LARGEST else None


def measured(small: Float32Array) -> Skew | None:
    """The best angle and how sure it is, whatever it is worth; None where there are no edges."""
    with SpeakingPool(2) as pool:
        across, down = pool.map(_edges, (small, small.T))
    if across is None and down is None:
        return None

    def energy(angles: Float64Array) -> Float64Array:
        total = np.zeros(len(angles))
        for edges, sign in ((across, -1), (down, 1)):
            if edges is not None:
                slopes = [sign * np.tan(np.radians(angle)) for angle in angles]
                total += edges.energies(np.array(slopes))
        return total

    angles = np.arange(-_REACH, _REACH + 1e-9, _COARSE)
    coarse = energy(angles)
    near = angles[int(np.argmax(coarse))]
    close = near + np.arange(-0.3, 0.3 + 1e-9, _FINE)
    fine = energy(close)
    best = float(close[int(np.argmax(fine))])
    found = [
        [] if edges is None else edges.lines(sign * np.tan(np.radians(best)))
        for edges, sign in ((across, -1), (down, 1))
    ]
    longest = max((length for side in found for length in side), default=0.0)
    rows, columns = (sum(length >= _LIKE_LONGEST * longest for length in side) for side in found)
    sharpness = float(fine.max() / median_of(coarse))
    return Skew(best, sharpness, rows + columns, framed=min(rows, columns) > 0)


@dataclass(frozen=True, slots=True)
class _Edges:
    """Edges that run nearly across: their places along and across, and which side is darker."""

    along: Float64Array
    place: Float64Array
    darker: BoolArray
    crest: BoolArray
    length: int
    weight: float

    def counts(self, slope: float) -> Float64Array:
        place = self.place - slope * self.along
        low = int(np.floor(place.min()))
        # Half a place to either side, so that a line between two rows counts as one.
        twice = np.rint((place - low) * 2).astype(np.int64) * 2 + self.darker
        size = (int(twice.max()) // 2 + 1) * 2
        counts = np.bincount(twice, minlength=size).astype(np.float64) * self.weight
        sides = [counts[side::2] for side in (0, 1)]
        return np.concatenate([s[:-1] + s[1:] for s in sides])

    def energies(self, slopes: Float64Array) -> Float64Array:
        """The sums of squares of the counts along some slopes, (n,).

        Of the crests alone: an edge that bends has few of them, and a straight one many.
        """
        at_once = max(1, _EDGES_AT_ONCE // max(1, int(self.crest.sum())))
        found = [
            self._energies(slopes[first : first + at_once])
            for first in range(0, len(slopes), at_once)
        ]
        return np.concatenate(found)

    def _energies(self, slopes: Float64Array) -> Float64Array:
        place = self.place[self.crest] - slopes[:, None] * self.along[self.crest]
        low = np.floor(place.min(axis=1, keepdims=True))
        twice = np.rint((place - low) * 2).astype(np.int64)
        last = twice.max(axis=1)
        length = int(last.max()) + 2
        side = 2 * np.arange(len(slopes))[:, None] + self.darker[self.crest]
        counts = np.bincount((side * length + twice).ravel(), minlength=2 * len(slopes) * length)
        counts = counts.reshape(-1, 2, length)
        # As of each slope alone, whose last count has no other behind it. These are whole numbers,
        # so their sums are exact.
        squares = ((counts[..., :-1] + counts[..., 1:]) ** 2).sum(axis=(1, 2))
        squares -= (counts[np.arange(len(slopes)), :, last] ** 2).sum(axis=1)
        found: Float64Array = squares * self.weight**2
        return found

    def lines(self, slope: float) -> list[float]:
        """Edges on each line that stands apart from the next, both sides of it together."""
        sides = self.counts(slope)
        half = len(sides) // 2
        both = np.convolve(sides[:half] + sides[half:], np.ones(4), "same") / 2
        found = []
        while both.size and both.max() >= _LINE_LENGTH * self.length:
            at = int(np.argmax(both))
            found.append(float(both[at]))
            both[max(0, at - _APART) : at + _APART + 1] = 0
        return found


def _edges(small: Float32Array) -> _Edges | None:
    soft = smooth(small)
    down = soft[2:, 1:-1] - soft[:-2, 1:-1]
    across = soft[1:-1, 2:] - soft[1:-1, :-2]
    size = np.abs(down)
    strongest = quantile_of(size, 0.995)
    if strongest < 0.02:
        return None
    kept = (size > _LEAST_CHANGE * strongest) & (np.abs(across) < _NEARLY * size)
    # One pixel a place and edge: where the change is steepest from above to below.
    kept[1:] &= size[1:] >= size[:-1]
    kept[:-1] &= size[:-1] > size[1:]
    crest = kept & (size >= local_maximum(size, 3))
    rows, columns = np.nonzero(kept)
    if crest.sum() < _LEAST_EDGES:
        return None
    step = -(-rows.size // _MOST_EDGES)
    rows, columns = rows[::step], columns[::step]
    return _Edges(
        columns.astype(np.float64),
        rows + _between(size, rows, columns),
        down[rows, columns] > 0,
        crest[rows, columns],
        small.shape[1],
        float(step),
    )


def _between(size: Float32Array, rows: Int64Array, columns: Int64Array) -> Float64Array:
    """How far from the middle of its row each edge is steepest, by a parabola: -0.5 to 0.5."""
    above = size[np.maximum(rows - 1, 0), columns].astype(np.float64)
    here = size[rows, columns].astype(np.float64)
    below = size[np.minimum(rows + 1, len(size) - 1), columns].astype(np.float64)
    bend = np.minimum(above + below - 2 * here, -1e-6)
    return (0.5 * (above - below) / bend).clip(-0.5, 0.5)


def straightened(coded: Codes, angle: float) -> Codes | None:
    """The art turned back by ``angle``, at its own size; None where ink would be cut off.

    The corners that open become the paper beside them.

    coded : (H, W) uint16, left alone -> (H, W) uint16
    angle : degrees, as :class:`Skew` gives it
    """
    height, width = coded.shape
    matrix = _matrix(coded.shape, angle)
    factor = max(1, -(-max(coded.shape) // _SIDE))
    small = np.sqrt(reduced_light(coded, factor))
    paper = closing(smooth(small), max(5, max(small.shape) // 20))
    if _cuts_ink(small, paper, angle):
        return None
    out = np.empty_like(coded)
    reach = int(abs(matrix[3]) * width) + 4
    for rows in row_strips(coded.shape, _STRIP_PIXELS, least=16):
        top, bottom = rows.start, rows.stop
        middle = [matrix[4] * y + matrix[5] for y in (top, bottom)]
        low = max(0, min(height - 1, int(min(middle)) - reach))
        high = min(height, max(low + 1, int(max(middle)) + reach))
        source = Image.fromarray(coded[low:high].astype(np.float32))
        a, b, c, d, e, f = matrix
        moved = (a, b, c + b * top, d, e, f + e * top - low)
        turned = source.transform(
            (width, bottom - top), Image.Transform.AFFINE, moved, Image.Resampling.BICUBIC,
            fillcolor=-WHITE,
        )  # fmt: skip
        strip = np.asarray(turned)
        beyond = _beyond(matrix, top, bottom, (height, width))
        result = np.clip(np.rint(strip), 0, WHITE).astype(np.uint16)
        if beyond.any():
            result[beyond] = _paper_at(paper, beyond, top, matrix, factor)
        out[rows] = result
    return out


def _matrix(shape: tuple[int, int], angle: float) -> Matrix:
    """From a place of the result to its source: x' = a x + b y + c, y' = d x + e y + f."""
    turn = np.radians(angle)
    cos, sin = float(np.cos(turn)), float(np.sin(turn))
    x, y = shape[1] / 2, shape[0] / 2
    # A row of the source runs along (cos, -sin) where it rises to the right.
    return cos, sin, x - cos * x - sin * y, -sin, cos, y + sin * x - cos * y


def _sources(
    matrix: Matrix, top: int, bottom: int, width: int
) -> tuple[Float32Array, Float32Array]:
    """(rows, columns) of the source at the middle of each pixel of some rows of the result."""
    x = np.arange(width, dtype=np.float32) + np.float32(0.5)
    y = np.arange(top, bottom, dtype=np.float32)[:, None] + np.float32(0.5)
    a, b, c, d, e, f = (np.float32(value) for value in matrix)
    return d * x + e * y + f, a * x + b * y + c


def _beyond(matrix: Matrix, top: int, bottom: int, shape: tuple[int, int]) -> BoolArray:
    """Pixels of the result whose source lies outside, or so near its edge that none is known."""
    rows, columns = _sources(matrix, top, bottom, shape[1])
    beyond: BoolArray = (rows < 1) | (rows > shape[0] - 1)
    beyond |= (columns < 1) | (columns > shape[1] - 1)
    return beyond


def _paper_at(
    paper: Float32Array, beyond: BoolArray, top: int, matrix: Matrix, factor: int
) -> Codes:
    """The codes of the paper nearest to each of these pixels."""
    rows, columns = _sources(matrix, top, top + len(beyond), beyond.shape[1])
    y = (rows[beyond] / factor).astype(np.int64).clip(0, paper.shape[0] - 1)
    x = (columns[beyond] / factor).astype(np.int64).clip(0, paper.shape[1] - 1)
    light = np.clip(paper[y, x] ** 2 * WHITE, 0, WHITE).astype(np.int64)
    found: Codes = codes_of_light()[light]
    return found


def _cuts_ink(small: Float32Array, paper: Float32Array, angle: float) -> bool:
    """Whether there is ink in what the turning moves out of the picture.

    A dark surround (the table that a sheet was photographed on) is no ink.
    """
    matrix = _matrix(small.shape, -angle)
    lost = _beyond(matrix, 0, small.shape[0], small.shape)
    if not lost.any():
        return False
    inked = (small < 0.75 * paper)[lost]
    surround = float((paper[lost] < 0.5 * quantile_of(paper, 0.9)).mean())
    return surround < 0.5 and float(inked.mean()) > _MOST_CUT
