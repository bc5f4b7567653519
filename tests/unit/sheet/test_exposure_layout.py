"""Where things lie on an exposure film."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from filmhand.sheet.exposure_layout import exposure_layout, step_factor
from filmhand.sheet.wedge_layout import FeatureKind, wedge_size
from filmhand.units import PixelsPerInch


@pytest.mark.parametrize("dpi", [72, 300, 600, 2880])
@pytest.mark.parametrize(
    "room", [(63.5, 88.9), (88.9, 63.5), (63.5, 63.5), (90, 200), (203.2, 266.7), (1104, 1511)]
)
def test_nothing_lies_on_anything_else_and_bands_are_alike(
    room: tuple[float, float], dpi: int
) -> None:
    width, height = wedge_size(*room)
    layout = exposure_layout(width, height, dpi=PixelsPerInch(dpi, dpi))
    assert layout is not None
    boxes = [mark.box for mark in layout.corner_marks] + [field.box for field in layout.fields]
    boxes += [bar.box for bar in layout.scale_bars] + [label.box for label in layout.labels]
    boxes += [layout.code, layout.title, *layout.blocks]
    boxes += [box for step in layout.steps for box in (step.clear, *step.bare)]
    assert all(box.left > -1e-6 and box.top > -1e-6 for box in boxes)
    assert all(box.right < width + 1e-6 and box.bottom < height + 1e-6 for box in boxes)
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
    bands = [
        [(one.kind, one.size_um, one.box.left, one.box.top - step.box.top) for one in step.fields]
        for step in layout.steps
    ]
    for band in bands:
        assert {kind for kind, *_ in band} == set(FeatureKind)
        assert [place[:3] for place in band] == [place[:3] for place in bands[0]]
    assert 4 in {step.number for step in layout.steps}
    # The card's edge goes between the fields of two bands.
    for (step, after), edge in zip(pairwise(layout.steps), layout.edges[::2], strict=True):
        assert step.box.bottom < edge.top < edge.bottom < after.box.top


def test_large_sheets_have_seven_steps() -> None:
    layout = exposure_layout(200, 260, dpi=PixelsPerInch(600, 600))
    assert layout is not None
    assert [step.number for step in layout.steps] == [1, 2, 3, 4, 5, 6, 7]


def test_steps_are_those_of_gray_scales() -> None:
    """0.15 of density a step, 10 ** 0.15 = 1.4125 (calculator.city, exposure step wedge)."""
    for number in range(1, 7):
        assert step_factor(number + 1) / step_factor(number) == pytest.approx(10**0.15, rel=0.002)


def test_too_little_room_gives_none() -> None:
    assert exposure_layout(45, 45, dpi=PixelsPerInch(600, 600)) is None
