"""Limits of a mesh and the verdicts on a film, at and about every limit."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nextafter, pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.strokes import Narrowness, ThinPiece, ThinPieces
from filmhand.mesh.checks import (
    CheckName,
    Verdict,
    check_dots,
    check_gray_levels,
    check_line_resolution,
    check_lines,
    check_moire,
    check_pieces,
    check_ratio,
    check_resolution,
    low_quantile,
)
from filmhand.mesh.limits import (
    MeshLimits,
    SizeLimits,
    best_lpi,
    diameter_um,
    pixels_of_circle,
    smallest_tone,
)
from filmhand.mesh.table import read_mesh, woven
from filmhand.units import Resolution

DPI = Resolution(300, 300)
CLASSROOM = MeshLimits.of(read_mesh("43-80"))


def test_limits_come_from_thread_and_opening():
    assert CLASSROOM.dot.fail_um == pytest.approx(80 * sqrt(2))
    assert CLASSROOM.shadow_dot.fail_um == pytest.approx(10000 / 43 - 80)
    assert CLASSROOM.dot.warn_um == CLASSROOM.shadow_dot.warn_um == pytest.approx(10000 / 43 + 80)


def test_strokes_are_held_like_dots_and_gaps_like_holes():
    assert (CLASSROOM.stroke.fail_um, CLASSROOM.stroke.warn_um) == (
        CLASSROOM.dot.fail_um,
        CLASSROOM.dot.warn_um,
    )
    assert (CLASSROOM.gap.fail_um, CLASSROOM.gap.warn_um) == (
        CLASSROOM.shadow_dot.fail_um,
        CLASSROOM.shadow_dot.warn_um,
    )


def test_each_limit_can_be_said_instead_and_strokes_and_gaps_follow():
    mesh = read_mesh("43-80")
    limits = MeshLimits.of(mesh, dot=(1, 2), shadow_dot=(3, 4))
    assert limits == MeshLimits((1, 2), (3, 4), (1, 2), (3, 4))
    limits = MeshLimits.of(mesh, stroke=(5, 6), gap=(7, 8))
    assert (limits.dot.fail_um, limits.shadow_dot.warn_um) == (
        CLASSROOM.dot.fail_um,
        CLASSROOM.shadow_dot.warn_um,
    )
    assert (limits.stroke.fail_um, limits.stroke.warn_um) == (5, 6)
    assert (limits.gap.fail_um, limits.gap.warn_um) == (7, 8)


def test_a_measured_opening_is_used_instead_of_the_formulas():
    limits = MeshLimits.of(woven(43, 80, opening_um=149))
    assert (limits.shadow_dot.fail_um, limits.dot.warn_um) == (149, 309)


@given(
    size=st.floats(5, 2000),
    x=st.sampled_from([300, 360, 600, 1200]),
    y=st.sampled_from([300, 360, 600, 1200]),
)
def test_the_pixels_of_a_circle_are_the_fewest_that_reach_its_area(size, x, y):
    resolution = Resolution(x, y)
    pixels = pixels_of_circle(size, resolution)
    assert pixels >= 1
    assert diameter_um(pixels, resolution) >= size * (1 - 1e-9)
    assert pixels == 1 or diameter_um(pixels - 1, resolution) < size


def test_diameter_is_that_of_the_circle_with_the_pixels_area():
    resolution = Resolution(600, 1200)
    area = 100 * (25400 / 600) * (25400 / 1200)
    assert pi / 4 * diameter_um(100, resolution) ** 2 == pytest.approx(area)


def test_smallest_tone_is_the_area_share_of_the_dot_in_its_cell():
    assert smallest_tone(25400 / 55, 55) == pytest.approx(pi / 4)  # a dot as wide as its cell
    assert smallest_tone(100, 45) == pytest.approx(pi / 4 * 100**2 / (25400 / 45) ** 2)


@pytest.mark.parametrize("mesh", ["43-80", "90-48", "120-34"])
def test_best_lpi_undoes_the_limits(mesh):
    limits = MeshLimits.of(read_mesh(mesh))
    assert smallest_tone(limits.dot.warn_um, best_lpi(limits)) == pytest.approx(0.10)


def test_best_lpi_looks_at_the_larger_of_dots_and_holes():
    mesh = read_mesh("43-80")
    for sizes in (
        {"dot": (0, 100), "shadow_dot": (0, 200)},
        {"dot": (0, 200), "shadow_dot": (0, 100)},
    ):
        assert smallest_tone(200, best_lpi(MeshLimits.of(mesh, **sizes))) == pytest.approx(0.10)
    assert best_lpi(MeshLimits.of(mesh, dot=(0, 0), shadow_dot=(0, 0))) == inf


def test_a_share_of_one_in_a_thousand_may_lie_at_a_limit():
    assert low_quantile(AreaCounts.of(np.empty(0, np.int64))) is None
    assert low_quantile(AreaCounts.of(np.array([7]))) == 7
    # 999 components: one small one is more than a thousandth of them; of 1000 it is just not.
    for count, wanted in ((999, 1), (1000, 50), (1001, 50)):
        areas = np.full(count, 50)
        areas[count // 2] = 1
        assert low_quantile(AreaCounts.of(areas)) == wanted
    areas = np.full(5000, 50)
    areas[:5] = 1
    assert low_quantile(AreaCounts.of(areas)) == 50
    areas[:6] = 1
    assert low_quantile(AreaCounts.of(areas)) == 1


@given(st.lists(st.integers(1, 30), min_size=1, max_size=3000))
def test_the_quantile_is_failed_by_exactly_more_than_a_thousandth(sizes):
    areas = np.array(sizes)
    found = low_quantile(AreaCounts.of(areas))
    for limit in (found - 1, found):
        at_or_under = int((areas <= limit).sum())
        assert (found <= limit) == (1000 * at_or_under > areas.size)


def dot_checks(areas, limits):
    """The checks of dots and of shadow dots that all have these areas."""
    counts = AreaCounts.of(areas)
    return check_dots(counts, counts, DPI, limits)


@pytest.mark.parametrize(
    ("which", "fail_um"), [(0, CLASSROOM.dot.fail_um), (1, CLASSROOM.shadow_dot.fail_um)]
)
def test_dots_and_holes_fail_at_one_limit_and_warn_under_the_other(which, fail_um):
    def verdict_of(pixels):
        return dot_checks(np.full(50, pixels), CLASSROOM)[which].verdict

    for um, below, above in (
        (fail_um, Verdict.FAIL, Verdict.WARN),
        (CLASSROOM.dot.warn_um, Verdict.WARN, Verdict.PASS),
    ):
        pixels = pixels_of_circle(um, DPI)  # the first size that is over the limit
        assert verdict_of(pixels - 1) is below
        assert verdict_of(pixels) is above


def test_exactly_at_the_fail_limit_fails_and_exactly_at_the_warn_limit_passes():
    fail, warn = 100.0, 300.0
    limits = MeshLimits(*4 * ((fail, warn),))
    for width, wanted in (
        (fail, Verdict.FAIL),
        (nextafter(fail, 1e9), Verdict.WARN),
        (warn - 0.001, Verdict.WARN),
        (warn, Verdict.PASS),
        (0.0, Verdict.FAIL),
    ):
        narrow, wide = Narrowness(width, False), Narrowness(1000, False)
        strokes, gaps, *_ = check_lines(narrow, wide, limits)
        assert (strokes.verdict, gaps.verdict) == (wanted, Verdict.PASS)
        strokes, gaps, *_ = check_lines(wide, narrow, limits)
        assert (strokes.verdict, gaps.verdict) == (Verdict.PASS, wanted)


def test_each_check_reads_its_own_limits():
    limits = MeshLimits((10, 20), (30, 40), (11, 21), (31, 41))
    areas = np.full(9, 5)
    width = Narrowness(50, False)
    found = dot_checks(areas, limits) + check_lines(width, width, limits)[:2]
    assert [c.name for c in found] == [
        "smallest dot",
        "smallest shadow dot",
        "narrowest stroke",
        "narrowest gap",
    ]
    assert [(c.fail_limit, c.warn_limit, c.unit) for c in found] == [
        (10, 20, "um"),
        (30, 40, "um"),
        (11, 21, "um"),
        (31, 41, "um"),
    ]


def test_without_a_mesh_or_without_components_nothing_is_judged():
    tiny = np.array([1])
    for check in dot_checks(tiny, None):
        assert check.verdict is Verdict.PASS
        assert check.measured == pytest.approx(diameter_um(1, DPI))
    lines = check_lines(Narrowness(1, False), Narrowness(1, False), None)
    assert [check.verdict for check in lines] == [Verdict.PASS, Verdict.PASS]
    for none in dot_checks(np.empty(0, np.int64), CLASSROOM):
        assert none.measured is None
        assert none.verdict is Verdict.PASS


# The defaults of a profile, written out.
RESOLUTION = (1.0, 1.414)
MOIRE = (0.02, 0.1)


@pytest.mark.parametrize(
    ("check", "wanted"),
    [
        (check_ratio(3.5 * 45, 45, least=3.5), Verdict.PASS),
        (check_ratio(3.49 * 45, 45, least=3.5), Verdict.WARN),
        (check_ratio(62 * 2.54, 45, least=3.5), Verdict.PASS),  # 3.4996: sold as 157, and 3.5
        (check_ratio(45, 45, least=3.5), Verdict.WARN),  # warns only, however low
        (check_ratio(3.49 * 45, 45, least=3.4), Verdict.PASS),
        (check_resolution(63.63, 45, limits=RESOLUTION), Verdict.PASS),
        (check_resolution(63.62, 45, limits=RESOLUTION), Verdict.WARN),
        (check_resolution(45, 45, limits=RESOLUTION), Verdict.WARN),
        (check_resolution(44.99, 45, limits=RESOLUTION), Verdict.FAIL),
        (check_resolution(44.99, 45, limits=(0.9, 0.95)), Verdict.PASS),
        (check_line_resolution(150, 300, least=0.5), Verdict.PASS),
        (check_line_resolution(149.9, 300, least=0.5), Verdict.WARN),
        (check_line_resolution(1, 300, least=0.5), Verdict.WARN),
        (check_line_resolution(150, 300, least=0.6), Verdict.WARN),
        (check_gray_levels(64, least=64), Verdict.PASS),
        (check_gray_levels(63, least=64), Verdict.WARN),
        (check_gray_levels(2, least=64), Verdict.WARN),
        (check_gray_levels(2, least=2), Verdict.PASS),
    ],
)
def test_ratio_resolution_and_levels(check, wanted):
    assert check.verdict is wanted


@pytest.mark.parametrize(
    ("stroke", "gap", "wanted"),
    [
        (100, 150, (Verdict.PASS, Verdict.PASS)),
        (99.9, 150, (Verdict.WARN, Verdict.PASS)),
        (100, 149.9, (Verdict.PASS, Verdict.WARN)),
        (0, 0, (Verdict.WARN, Verdict.WARN)),  # warns only, however narrow
    ],
)
def test_the_stencil_has_limits_of_its_own_that_only_warn(stroke, gap, wanted):
    found = check_lines(Narrowness(stroke, False), Narrowness(gap, False), CLASSROOM)[2:]
    assert [c.name for c in found] == ["stroke for the stencil", "gap for the stencil"]
    assert tuple(c.verdict for c in found) == wanted
    assert all(c.fail_limit is None for c in found)


def test_where_nothing_narrow_was_found_the_stencil_holds_it():
    # On a fine mesh the widest disc that is tried may be narrower than the stencil's limit.
    found = check_lines(Narrowness(80, True), Narrowness(80, True), CLASSROOM)[2:]
    assert [c.verdict for c in found] == [Verdict.PASS, Verdict.PASS]


@pytest.mark.parametrize(
    ("visibility", "refuse", "wanted"),
    [
        (0.0, True, Verdict.PASS),
        (0.02, True, Verdict.PASS),
        (0.0201, True, Verdict.WARN),
        (0.1, True, Verdict.WARN),
        (0.1001, True, Verdict.FAIL),
        (1.0, False, Verdict.WARN),
    ],
)
def test_moire_warns_and_fails_over_its_limits_and_fails_only_where_asked(
    visibility, refuse, wanted
):
    check = check_moire(visibility, MOIRE, refuse=refuse, detail="bands")
    assert check.verdict is wanted
    assert (check.fail_limit is None) == (not refuse)
    assert "detail" not in check.record()


def test_the_record_shows_what_the_measurement_is_good_for():
    entry = dot_checks(np.full(3, 12), CLASSROOM)[0].record()
    assert entry == {
        "name": "smallest dot",
        "measured": 330.9,  # sqrt(4 / pi * 12) pixels of 84.67 um
        "warn_limit": 312.6,
        "fail_limit": 113.1,
        "unit": "um",
        "verdict": "pass",
    }
    assert type(entry["verdict"]) is str
    # As many digits as it takes to be under what it is under.
    told = check_moire(0.0216, MOIRE, refuse=False).record()
    assert (told["measured"], told["warn_limit"], told["fail_limit"]) == (0.022, 0.02, None)
    few = check_resolution(24.97, 25, limits=RESOLUTION).record()
    assert (few["measured"], few["fail_limit"], few["verdict"]) == (24.97, 25, "fail")


def pieces_of(*widths: float) -> ThinPieces:
    found = ThinPieces(100.0)
    found.add([ThinPiece(1, 2, 600.0, width) for width in widths])
    return found


def test_single_pieces_warn_whatever_the_share_says() -> None:
    wide, lost = Narrowness(635.0, at_least=True), Narrowness(90.0, at_least=False)
    own = MeshLimits(*(SizeLimits(100.0, 300.0),) * 4)
    thin = replace(wide, pieces=pieces_of(85.0, 42.3))
    stroke, gap, stencil, _ = check_lines(thin, wide, own)
    assert (stroke.measured, stroke.verdict) == (42.3, Verdict.WARN)
    assert stroke.record()["pieces"] == {"count": 2, "length_mm": 1.2, "narrowest_um": 42.3}
    assert (gap.measured, gap.verdict, gap.pieces) == (635.0, Verdict.PASS, None)
    assert "pieces" not in gap.record()
    # The stencil is asked after the same hairlines.
    assert (stencil.measured, stencil.verdict) == (42.3, Verdict.WARN)
    # What fails by its share is measured by it, for that is what a remedy must mend.
    failed = check_lines(replace(lost, pieces=pieces_of(42.3)), wide, own)[0]
    assert (failed.measured, failed.verdict) == (90.0, Verdict.FAIL)
    # Without a mesh they are told and not judged.
    told = check_lines(thin, wide, None)[0]
    assert (told.measured, told.verdict) == (42.3, Verdict.PASS)
    assert told.record()["pieces"]["count"] == 2


def test_a_halftone_has_the_checks_of_what_was_found() -> None:
    own = MeshLimits(*(SizeLimits(100.0, 300.0),) * 4)
    assert check_pieces(None, None, own) == []
    (gap,) = check_pieces(None, pieces_of(60.0), own)
    assert gap.name is CheckName.NARROWEST_GAP
    assert (gap.measured, gap.fail_limit, gap.verdict) == (60.0, 100.0, Verdict.WARN)
