"""Limits and verdicts."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.checks import (
    Verdict,
    check_beat,
    check_dots,
    check_holes,
    check_levels,
    check_line_resolution,
    check_ratio,
    check_resolution,
    low_quantile,
)
from filmhand.mesh.limits import (
    MeshLimits,
    best_lpi,
    diameter_um,
    pixels_of_circle,
    smallest_tone,
)
from filmhand.mesh.table import read_mesh
from filmhand.units import Resolution

DPI = Resolution(300, 300)


def limits(name: str = "43-80") -> MeshLimits:
    mesh = read_mesh(name)
    assert mesh is not None
    return MeshLimits.of(mesh)


def test_limits_are_threads_and_openings() -> None:
    found = limits()
    assert found.dot_fail_um == pytest.approx(2**0.5 * 80)
    assert found.hole_fail_um == pytest.approx(10000 / 43 - 80)
    assert found.dot_warn_um == found.hole_warn_um == pytest.approx(10000 / 43 + 80)


@pytest.mark.parametrize("dpi", [DPI, Resolution(600, 1200), Resolution(720, 720)])
@pytest.mark.parametrize("size", [44.0, 113.1, 312.6])
def test_pixels_of_a_circle_are_enough_and_not_one_more(dpi: Resolution, size: float) -> None:
    pixels = pixels_of_circle(size, dpi)
    assert diameter_um(pixels, dpi) >= size * (1 - 1e-9)
    assert pixels == 1 or diameter_um(pixels - 1, dpi) < size


@pytest.mark.parametrize(
    ("small", "count", "verdict"),
    [
        (0, 1000, "pass"),
        (1, 1000, "pass"),
        (2, 1000, "fail"),
        (1, 999, "fail"),
        (10, 10_000, "pass"),
    ],
)
def test_dots_fail_when_more_than_a_thousandth_is_too_small(
    small: int, count: int, verdict: str
) -> None:
    # 1 pixel at 300 dpi is 95.5 um across, under sqrt(2) threads of 80 um; 20 are 427 um.
    areas = np.array([1] * small + [20] * (count - small))
    assert check_dots(areas, DPI, limits()).verdict == verdict


def test_the_measure_is_the_quantile_that_the_rule_is_about() -> None:
    areas = np.arange(1, 5001)
    assert low_quantile(areas) == 6  # five of 5000 are a thousandth; the sixth makes it more
    assert low_quantile(np.array([], np.int64)) is None


def test_a_size_at_the_limit_fails_and_at_the_warn_limit_passes() -> None:
    exact = MeshLimits(diameter_um(5, DPI), diameter_um(9, DPI), diameter_um(5, DPI), 1e6)
    for area, verdict in ((5, Verdict.FAIL), (6, Verdict.WARN), (9, Verdict.PASS)):
        assert check_dots(np.full(50, area), DPI, exact).verdict is verdict


def test_without_dots_or_mesh_nothing_is_judged() -> None:
    assert check_dots(np.array([], np.int64), DPI, limits()).verdict is Verdict.PASS
    check = check_holes(np.array([1, 1]), DPI, None)
    assert (check.warn_limit, check.fail_limit, check.verdict) == (None, None, Verdict.PASS)
    assert check.measured == pytest.approx(95.5, abs=0.1)


def test_resolution_ratio_levels_and_beat() -> None:
    assert check_resolution(24.9, 25).verdict is Verdict.FAIL
    assert check_resolution(35, 25).verdict is Verdict.WARN
    assert check_resolution(36, 25).verdict is Verdict.PASS
    assert check_line_resolution(299, 600).verdict is Verdict.WARN
    assert check_line_resolution(300, 600).verdict is Verdict.PASS
    assert check_ratio(109.2, 35).verdict is Verdict.WARN
    assert check_ratio(109.2, 25).verdict is Verdict.PASS
    assert check_levels(45).verdict is Verdict.WARN
    assert check_levels(64).verdict is Verdict.PASS
    assert check_beat(8, 25, refuse=False).verdict is Verdict.WARN
    assert check_beat(8, 25, refuse=True).verdict is Verdict.FAIL
    assert check_beat(3, 25, refuse=True).verdict is Verdict.PASS


def test_records_are_rounded_and_complete() -> None:
    record = check_dots(np.full(50, 20), DPI, limits()).record()
    assert record == {
        "name": "smallest dot", "measured": 427.3, "warn_limit": 312.6, "fail_limit": 113.1,
        "unit": "um", "verdict": "pass",
    }  # fmt: skip


def test_smallest_tone_and_best_ruling_agree() -> None:
    mesh = read_mesh("90-48")
    assert mesh is not None
    size = MeshLimits.of(mesh).dot_warn_um
    assert smallest_tone(size, best_lpi(mesh)) == pytest.approx(0.10)
