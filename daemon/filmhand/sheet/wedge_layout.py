"""Where everything on a wedge lies, in millimeters, worked out from a few numbers.

The numbers stand in the wedge's code (:mod:`filmhand.sheet.wedge_identity`), so that whoever reads
a picture of it can work out the same places again. A change of anything here needs a new
``LAYOUT_VERSION``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import StrEnum
from itertools import pairwise
from math import gcd, pi, sqrt

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.sheet.wedge_places import (
    BoxMm,
    CornerMark,
    ScaleBar,
    Shelves,
    corner_marks,
    scale_bars,
)
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

LAYOUT_VERSION = 1
LARGEST_MM = (200.0, 260.0)
"""No wedge is larger, shorter side first: it is to fit a screen, a scanner and a photograph."""
# Closer at the ends, for there dots are lost and holes fill (common practice, no source).
ALL_TONES = (
    0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 35, 40, 45, 50,
    55, 60, 65, 70, 75, 80, 85, 88, 90, 92, 93, 94, 95, 96, 97, 98, 99, 100,
)  # fmt: skip
FEWER_TONES = (
    0, 1, 2, 3, 5, 7, 10, 15, 20, 30, 40, 50, 60, 70, 80, 85, 90, 93, 95, 97, 98, 99, 100
)  # fmt: skip
# On the smallest sheets: enough for a curve, then what an eye can use.
LAST_TONES = ((0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100), (0, 10, 25, 50, 75, 90, 100))
# Preferred numbers, series R10 (ISO 3).
SIZES_UM = (40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630)
PITCH = 3
"""Dots, lines and what is open in a solid stand so many of their own widths apart, middle to
middle."""
_PATCH_MM = (16.0, 14.0, 12.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.5)
_CELLS_ENOUGH = 5.0  # screen cells along a patch's side, so that its mean hardly goes by luck
_CELLS_AT_LEAST, _LEAST_MM = 4.0, 4.0
_QUIET_MM = 1.5  # bare film around the corner marks


class FeatureKind(StrEnum):
    """What a field of small things shows; its words stand on the film."""

    DOTS = "dots"
    SHADOW_DOTS = "shadow dots"
    LINES = "lines"
    GAPS = "gaps"

    @property
    def is_ink(self) -> bool:
        """Whether the small things are black on the film, and not open in a solid."""
        return self in {FeatureKind.DOTS, FeatureKind.LINES}

    @property
    def is_round(self) -> bool:
        """Whether they are dots, and not lines."""
        return self in {FeatureKind.DOTS, FeatureKind.SHADOW_DOTS}


@dataclass(frozen=True, slots=True)
class WedgePatch:
    """A screened patch.

    ``film_pct`` is what the screen is asked for; what it lays down is measured on the bits.
    ``copy`` counts the places of one tone from 0.
    """

    film_pct: float
    box: BoxMm
    copy: int


@dataclass(frozen=True, slots=True)
class WedgeField:
    """A field of dots, shadow dots, lines or gaps of one size.

    Attributes
    ----------
    size_um : as drawn: the diameter of the circle with a dot's area, or a line's width
    pixels : columns and rows that a dot takes; columns of an upright and rows of a lying line
    box : all of it; upright lines fill its left half, lying ones its right half
    """

    kind: FeatureKind
    size_um: float
    pixels: tuple[int, int]
    box: BoxMm


@dataclass(frozen=True, slots=True)
class Label:
    """Figures and the room for them; or the room for the words over a kind of field."""

    words: str
    box: BoxMm
    over: FeatureKind | None = None


@dataclass(frozen=True, slots=True)
class WedgeLayout:
    """The places of a wedge, in millimeters from its own top left corner.

    Attributes
    ----------
    size_mm : width and height
    corner_marks : top left, top right, lower right, lower left
    patches : by tone, then the same tones in another order where there is room
    solids : blocks of 100 % beside those among the patches, to measure the black by
    fields : dots, shadow dots, lines and gaps, by size
    bare : boxes in which nothing stands, beside and between what is read: they tell the light
    scale_bars : the bar at the foot and the one at the left, where they have room
    labels : figures under patches and fields, and the words over each sort
    code : the room of the machine-readable code with its quiet zone; None on the smallest sheets
    title : room for words at the top
    """

    size_mm: tuple[float, float]
    corner_marks: tuple[CornerMark, ...]
    patches: tuple[WedgePatch, ...]
    solids: tuple[BoxMm, ...]
    fields: tuple[WedgeField, ...]
    bare: tuple[BoxMm, ...]
    scale_bars: tuple[ScaleBar, ...]
    labels: tuple[Label, ...]
    code: BoxMm | None
    title: BoxMm

    def of_kind(self, kind: FeatureKind) -> tuple[WedgeField, ...]:
        """The fields of one kind, the smallest first."""
        return tuple(field for field in self.fields if field.kind is kind)


@dataclass(frozen=True, slots=True)
class _Measures:
    """How large things are, and how many there are of them; lengths in millimeters."""

    mark: float
    code: float
    gap: float
    label: float
    field: float
    patch: float = 0.0
    tones: tuple[int, ...] = ()
    copies: int = 1
    every_size: int = 1  # 2 leaves out every second, 0 all


_MEASURES = (  # by the wedge's shorter side
    (120.0, _Measures(9.0, 28.0, 2.5, 2.6, 6.0)),
    (50.0, _Measures(6.5, 20.0, 1.6, 1.7, 3.5)),
    (0.0, _Measures(5.0, 15.0, 1.2, 1.5, 3.0)),
)

_TINY = _Measures(4.0, 0.0, 1.0, 1.2, 0.0)


def wedge_size(width_mm: float, height_mm: float) -> tuple[float, float]:
    """The size of the wedge for a room: all of it, in whole tenths of a millimeter, up to a limit.

    >>> wedge_size(203.2, 266.75), wedge_size(1000, 80.04)
    ((200.0, 260.0), (260.0, 80.0))
    """
    short, long = LARGEST_MM
    largest = (short, long) if width_mm <= height_mm else (long, short)
    sides = zip((width_mm, height_mm), largest, strict=True)
    width, height = (int(min(room, most) * 10 + 1e-6) / 10 for room, most in sides)
    return width, height


def wedge_layout(
    width_mm: float, height_mm: float, *, lpi: float | None, dpi: PixelsPerInch
) -> WedgeLayout | None:
    """The layout of a wedge of a size; None where not even its tones have room.

    Of what there is room for, in this order: large patches twice over, then fewer tones, then once
    only, then fewer sizes of dots and lines, then none, then no code, at last a few tones only.

    Parameters
    ----------
    width_mm, height_mm : of the wedge
    lpi : lines per inch of the screen; None leaves no tones but bare and solid
    dpi : device pixels per inch of acetate, which decide what sizes can be drawn
    """
    for measures in _tries(min(width_mm, height_mm), lpi):
        laid = _laid((width_mm, height_mm), measures, dpi)
        if laid is not None:
            return laid
    return None


def _tries(shorter: float, lpi: float | None) -> Iterator[_Measures]:
    """All that is tried, the best first."""
    plain = next(measures for least, measures in _MEASURES if shorter >= least)
    cell = 25.4 / lpi if lpi else 0.0
    sides = [side for side in (6 * cell,) if side > _PATCH_MM[0]] + list(_PATCH_MM)
    enough = max(_CELLS_ENOUGH * cell, 3 * plain.gap)
    all_tones, fewer = (ALL_TONES, FEWER_TONES) if lpi else ((0, 100), (0, 100))
    for tones, copies in ((all_tones, 2), (fewer, 2), (all_tones, 1), (fewer, 1)):
        for side in sides:
            if side >= enough:
                yield replace(plain, patch=side, tones=tones, copies=copies)
    for least in (max(_LEAST_MM, _CELLS_AT_LEAST * cell), 0.0):
        for every_size in (1, 2, 0):
            for side in sides:
                if side >= least:
                    yield replace(plain, patch=side, tones=fewer, every_size=every_size)
    for side in sides:
        yield replace(plain, patch=side, tones=fewer, every_size=0, code=0.0)
    for few in LAST_TONES if lpi else ():
        for measures in (plain, _TINY):
            for side in sides:
                yield replace(measures, patch=side, tones=few, every_size=0, code=0.0)


def _laid(size: tuple[float, float], measures: _Measures, dpi: PixelsPerInch) -> WedgeLayout | None:
    """The layout with such measures, where all of it has room."""
    width, height = size
    band, code = measures.mark + _QUIET_MM, measures.code
    room = BoxMm(band, band, width - 2 * band, height - 2 * band)
    if room.width < code or room.height < code:
        return None
    gap = measures.gap
    beside = BoxMm(room.left, room.top, room.width - code - gap, code)
    below = BoxMm(room.left, room.top + code, room.width, room.height - code)
    filling = _Filling(measures, Shelves([beside, below] if code else [room]))
    orders = [list(measures.tones), _shuffled(measures.tones)][: measures.copies]
    done = True
    for copy, tones in enumerate(orders):
        done = done and filling.patches(tones, copy)
        if copy == 0 and measures.every_size:
            done = done and filling.fields(measures.every_size, dpi)
    if not done:
        return None
    return WedgeLayout(
        size_mm=size,
        corner_marks=corner_marks(width, height, measures.mark),
        patches=tuple(filling.placed_patches),
        solids=tuple(filling.placed_solids),
        fields=tuple(filling.placed_fields),
        bare=tuple(filling.bare),
        scale_bars=scale_bars(width, height, band),
        labels=tuple(filling.labels),
        code=BoxMm(room.right - code, room.top, code, code) if code else None,
        title=BoxMm(band, 0, width - 2 * band, measures.mark),
    )


class _Filling:
    """Fills the room in rows and keeps what lies where."""

    def __init__(self, measures: _Measures, shelves: Shelves) -> None:
        self._measures = measures
        self._shelves = shelves
        self.placed_patches: list[WedgePatch] = []
        self.placed_solids: list[BoxMm] = []
        self.placed_fields: list[WedgeField] = []
        self.bare: list[BoxMm] = []
        self.labels: list[Label] = []

    def patches(self, tones: Sequence[int], copy: int) -> bool:
        """A solid, then a patch of each tone."""
        found = self._rows([f"{tone}" for tone in (100, *tones)], self._measures.patch)
        self.placed_solids += found[:1]
        self.placed_patches += [
            WedgePatch(tone, box, copy) for tone, box in zip(tones, found[1:], strict=False)
        ]
        return len(found) == len(tones) + 1

    def fields(self, every_size: int, dpi: PixelsPerInch) -> bool:
        """A field of each size, or each so many-th, of each kind; two kinds share a row with room.

        False where there is no room.
        """
        side, label = self._measures.field, self._measures.label
        waiting = [(kind, drawn_sizes(kind, dpi)[::every_size]) for kind in FeatureKind]
        while waiting:
            kind, sizes = waiting.pop(0)
            beside = waiting[0][1] if waiting else []
            both = len(sizes) + 1 + len(beside)
            size = (side, label + side + label)
            row = self._shelves.row(both, size, self._measures.gap)
            if not row:
                return False
            self._field_row(kind, sizes, row[: len(sizes)])
            if len(row) < len(sizes):  # goes on in a row of its own
                waiting.insert(0, (kind, sizes[len(row) :]))
            elif beside and len(row) == both:
                self._field_row(*waiting.pop(0), row[-len(beside) :])
        return True

    def _field_row(
        self, kind: FeatureKind, sizes: list[tuple[float, tuple[int, int]]], row: list[BoxMm]
    ) -> None:
        label = self._measures.label
        words = BoxMm(row[0].left, row[0].top, row[-1].right - row[0].left, label)
        self.labels.append(Label("", words, kind))
        side = self._measures.field
        squares = [BoxMm(one.left, words.bottom, side, side) for one in row]
        self._keep([f"{size:.0f}" for size, _ in sizes], squares)
        self.placed_fields += [
            WedgeField(kind, size, pixels, box)
            for (size, pixels), box in zip(sizes, squares, strict=False)
        ]

    def _rows(self, figures: list[str], side: float) -> list[BoxMm]:
        """Squares in as many rows as it takes, each with its figure below; fewer without room."""
        boxes: list[BoxMm] = []
        while len(boxes) < len(figures):
            size = (side, side + self._measures.label)
            row = self._shelves.row(len(figures) - len(boxes), size, self._measures.gap)
            if not row:
                break
            squares = [BoxMm(one.left, one.top, side, side) for one in row]
            self._keep(figures[len(boxes) :], squares)
            boxes += squares
        return boxes

    def _keep(self, figures: list[str], squares: list[BoxMm]) -> None:
        """Keep the figures below squares of a row, and what is bare between them."""
        self.bare += [
            BoxMm(one.right, one.top, other.left - one.right, one.height)
            for one, other in pairwise(squares)
        ]
        for figure, one in zip(figures, squares, strict=False):
            below = BoxMm(one.left, one.bottom, one.width, self._measures.label)
            self.labels.append(Label(figure, below))
        self._shelves.skip(self._measures.gap / 2)


def _shuffled(tones: Sequence[int]) -> list[int]:
    """The tones in a fixed order in which neighbors lie far apart: steps of a golden section."""
    count = len(tones)
    step = round(count * (sqrt(5) - 1) / 2)
    while gcd(step, count) > 1:
        step += 1
    return [tones[(number * step + count // 2) % count] for number in range(count)]


def drawn_sizes(kind: FeatureKind, dpi: PixelsPerInch) -> list[tuple[float, tuple[int, int]]]:
    """(micrometers as drawn, pixels across and down) of each size that these pixels can draw.

    >>> drawn_sizes(FeatureKind.LINES, PixelsPerInch(300, 300))[:2]
    [(84.66666666666667, (1, 1)), (169.33333333333334, (2, 2))]
    """
    across, down = dpi.pixel_um()
    coarse = max(across, down)
    # By the coarser side first, so that upright and lying lines of a size are alike.
    counts = dict.fromkeys(max(1, round(size / coarse)) for size in SIZES_UM if size > coarse / 2)
    pixels = [(round(one * coarse / across), round(one * coarse / down)) for one in counts]
    if not kind.is_round:
        return [(sqrt(x * across * y * down), (x, y)) for x, y in pixels]
    areas = {one: int(round_dot(*one).sum()) for one in pixels}
    return [(sqrt(4 / pi * area * across * down), one) for one, area in areas.items()]


def drawn_tone(kind: FeatureKind, pixels: tuple[int, int]) -> float:
    """About how much of a field of a kind is ink, in percent.

    >>> drawn_tone(FeatureKind.LINES, (2, 2)), drawn_tone(FeatureKind.SHADOW_DOTS, (1, 1))
    (33.3, 88.9)
    """
    share = 1 / PITCH
    if kind.is_round:
        share = float(round_dot(*pixels).mean()) / PITCH**2
    return round(100 * (share if kind.is_ink else 1 - share), 1)


def round_dot(columns: int, rows: int) -> BoolArray:
    """A dot, (rows, columns) bool: the pixels whose middles lie in the ellipse that fits.

    >>> round_dot(4, 4).astype(int).tolist()
    [[0, 1, 1, 0], [1, 1, 1, 1], [1, 1, 1, 1], [0, 1, 1, 0]]
    """
    y, x = np.mgrid[:rows, :columns] + 0.5
    bits: BoolArray = np.hypot(x / columns - 0.5, y / rows - 0.5) <= 0.5
    return bits
