"""Patches of a trial: their names, their settings and their places."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.errors import Reason, Refused
from filmhand.pipeline.trial.patches import LEAST_MM, patch_named, sheet_of
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Treat
from filmhand.profile.ticket.trial import Trial
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.sheet.layout import Box
from filmhand.units import MM_PER_INCH

TEXT = "sheet: letter\ndpi: {}\nlpi: {}\ndot: round\nthreshold: 50\nmesh: {}\nmargin: 6 mm\n"


def profile_of(*, dpi: str = "300", lpi: float = 25, mesh: str = "43-80") -> Profile:
    return read_profile(TEXT.format(dpi, lpi, mesh), name="p", file="p.yaml")


def zone_of(width_mm: float, height_mm: float, profile: Profile) -> Box:
    dpi = profile.dpi
    across, down = (
        round(mm / MM_PER_INCH * d) for mm, d in ((width_mm, dpi.x), (height_mm, dpi.y))
    )
    return Box(100, 50, across, down)


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(["300", "600", "600 x 1200", "1200"]),
    st.floats(40, 600),
    st.floats(40, 600),
    st.lists(st.sampled_from([20.0, 25.0, 30.0, 35.0, 45.0, 60.0]), min_size=1, unique=True),
    st.lists(st.sampled_from([0.8, 1.0, 1.3, 1.6]), min_size=1, unique=True),
    st.lists(st.sampled_from([0.0, 22.5, 45.0]), min_size=1, unique=True),
)
def test_patches_lie_inside_and_apart(dpi, width_mm, height_mm, lpi, ranges, angles):
    profile = profile_of(dpi=dpi)
    zone = zone_of(width_mm, height_mm, profile)
    trial = Trial((("contrast", tuple(ranges)), ("angle", tuple(angles)), ("lpi", tuple(lpi))))
    try:
        sheet = sheet_of(profile, trial, Treat.TONE, zone)
    except Refused as refused:
        assert refused.reason is Reason.BAD_TICKET
        return
    assert len(sheet.patches) == len(lpi) * len(ranges) * len(angles)
    assert len({patch.name for patch in sheet.patches}) == len(sheet.patches)
    assert len({patch.settings for patch in sheet.patches}) == len(sheet.patches)
    assert sheet.side_mm >= max(LEAST_MM, 20 * MM_PER_INCH / min(lpi))
    side = tuple(int(sheet.side_mm / MM_PER_INCH * each) for each in (profile.dpi.x, profile.dpi.y))
    for size in (side, (side[0] // 2, side[1] // 3)):
        cells = sheet.cells(zone, size, profile.dpi)
        assert len(cells) == len(sheet.patches)
        for number, cell in enumerate(cells):
            assert zone.left <= cell.left and cell.right <= zone.right
            assert zone.top <= cell.top and cell.bottom <= zone.bottom
            assert cell.width >= size[0] and cell.height > size[1]
            assert not any(cell.overlaps(other) for other in cells[:number])


def test_numbers_tell_the_first_list_and_letters_the_others():
    profile = profile_of()
    dots = DotShape(Dot.ROUND), DotShape(Dot.LINE)
    trial = Trial((("contrast", (1.0, 1.5)), ("dot", dots), ("lpi", (20.0, 25.0, 30.0))))
    sheet = sheet_of(profile, trial, Treat.TONE, zone_of(200, 250, profile))
    shown = {patch.name: patch.words() for patch in sheet.patches}
    assert shown["A1"] == ["20 lpi", "round", "contrast 1"]
    assert shown["A3"] == ["30 lpi", "round", "contrast 1"]
    assert shown["B1"] == ["20 lpi", "round", "contrast 1.5"]
    assert shown["D3"] == ["30 lpi", "line", "contrast 1.5"]
    assert sheet.columns == 3
    changed = patch_named("D3", sheet).applied(profile)
    assert (changed.lpi, changed.dot, changed.tone.contrast) == (30, dots[1], 1.5)
    assert (changed.sheet, changed.angle, changed.tone.midtone) == (profile.sheet, 45, 0)
    assert patch_named("D3", sheet).record() == {
        "patch": "D3", "lpi": 30, "dot": "line", "contrast": 1.5,
    }  # fmt: skip


def test_a_single_value_takes_no_number():
    # What does not vary must not use up the numbers.
    profile = profile_of()
    trial = Trial((("lpi", (30.0,)), ("contrast", (1.0, 1.5, 2.0))))
    sheet = sheet_of(profile, trial, Treat.TONE, zone_of(200, 250, profile))
    assert [patch.name for patch in sheet.patches] == ["A1", "A2", "A3"]
    assert all(dict(patch.settings)["lpi"] == 30 for patch in sheet.patches)


@pytest.mark.parametrize(
    ("lpi", "mesh", "rulings"),
    [
        (25, "43-80", [19, 25, 28]),  # the mesh's best is 28.3
        (28, "43-80", [21, 28, 37]),  # a third finer, to see what is too fine
        (20, "none", [15, 20, 27]),
        (75, "90-48", [56, 75]),  # nothing is finer than a quarter of 300 dpi
        (5, "43-80", [5, 28]),
    ],
)
def test_rulings_are_chosen_around_the_profiles_own(lpi, mesh, rulings):
    profile = profile_of(lpi=lpi, mesh=mesh)
    sheet = sheet_of(profile, Trial(), Treat.TONE, zone_of(600, 600, profile))
    found = {dict(patch.settings)["lpi"] for patch in sheet.patches}
    assert sorted(found) == rulings
    assert {str(dict(patch.settings)["dot"]) for patch in sheet.patches} == {"round", "ellipse"}


def test_what_makes_no_difference_is_left_out_or_told():
    profile = profile_of()
    zone = zone_of(200, 250, profile)
    both = Trial((("lpi", (20.0, 30.0)), ("threshold", (40.0, 60.0))))
    for treated, key in ((Treat.TONE, "lpi"), (Treat.LINE, "threshold")):
        sheet = sheet_of(profile, both, treated, zone)
        assert [[name for name, _ in patch.settings] for patch in sheet.patches] == [[key]] * 2
    with pytest.raises(Refused, match=r"line art, and none of what the trial varies \(lpi\)"):
        sheet_of(profile, Trial((("lpi", (20.0, 30.0)),)), Treat.LINE, zone)


def test_a_sheet_without_room_says_how_many_there_is_room_for():
    profile = profile_of()
    trial = Trial((("lpi", (25.0, 30.0)), ("contrast", (1.0, 1.2, 1.4, 1.6, 1.8))))
    with pytest.raises(
        Refused, match=r"asks for 10 patches, and this sheet has room for 4 of 0.99 in"
    ):
        sheet_of(profile, trial, Treat.TONE, zone_of(60, 90, profile))
