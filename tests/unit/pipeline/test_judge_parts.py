"""The parts of judging a film, each by itself: the plan, the sizes to mend, what is noted."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.mesh.bitmap.worst_places import WorstPlace
from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.mesh.limits import Feature
from filmhand.pipeline.render.screen_plan import limits_of, plan_screen
from filmhand.pipeline.verdict import judge
from filmhand.pipeline.verdict.inspection import SmallestHeld
from filmhand.pipeline.verdict.judge import worst_places_phrase
from filmhand.pipeline.verdict.refusals import CheckFailed
from filmhand.profile.read.load import read_profile
from filmhand.sheet.layout import Box, Layout
from filmhand.units import Resolution, SheetSize

TEXT = "sheet: a4\nlpi: 25\ndot: round\nthreshold: 50\nmargin: 5 mm\nangle: 22.5\n"
ALL = Box(0, 0, 100, 100)


def work_of(
    more: str = "mesh: 43-80\ndpi: 600\n",
    *,
    ppi: float = 100.0,
    anyway: bool = False,
    screened: bool = True,
) -> Any:
    profile = read_profile(TEXT + more, name="p", file="p.yaml")
    screen = plan_screen(profile) if screened else None
    layout = Layout(ALL, ALL, ALL, ALL, 0, (100.0, 100.0), ppi)
    ticket = SimpleNamespace(anyway=anyway)
    return SimpleNamespace(
        profile=profile, layout=layout, ticket=ticket, screen=screen, checks=[], notes=[]
    )


@pytest.mark.parametrize(
    ("ppi", "verdict"), [(149.9, Verdict.WARN), (150.0, Verdict.PASS), (20.0, Verdict.WARN)]
)
def test_line_art_is_compared_with_the_coarser_direction(ppi: float, verdict: Verdict) -> None:
    """Half a pixel of the art to a device pixel is wanted, and nothing is refused for it."""
    work = work_of("mesh: none\ndpi: 600 x 300\n", ppi=ppi, screened=False)
    judge.judge_plan(work)
    (found,) = work.checks
    assert found == Check(CheckName.ART_RESOLUTION, ppi, 150.0, None, verdict)


@pytest.mark.parametrize(
    ("ppi", "verdict"),
    [(24.9, Verdict.FAIL), (25.0, Verdict.WARN), (35.34, Verdict.WARN), (35.36, Verdict.PASS)],
)
def test_screened_art_is_compared_with_the_ruling(ppi: float, verdict: Verdict) -> None:
    """One pixel to a line fails under, and 1.414 warn under."""
    work = work_of(ppi=ppi, anyway=True)
    judge.judge_plan(work)
    found = work.checks[0]
    assert (found.name, found.measured, found.verdict) == (CheckName.ART_RESOLUTION, ppi, verdict)
    assert (found.fail_limit, found.warn_limit) == pytest.approx((25, 35.35))
    # Moire waits for the finished film.
    names = {check.name for check in work.checks[1:]}
    assert names == {CheckName.MESH_TO_LPI_RATIO, CheckName.GRAY_LEVELS}
    if verdict is Verdict.FAIL:
        with pytest.raises(CheckFailed):
            judge.judge_plan(work_of(ppi=ppi))


def test_a_refusal_names_the_places_of_the_check_that_fails_first() -> None:
    work = work_of()
    fail, warn = Verdict.FAIL, Verdict.WARN
    work.checks = [
        Check(CheckName.NARROWEST_GAP, 90.0, 309.0, 80.0, warn),
        Check(CheckName.NARROWEST_STROKE, 80.0, 309.0, 113.0, fail),
        Check(CheckName.MOIRE, 12.0, 1.5, 4.0, fail),
    ]
    worst = [WorstPlace(60, 120, 90.0, Feature.GAP), WorstPlace(600, 1200, 80.0, Feature.STROKE)]
    with pytest.raises(
        CheckFailed, match=r"worst at 25 x 51 mm \(1 x 2 in\) from the sheet's top left"
    ):
        judge._refuse(work, worst)
    work.ticket.anyway = True
    judge._refuse(work, worst)
    work.ticket.anyway = False
    work.checks = work.checks[:1]
    judge._refuse(work, worst)


def test_up_to_which_sizes_is_mended() -> None:
    assert judge.sizes_to_mend(work_of("mesh: none\ndpi: 600\n", screened=False)) is None
    work = work_of()
    limits, screen = limits_of(work.profile), work.screen
    assert limits is not None
    to_pass = SmallestHeld.to_pass(limits, work.profile.dpi)
    assert judge.sizes_to_mend(work_of(screened=False)) == to_pass
    even = SmallestHeld.to_print_evenly(limits, work.profile.dpi)
    found = judge.sizes_to_mend(work)
    assert found == even.at_most(screen.smallest_dot, screen.smallest_shadow_dot)
    work.screen = SimpleNamespace(smallest_dot=7, smallest_shadow_dot=9)
    found = judge.sizes_to_mend(work)
    assert found is not None and (found.dot.pixels, found.shadow_dot.pixels) == (7, 9)
    held = work_of("mesh: 43-80\ndpi: 600\ntone: {hold: [8, 92]}\n")
    assert judge.sizes_to_mend(held) == to_pass


def test_hold_off_leaves_halftones_as_they_are_and_still_tells_where_they_are_too_small() -> None:
    off = "mesh: 43-80\ndpi: 600\ntone: {hold: off}\n"
    limits = limits_of(work_of(off).profile)
    assert limits is not None
    to_pass = SmallestHeld.to_pass(limits, work_of(off).profile.dpi)
    assert judge.sizes_to_mend(work_of(off)) is None
    assert judge.sizes_to_find(work_of(off)) == to_pass
    assert judge.sizes_to_mend(work_of(off, screened=False)) == to_pass


@pytest.mark.parametrize(("ink", "share"), [(2000, "1.050"), (0, "2100.000")])
def test_what_was_spotted_out_is_noted(ink: int, share: str) -> None:
    work = work_of()
    counted: Any = SimpleNamespace(
        spotted=SpottedOut(1, 2, 3, 4, 21), dots=SimpleNamespace(pixels=ink)
    )
    judge._note_spotting_out(work, counted)
    assert work.notes == [
        f"Spotted out 10 places, 21 pixels or {share} % of the ink. Specks of ink removed: "
        "1; pinholes filled: 2; enlarged to a size that the mesh holds: 3; joined to a neighbor: 4."
    ]
    counted.spotted = SpottedOut()
    judge._note_spotting_out(work, counted)
    assert len(work.notes) == 1


def test_a_place_in_the_record_and_in_words_with_unequal_resolutions() -> None:
    spot = WorstPlace(600, 1200, 80.06, Feature.SHADOW_DOT)
    dpi = Resolution(600, 300)
    assert spot.record(dpi) == {
        "what": "shadow dot", "x_mm": 25.4, "y_mm": 101.6, "width_um": 80.1,
    }  # fmt: skip
    other = WorstPlace(0, 0, 1.0, Feature.SHADOW_DOT)
    end = "from the sheet's top left corner"
    sheet = SheetSize(21000, 29700)
    profile: Any = SimpleNamespace(acetate_dpi=dpi, sheet=sheet)
    one, corner = "25 x 102 mm (1 x 4 in)", "0 x 0 mm (0 x 0 in)"
    assert worst_places_phrase([spot, other], profile) == f"; worst at {one} and {corner} {end}"
    assert worst_places_phrase([other, spot, other], profile) == (
        f"; worst at {corner}, {one} and {corner} {end}"
    )
    profile.sheet = SheetSize(21590, 27940, in_inches=True)
    assert worst_places_phrase([spot], profile) == f"; worst at 1 x 4 in (25 x 102 mm) {end}"
    assert worst_places_phrase([], profile) == ""
