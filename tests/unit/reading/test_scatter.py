"""Errors of tones by what neighbors differ by, and two ways of telling tones as one."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.reading.reading import PatchReading
from filmhand.reading.scatter import both_ways, tone_scatter, with_scatter
from filmhand.sheet.wedge_layout import FEWER_TONES

FILM = np.array(FEWER_TONES, float)
PRINTED = FILM + 14 * np.sin(np.pi * FILM / 100)


def tones(measured, error=0.2):
    return [PatchReading(f, float(m), error) for f, m in zip(FILM, measured, strict=True)]


def noise(points, seed=1):
    return np.random.default_rng(seed).normal(0, points, len(FILM))


def test_a_smooth_press_has_no_scatter():
    assert tone_scatter(tones(PRINTED)).max() < 0.1
    assert [one.error_pct for one in with_scatter(tones(PRINTED))] == [0.2] * len(FILM)


@pytest.mark.parametrize("points", [0.5, 2.0])
def test_the_scatter_of_many_readings_is_the_noise_that_they_have(points):
    found = [tone_scatter(tones(PRINTED + noise(points, seed))) for seed in range(60)]
    assert np.sqrt(np.mean(np.square(found))) == pytest.approx(points, rel=0.25)


def test_too_few_tones_tell_no_scatter():
    assert not tone_scatter(tones(PRINTED)[:8]).any()


def test_what_sees_the_ink_better_counts_most():
    noisy, clean = tones(PRINTED + noise(3)), tones(PRINTED + noise(0.2, 2))
    joined, share = both_ways(noisy, clean)
    assert share < 0.2
    assert np.abs([one.measured_pct for one in joined] - PRINTED).max() < 1.5
    assert both_ways(clean, noisy)[1] > 0.9


def test_where_both_are_smooth_and_differ_neither_is_believed_alone():
    bent = PRINTED + 2.0 * np.sin(np.pi * FILM / 100)
    joined, share = both_ways(tones(PRINTED), tones(bent))
    assert share == pytest.approx(8 / 9, abs=0.02)
    errors = [one.error_pct for one in joined]
    assert errors[FEWER_TONES.index(50)] > 0.45 > errors[0]
    alike, _ = both_ways(tones(PRINTED), tones(PRINTED))
    assert max(one.error_pct for one in alike) == pytest.approx(0.2)
