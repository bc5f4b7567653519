"""Finds a wedge in a picture: which wedge, and where its millimeters lie among the pixels."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any

import numpy as np

from filmhand.arrays import Float64Array, UInt8Array
from filmhand.reading.addition import calibrate_library
from filmhand.reading.code_search import SeenCode, seen_code
from filmhand.reading.mark_search import SeenMark, seen_marks
from filmhand.reading.scan_words import ScanRefusal
from filmhand.sheet.exposure_layout import exposure_layout
from filmhand.sheet.wedge_identity import NoIdentity, WedgeIdentity, WedgeKind
from filmhand.sheet.wedge_layout import WedgeLayout, wedge_layout
from filmhand.values import dataclass

# Pixels along the longer side of the picture in which marks are looked for: finer ones show the
# dots of the paper, coarser ones lose the rings.
_LONGEST, _SHORTEST = 2600, 1300
_MOST_MARKS = 9
# How well the tones of the patches must go with how dark the picture is where they should lie:
# a correlation, which is 1 where one follows from the other.
_ALIKE = 0.75
_QUIET = 0.1  # of a code's room, about, is bare on each side
_SIZES = 1.4  # by what factor a mark may be larger or smaller than where it lies asks for
_PLACES = (np.arange(7) + 0.5) / 7  # of a patch, each way, that are looked at


@dataclass(frozen=True, slots=True, eq=False)
class FoundWedge:
    """A wedge in a picture.

    Attributes
    ----------
    identity : which wedge it is
    layout : where all of it lies, in millimeters
    matrix : (3, 3) float64, from millimeters of the wedge to pixels of the picture, in homogeneous
        coordinates; the middle of the top left pixel is 0, 0
    mirrored : whether it was seen from its other side
    code_read : whether its code was read, and not taken for granted
    """

    identity: WedgeIdentity
    layout: WedgeLayout
    matrix: Float64Array
    mirrored: bool
    code_read: bool


def moved(matrix: Float64Array, places: Float64Array) -> Float64Array:
    """(n, 2) places through a (3, 3) matrix of homogeneous coordinates."""
    x, y, w = matrix @ np.column_stack([places, np.ones(len(places))]).T
    return np.column_stack([x / w, y / w])


def layout_of(identity: WedgeIdentity) -> WedgeLayout | None:
    """The layout of the wedge that an identity names; None where there is no such wedge.

    Of an exposure film it is the one of all its steps.
    """
    if identity.kind is WedgeKind.EXPOSURE:
        steps = exposure_layout(*identity.size_mm, dpi=identity.acetate_dpi)
        return None if steps is None else steps.as_wedge()
    return wedge_layout(*identity.size_mm, lpi=identity.lpi, dpi=identity.acetate_dpi)


def find_wedge(dark: UInt8Array, expected: WedgeIdentity) -> FoundWedge:
    """The wedge in a picture.

    Parameters
    ----------
    dark : (H, W) uint8, where ink is darker than what it lies on
    expected : the wedge that it is taken for where its code cannot be read

    Raises
    ------
    Refused
        where there is none, or not all of one
    """
    cv2 = calibrate_library("cv2")
    small, scale = _to_search(cv2, dark)
    try:
        code = seen_code(small) or _at_scale(seen_code(dark), scale)
    except NoIdentity as fault:
        raise ScanRefusal.NEWER_WEDGE.refused() from fault
    identity = code.identity if code else expected
    layout = layout_of(identity)
    marks = seen_marks(small)[:_MOST_MARKS]
    if layout is None:
        raise ScanRefusal.NO_WEDGE.refused()
    best = max(
        (_judged(cv2, small, layout, code, *one) for one in _orders(marks)),
        key=lambda one: one[0],
        default=None,
    )
    if best is None or best[0] < _ALIKE:
        raise _not_found(small, layout, code, marks)
    _, ordered, mirrored = best
    centers = np.array([_refined(dark, mark, scale) for mark in ordered])
    matrix = _matrix(cv2, layout, centers)
    return FoundWedge(identity, layout, matrix, mirrored, code is not None)


def _at_scale(code: SeenCode | None, scale: float) -> SeenCode | None:
    return code and SeenCode(code.identity, (code.corners + 0.5) * scale - 0.5)


def _to_search(cv2: Any, dark: UInt8Array) -> tuple[UInt8Array, float]:
    """The picture at a size that is searched well, and pixels of it to one of the whole."""
    longest = max(dark.shape)
    scale = _LONGEST / longest if longest > _LONGEST else 2.0 if longest < _SHORTEST else 1.0
    if scale == 1.0:
        return dark, scale
    size = tuple(max(1, round(side * scale)) for side in dark.shape[::-1])
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    small: UInt8Array = cv2.resize(dark, size, interpolation=way)
    return small, scale


def _orders(marks: list[SeenMark]) -> Iterator[tuple[tuple[SeenMark, ...], bool]]:
    """Any four marks as top left, top right, lower right and lower left, seen plain or mirrored."""
    for four in combinations(marks, 4):
        centers = np.array([mark.center for mark in four])
        away = centers - centers.mean(axis=0)
        around = [four[one] for one in np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
        sizes = [mark.diameter for mark in four]
        if max(sizes) > 4 * min(sizes):
            continue
        for first in range(4):
            turned = (*around[first:], *around[:first])
            yield turned, False
            # From the other side the same corners follow one another the other way.
            yield (turned[0], turned[3], turned[2], turned[1]), True


def _matrix(cv2: Any, layout: WedgeLayout, centers: Float64Array) -> Float64Array:
    drawn = np.array([mark.center for mark in layout.corner_marks], np.float32)
    matrix: Float64Array = cv2.getPerspectiveTransform(drawn, centers.astype(np.float32))
    return matrix


def _judged(
    cv2: Any,
    small: UInt8Array,
    layout: WedgeLayout,
    code: SeenCode | None,
    ordered: tuple[SeenMark, ...],
    mirrored: bool,
) -> tuple[float, tuple[SeenMark, ...], bool]:
    """How well four marks in this order explain the picture, and both again."""
    matrix = _matrix(cv2, layout, np.array([mark.center for mark in ordered]))
    boxes = [patch.box for patch in layout.patches]
    places = np.array(
        [
            (box.left + x * box.width, box.top + y * box.height)
            for box in boxes
            for y in _PLACES
            for x in _PLACES
        ]
    )
    if not _sizes_fit(matrix, layout, ordered):
        return -1.0, ordered, mirrored
    seen = np.rint(moved(matrix, places))
    height, width = small.shape
    inside = (seen >= 0) & (seen < (width, height))
    if not inside.all() or not np.isfinite(seen).all():
        return -1.0, ordered, mirrored
    x, y = seen.astype(np.int64).T
    darkness = 255.0 - small[y, x].reshape(len(boxes), -1).mean(axis=1)
    tones = np.array([patch.film_pct for patch in layout.patches])
    if np.ptp(darkness) < 4 or np.ptp(tones) == 0:
        return -1.0, ordered, mirrored
    alike = float(np.corrcoef(darkness, tones)[0, 1])
    if code is not None and layout.code is not None:
        box = layout.code
        middle = moved(matrix, np.array([(box.left + box.width / 2, box.top + box.height / 2)]))[0]
        side = np.hypot(*(code.corners[2] - code.corners[0]))
        if np.hypot(*(middle - code.corners.mean(axis=0))) > side / 3:
            return -1.0, ordered, mirrored
    # Holes decide between orders that the tones leave open, as on a wedge of bare and solid.
    drawn = [mark.holes for mark in layout.corner_marks]
    right = sum(mark.holes == holes for mark, holes in zip(ordered, drawn, strict=True))
    return alike + 0.01 * right, ordered, mirrored


def _sizes_fit(matrix: Float64Array, layout: WedgeLayout, ordered: tuple[SeenMark, ...]) -> bool:
    """Whether each mark is as large as it would be where it lies."""
    for drawn, seen in zip(layout.corner_marks, ordered, strict=True):
        x, y = drawn.center
        around = np.array([(x, y), (x + 0.5, y), (x, y + 0.5)])
        center, right, below = moved(matrix, around)
        area = abs(float(np.linalg.det(np.array([right - center, below - center])))) * 4
        if not 1 / _SIZES < seen.diameter / (drawn.diameter * np.sqrt(area) + 1e-9) < _SIZES:
            return False
    return True


def _refined(dark: UInt8Array, mark: SeenMark, scale: float) -> tuple[float, float]:
    """The center of a mark by the weight of its ink, in pixels of the whole picture."""
    x, y = ((one + 0.5) / scale - 0.5 for one in mark.center)
    size = mark.diameter / scale
    left, top = (max(0, int(one - 0.7 * size)) for one in (x, y))
    right, bottom = int(x + 0.7 * size) + 2, int(y + 0.7 * size) + 2
    part = dark[top:bottom, left:right].astype(np.float64)
    rows, columns = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    ground, ink = np.percentile(part, [95, 5])
    weight = np.clip((ground - part) / max(1.0, ground - ink) - 0.2, 0, 1)
    for _ in range(2):
        near = weight * (np.hypot(columns - x, rows - y) < 0.62 * size)
        total = near.sum()
        if total <= 0:
            break
        x, y = float((columns * near).sum() / total), float((rows * near).sum() / total)
    return x, y


def _not_found(
    small: UInt8Array, layout: WedgeLayout, code: SeenCode | None, marks: list[SeenMark]
) -> Exception:
    """Why there is no whole wedge, as far as the picture tells."""
    if code is None or layout.code is None:
        return ScanRefusal.NO_WEDGE.refused()
    drawn = np.array([mark.center for mark in layout.corner_marks])
    box = layout.code.inside(_QUIET * layout.code.width)
    sides = (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )
    # A code that is seen from its other side is told with two of its corners exchanged.
    ways = [
        moved(_affine(np.array(sides), code.corners[list(order)]), drawn)
        for order in ((0, 1, 2, 3), (0, 3, 2, 1))
    ]
    centers = np.array([mark.center for mark in marks])
    seen = min(ways, key=lambda way: _apart(way, centers))
    height, width = small.shape
    out = ((seen < 0) | (seen > np.array([width, height]))).any()
    return ScanRefusal.CUT_OFF.refused() if out else ScanRefusal.MARK_HIDDEN.refused()


def _affine(drawn: Float64Array, seen: Float64Array) -> Float64Array:
    """The (3, 3) matrix without perspective that fits best: far from the code no other holds."""
    fitted, *_ = np.linalg.lstsq(np.column_stack([drawn, np.ones(len(drawn))]), seen, rcond=None)
    return np.vstack([fitted.T, [0, 0, 1]])


def _apart(one: Float64Array, other: Float64Array) -> float:
    """How far the places of the second lie from the nearest of the first, summed."""
    if not len(other):
        return 0.0
    return float(np.hypot(*(other[:, None] - one[None]).transpose(2, 0, 1)).min(axis=1).sum())
