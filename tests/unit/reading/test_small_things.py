"""What counts as held, on one print and on several."""

from __future__ import annotations

from dataclasses import replace

import pytest

from filmhand.reading import small_things
from filmhand.reading.reading import PatchReading, ReadOf, SizesHeld, WedgeReading
from filmhand.reading.several import as_one
from filmhand.sheet.wedge_layout import FeatureKind, wedge_layout
from filmhand.units import PixelsPerInch

DPI = PixelsPerInch(600, 600)
READING = WedgeReading(
    ReadOf.PRINT, "", (PatchReading(50, 60, 0.5),), SizesHeld(dots=125.0, lines=80.0)
)


class Seen:
    """An evened wedge whose fields have so much of what is drawn, and a picture of 600 ppi."""

    picture = property(lambda self: self)

    def __init__(self, layout, share, growth):
        self.fields = {id(field): field for field in layout.fields}
        self.share, self.growth = share, growth

    def ppi_at(self, x, y):
        return 600.0

    def tone(self, box, cell):
        (field,) = (one for one in self.fields.values() if one.box.overlaps(box))
        drawn = small_things._drawn_share(field)
        upright = None if field.kind.is_round else cell.second == (0.0, 0.0)
        grown = small_things._grown(field, DPI, (self.growth, self.growth), upright=upright)
        there = drawn * grown * self.share(field)
        return 100 * (there if field.kind.is_ink else 1 - there), 0.1


def held(*, share=lambda field: 1.0, growth=0.0):
    layout = wedge_layout(200, 260, lpi=45, dpi=DPI)
    return small_things.look_at_small_things(Seen(layout, share, growth), layout, DPI)


def test_ink_that_ran_does_not_stand_in_for_dots_that_are_missing():
    # Of 85 µm dots 40 % are there, and each has more than twice its area.
    found = held(growth=20.0, share=lambda one: 0.4 if one.kind.is_round else 1.0)
    assert found.growth_um == pytest.approx((20, 20), abs=1)
    assert found.held.dots is None and FeatureKind.DOTS in found.none_held
    assert held(growth=20.0).held.dots < 50


def test_gaps_that_ink_closed_by_half_are_not_held():
    assert held().held.gaps < 50
    # Half of 85 µm is closed where both edges lie 21 µm further out.
    assert held(growth=25.0).held.gaps > 85


def test_several_prints_hold_what_each_of_them_holds():
    worse = replace(READING, smallest_held=SizesHeld(dots=200.0), none_held=("lines",))
    assert as_one([READING, worse]).smallest_held == SizesHeld(dots=200.0)
    assert as_one([READING, worse]).none_held == ("lines",)
    coarse = replace(READING, smallest_held=SizesHeld())
    assert as_one([READING, coarse]).smallest_held == READING.smallest_held
