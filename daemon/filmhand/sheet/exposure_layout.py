"""Where everything on an exposure film lies: bands of the same small things, one for each step.

The film is exposed in steps with a card that is moved on from band to band, so that each band gets
the square root of two times the light of the one before. That is the step of the trade's gray
scales, 0.15 in density (10 ** 0.15 = 1.4125).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import sqrt

from filmhand.sheet.wedge_layout import (
    FeatureKind,
    Label,
    WedgeField,
    WedgeLayout,
    WedgePatch,
    drawn_sizes,
    drawn_tone,
)
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

PLAIN_STEP = 4
"""The step that gets the whole of the time that is tried."""
LAST_STEP = 7
_LARGEST_UM = 420.0  # what is larger holds in any stencil
_QUIET_MM, _CARD_MM = 1.5, 3.0
_TICK_MM = (5.0, 0.4)


def step_factor(number: int) -> float:
    """The light of a step, as a share of that of step 4.

    >>> [round(step_factor(number), 2) for number in range(1, 8)]
    [0.35, 0.5, 0.71, 1.0, 1.41, 2.0, 2.83]
    """
    return sqrt(2) ** (number - PLAIN_STEP)


@dataclass(frozen=True, slots=True)
class ExposureStep:
    """A band of the film.

    Attributes
    ----------
    number : of the step, 4 gets the whole time
    fields : its dots, shadow dots, lines and gaps by size
    solid, clear : a block of ink, and as much in which nothing stands
    bare : gaps between fields
    """

    number: int
    box: BoxMm
    fields: tuple[WedgeField, ...]
    solid: BoxMm
    clear: BoxMm
    bare: tuple[BoxMm, ...]


@dataclass(frozen=True, slots=True)
class ExposureLayout:
    """The places of an exposure film, in millimeters from its own top left corner.

    Attributes
    ----------
    steps : from the top, which gets the least light
    edges : short lines at both sides, between bands: where the card's edge goes
    """

    size_mm: tuple[float, float]
    corner_marks: tuple[CornerMark, ...]
    steps: tuple[ExposureStep, ...]
    edges: tuple[BoxMm, ...]
    scale_bars: tuple[ScaleBar, ...]
    labels: tuple[Label, ...]
    code: BoxMm
    title: BoxMm

    @property
    def fields(self) -> tuple[WedgeField, ...]:
        """Those of all steps."""
        return tuple(field for step in self.steps for field in step.fields)

    @property
    def blocks(self) -> tuple[BoxMm, ...]:
        """All that is a plain block of ink: a solid in each band, and the lines for the card."""
        return (*(step.solid for step in self.steps), *self.edges)

    def as_wedge(self, step: ExposureStep | None = None) -> WedgeLayout:
        """The same places as a wedge has them, with the fields of one step only, or of all.

        Its patches are the solids and clear places of all steps, and the fields by their tone.
        """
        fields = self.fields if step is None else step.fields
        ends = [(100.0, one.solid) for one in self.steps] + [(0.0, one.clear) for one in self.steps]
        tones = ends + [(drawn_tone(one.kind, one.pixels), one.box) for one in fields]
        return WedgeLayout(
            size_mm=self.size_mm,
            corner_marks=self.corner_marks,
            patches=tuple(WedgePatch(tone, box, 0) for tone, box in tones),
            solids=tuple(one.solid for one in self.steps),
            fields=fields,
            bare=tuple(box for one in self.steps for box in one.bare),
            scale_bars=self.scale_bars,
            labels=self.labels,
            code=self.code,
            title=self.title,
        )


@dataclass(frozen=True, slots=True)
class _Measures:
    """Lengths in millimeters, and how many steps and sizes there are."""

    mark: float
    code: float
    gap: float
    label: float
    field: float
    head: float
    steps: tuple[int, ...] = ()
    sizes: int = 0


_LARGEST = _Measures(9.0, 28.0, 2.0, 2.6, 9.0, 4.0)
_LARGE = _Measures(9.0, 28.0, 2.0, 2.4, 6.0, 4.0)
_SMALL = _Measures(6.5, 20.0, 1.2, 1.6, 3.5, 1.6)


def exposure_layout(
    width_mm: float, height_mm: float, *, dpi: PixelsPerInch
) -> ExposureLayout | None:
    """The layout of an exposure film of a size; None where it has no room.

    Parameters
    ----------
    width_mm, height_mm : as :func:`filmhand.sheet.wedge_layout.wedge_size` gives them
    dpi : device pixels per inch of acetate, which decide what sizes can be drawn
    """
    for measures in _tries():
        laid = _laid((width_mm, height_mm), measures, dpi)
        if laid is not None:
            return laid
    return None


def _tries() -> Iterator[_Measures]:
    """All that is tried, the best first."""
    all_steps, fewer = tuple(range(1, LAST_STEP + 1)), tuple(range(2, LAST_STEP))
    yield replace(_LARGEST, steps=all_steps, sizes=6)
    for sizes in ((6, 5, 4), (3, 2)):
        for steps, plain in ((all_steps, _LARGE), (all_steps, _SMALL), (fewer, _SMALL)):
            for count in sizes:
                yield replace(plain, steps=steps, sizes=count)
    yield replace(_SMALL, steps=(3, 4, 5), sizes=2)


def _laid(
    size: tuple[float, float], measures: _Measures, dpi: PixelsPerInch
) -> ExposureLayout | None:
    width, height = size
    band, code = measures.mark + _QUIET_MM, measures.code
    room = BoxMm(band, band, width - 2 * band, height - 2 * band)
    if room.width < code:
        return None
    # Beside the code if all bands have room there, else below it.
    beside = replace(room, width=room.width - code - measures.gap)
    below = BoxMm(room.left, room.top + code, room.width, room.height - code)
    found = _bands(beside, measures, dpi) or _bands(below, measures, dpi)
    if found is None:
        return None
    steps, labels = found
    edges = []
    for one in steps[:-1]:
        y = one.box.bottom + _CARD_MM / 2 - _TICK_MM[1] / 2
        edges += [BoxMm(x, y, *_TICK_MM) for x in (0.0, width - _TICK_MM[0])]
    return ExposureLayout(
        size_mm=size,
        corner_marks=corner_marks(width, height, measures.mark),
        steps=steps,
        edges=tuple(edges),
        scale_bars=tuple(bar for bar in scale_bars(width, height, band) if not bar.upright),
        labels=labels,
        code=BoxMm(room.right - code, room.top, code, code),
        title=BoxMm(band, 0, width - 2 * band, measures.mark),
    )


def _bands(
    room: BoxMm, measures: _Measures, dpi: PixelsPerInch
) -> tuple[tuple[ExposureStep, ...], tuple[Label, ...]] | None:
    """Bands as high as the room allows, and their figures; None where the fields have no room."""
    count = len(measures.steps)
    high = (room.height - (count - 1) * _CARD_MM) / count
    steps, labels = [], []
    for number, step in enumerate(measures.steps):
        box = BoxMm(room.left, room.top + number * (high + _CARD_MM), room.width, high)
        head = BoxMm(box.left, box.top, box.width, measures.head)
        labels.append(Label(f"{step}: x {step_factor(step):.2g}", head))
        inside = BoxMm(box.left, head.bottom, box.width, box.height - head.height)
        placed = _fields(inside, measures, dpi)
        if placed is None:
            return None
        fields, figures, (solid, clear), bare = placed
        steps.append(ExposureStep(step, box, tuple(fields), solid, clear, tuple(bare)))
        labels += figures
    return tuple(steps), tuple(labels)


_Placed = tuple[list[WedgeField], list[Label], tuple[BoxMm, BoxMm], list[BoxMm]]


def _fields(room: BoxMm, measures: _Measures, dpi: PixelsPerInch) -> _Placed | None:
    """Fields of all kinds in a band, as many kinds a row as there is room for.

    Between two kinds, or at the end of a row of one, is room for a block: the first is solid, the
    second clear.
    """
    chosen = [(kind, _spread(drawn_sizes(kind, dpi), measures.sizes)) for kind in FeatureKind]
    cells = max(len(sizes) for _, sizes in chosen)
    side, label, gap = measures.field, measures.label, measures.gap
    for kinds in (4, 2, 1):
        shelves = Shelves([room])
        fields: list[WedgeField] = []
        labels: list[Label] = []
        blocks: list[BoxMm] = []
        bare: list[BoxMm] = []
        wanted = kinds * cells + max(kinds - 1, 1)
        for first in range(0, len(chosen), kinds):
            row = shelves.row(wanted, (side, side + label), gap)
            if len(row) < wanted:
                break
            places = [BoxMm(place.left, place.top, side, side) for place in row]
            blocks += places[cells :: cells + 1]
            bare += [BoxMm(one.right, one.top, gap, side) for one in places[:-1]]
            for number, (kind, sizes) in enumerate(chosen[first : first + kinds]):
                for box, (size, pixels) in zip(places[number * (cells + 1) :], sizes, strict=False):
                    fields.append(WedgeField(kind, size, pixels, box))
                    figure = BoxMm(box.left, box.bottom, side, label)
                    labels.append(Label(f"{size:.0f}", figure))
        else:
            return fields, labels, (blocks[0], blocks[1]), bare
    return None


def _spread(
    sizes: list[tuple[float, tuple[int, int]]], count: int
) -> list[tuple[float, tuple[int, int]]]:
    """So many of the sizes, from the smallest to the largest that matters; of few not the ends."""
    some = [one for one in sizes if one[0] <= _LARGEST_UM] or sizes[:1]
    if len(some) <= count:
        return some
    if count < 4:
        return [some[len(some) * (number + 1) // (count + 1)] for number in range(count)]
    return [some[round(number * (len(some) - 1) / (count - 1))] for number in range(count)]
