"""What counts as held, on one print and on several."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from filmhand.pipeline.printer_films.wedge_film import wedge_identity
from filmhand.reading.read_wedge import ScannedPicture, read_wedge
from filmhand.reading.reading import PatchReading, ReadOf, SizesHeld, WedgeReading
from filmhand.reading.several import as_one
from filmhand.sheet.wedge_drawing import field_places
from filmhand.sheet.wedge_layout import FeatureKind
from press.scans import Scanner
from press.wedges import SEFAR, print_of

SHARP = Scanner(ppi=400, margin_mm=6)
READING = WedgeReading(
    ReadOf.PRINT, "", (PatchReading(50, 60, 0.5),), SizesHeld(dots=125.0, lines=80.0)
)


def held(wedge, profile, scanner=SHARP):
    pixels = wedge.scanned(scanner).astype(np.uint16) * 257
    scan = ScannedPicture(pixels, (scanner.ppi,) * 2, ReadOf.PRINT)
    return read_wedge(scan, wedge_identity(profile))


def changed(wedge, profile, kind, size_um, *, ink, every=1):
    """The print with each so many-th thing of a field, and what is around it, made ink or bare."""
    (field,) = (
        one
        for one in wedge.drawn.layout.of_kind(kind)
        if one.size_um == pytest.approx(size_um, 0.01)
    )
    cells, half = wedge.ink.copy(), 1.5 * field.pixels[0] / profile.dpi.x * 25.4
    middles = list(product(*field_places(field, profile.acetate_dpi)))[::every]
    for x, y in middles:
        left, top, right, bottom = (
            round(one / wedge.cell_mm) for one in (x - half, y - half, x + half, y + half)
        )
        cells[top:bottom, left:right] = 255 if ink else 0
    return replace(wedge, ink=cells)


def test_openings_that_ink_made_smaller_are_held(wedge_profile):
    """42 µm at each edge leave a third of the area of 191 µm, and half of 169 µm."""
    found = held(print_of(wedge_profile, SEFAR, 1), wedge_profile)
    assert found.edge_growth_um == pytest.approx(42, abs=5)
    assert found.smallest_held.shadow_dots == pytest.approx(191, abs=1)
    assert found.smallest_held.gaps == pytest.approx(169, abs=1)


@pytest.mark.parametrize(
    ("kind", "size", "ink", "every", "there"),
    [
        (FeatureKind.DOTS, 331, False, 5, False),  # a fifth of them is missing
        (FeatureKind.DOTS, 331, False, 100, True),  # a speck of dust
        (FeatureKind.DOTS, 331, True, 1, False),  # ink ran all over them
        (FeatureKind.SHADOW_DOTS, 331, True, 5, False),
        (FeatureKind.SHADOW_DOTS, 331, False, 1, False),  # all of the solid is gone
        (FeatureKind.GAPS, 254, True, 1, False),
    ],
)
def test_a_size_is_held_where_nearly_all_of_it_is_there(
    printed_wedge, wedge_profile, kind, size, ink, every, there
):
    wedge = changed(printed_wedge, wedge_profile, kind, size, ink=ink, every=every)
    found = held(wedge, wedge_profile).smallest_held
    smallest = getattr(found, str(kind).replace(" ", "_"))
    assert (smallest < size + 1) is there


def test_a_soft_picture_tells_no_small_sizes(printed_wedge, wedge_profile):
    """They are not told as lost, nor as held by what blurred into them."""
    soft = held(printed_wedge, wedge_profile, replace(SHARP, ppi=300, blur_mm=0.12))
    assert any("coarse" in note for note in soft.notes) and not soft.none_held
    sharp = held(printed_wedge, wedge_profile).smallest_held
    assert sharp.dots < soft.smallest_held.dots < 450
    assert sharp.lines < soft.smallest_held.lines < 450


def test_several_prints_hold_what_each_of_them_holds():
    worse = replace(READING, smallest_held=SizesHeld(dots=200.0), none_held=("lines",))
    assert as_one([READING, worse]).smallest_held == SizesHeld(dots=200.0)
    assert as_one([READING, worse]).none_held == ("lines",)
    coarse = replace(READING, smallest_held=SizesHeld())
    assert as_one([READING, coarse]).smallest_held == READING.smallest_held
