"""Art and marks on any sheet: nothing leaves the margin, nothing lies over anything else."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.sheet.layout import plan_sheet
from filmhand.sheet.marks import draw_furniture


@cache
def profile_of(**keys):
    required = {
        "sheet": "letter",
        "dpi": "300",
        "lpi": "25",
        "dot": "round",
        "threshold": "50",
        "mesh": "43-80",
        "margin": "0.25 in",
    }
    text = "".join(f"{key}: {value}\n" for key, value in (required | keys).items())
    return read_profile(text, name="p", file="p.yaml")


def within(inner, outer):
    return (
        inner.left >= outer.left
        and inner.top >= outer.top
        and inner.right <= outer.right
        and inner.bottom <= outer.bottom
    )


def gray(box, tone):
    """Stands in for the screen: a share of the rows, as many as the tone."""
    bits = np.zeros((box.height, box.width), np.bool_)
    bits[: round(tone * box.height)] = True
    return bits


MARKS = ("label", "ruler", "solid", "steps", "register")


@settings(max_examples=80, deadline=None)
@given(
    sheet=st.sampled_from(["letter", "a3", "100 x 150 mm", "60 x 40 mm"]),
    dpi=st.sampled_from(["150", "300 x 600", "720 x 360"]),
    margin=st.sampled_from(["0.25 in", "0 mm", "[3 mm, 4 mm, 12 mm, 5 mm]"]),
    fit=st.sampled_from(["page", "width 40 mm", "height 20 mm", "own"]),
    turn=st.sampled_from(["auto", "never"]),
    marks=st.sampled_from([(), MARKS[:3], MARKS]),
    size=st.tuples(st.integers(1, 4000), st.integers(1, 4000)),
)
def test_art_never_leaves_the_printable_area(sheet, dpi, margin, fit, turn, marks, size):
    wanted = "{" + ", ".join(f"{name}: {str(name in marks).lower()}" for name in MARKS) + "}"
    profile = profile_of(
        sheet=sheet, dpi=dpi, margin=margin, art=f"{{fit: {fit}, turn: {turn}}}", marks=wanted
    )
    try:
        layout = plan_sheet(profile, art_px=size, art_ppi=(300.0, 300.0))
    except Refused as refused:
        assert fit != "page"
        assert refused.reason is Reason.TOO_BIG
        return
    assert within(layout.art, layout.printable)
    assert within(layout.printable, layout.sheet)
    assert min(layout.art.width, layout.art.height) >= 1
    assert layout.turned in ((0,) if turn == "never" else (0, 90))
    if fit == "page":
        assert within(layout.art, layout.zone)


@pytest.mark.parametrize("dpi", ["300", "600 x 1200"])
@pytest.mark.parametrize(
    "sheet", ["letter", "a3", "150 x 150 mm", "122 x 160 mm", "122 x 300 mm", "100 x 70 mm"]
)
@pytest.mark.parametrize("fit", ["page", "width 60 mm"])
def test_marks_lie_clear_of_the_art_and_of_one_another(dpi, sheet, fit):
    marks = "{steps: true, register: true}"
    profile = profile_of(sheet=sheet, dpi=dpi, marks=marks, art=f"{{fit: {fit}}}")
    layout = plan_sheet(profile, art_px=(800, 600), art_ppi=None)
    lines = ["poster.jpg", "small-sheet", "right-reading, image side up"]
    furniture = draw_furniture(profile, layout, lines=lines, screen_flat=gray)
    for mark in furniture.marks:
        assert mark.bits.shape == (mark.box.height, mark.box.width)
        assert within(mark.box, layout.printable)
        assert not mark.box.overlaps(layout.art)
    for one, other in combinations(furniture.marks, 2):
        assert not one.box.overlaps(other.box)
    # Patch, two bars, label, wedge and four targets are drawn or named.
    assert len(furniture.marks) + len(furniture.left_off) == 9


@pytest.mark.parametrize("dpi", ["300", "600 x 1200"])
def test_no_line_of_the_label_is_cut_or_runs_into_the_next(dpi):
    profile = profile_of(dpi=dpi, marks="{ruler: false, solid: false}")
    layout = plan_sheet(profile, art_px=(800, 600), art_ppi=None)
    # Too long for fewer lines; each is then a line of its own, cut with dots.
    lines = ["gypfl" * 100] * 3
    (label,) = draw_furniture(profile, layout, lines=lines, screen_flat=None).marks
    rows, count = ndimage.label(label.bits.any(axis=1))
    assert count == 3
    heights = np.bincount(rows)[1:]
    assert heights.max() - heights.min() <= 1  # a line may lie between two rows
