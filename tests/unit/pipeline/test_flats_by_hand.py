"""Bands of a predicted flat: measured on waves that were put there."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.pipeline.predict import flat_tints
from filmhand.pipeline.predict.flat_tints import FoundBands
from filmhand.units import Resolution


def waves(size, dpi, period_mm, direction, height):
    """A print whose bands run along a direction, counter-clockwise as seen, rows downward."""
    rows, columns = np.mgrid[: size[0], : size[1]]
    x, y = columns / dpi.x * 25.4, -rows / dpi.y * 25.4
    across = np.radians(direction + 90)
    return 0.5 + height * np.cos(
        2 * np.pi * (x * np.cos(across) + y * np.sin(across)) / period_mm + 0.7
    )


@pytest.mark.parametrize("dpi", [Resolution(100, 100), Resolution(100, 200), Resolution(650, 300)])
@pytest.mark.parametrize(
    ("period_mm", "direction"), [(5.0, 0.0), (5.0, 90.0), (7.3, 30.0), (4.1, 135.0), (9.9, 171.0)]
)
def test_bands_are_as_far_apart_as_strong_and_run_as_they_do(period_mm, direction, dpi):
    size = round(50 / 25.4 * dpi.y), round(50 / 25.4 * dpi.x)
    print_ = waves(size, dpi, period_mm, direction, 0.03)
    found = flat_tints._peak(np.full(size, 0.5), print_, dpi, 60.0, 30)
    assert found.period_mm == pytest.approx(period_mm, rel=0.01)
    assert (found.direction - direction + 90) % 180 == pytest.approx(90, abs=1)
    # Between two frequencies a wave shows up to 15 % weaker each way under a Hann window.
    assert 0.85**2 * 3 <= found.change <= 3.03
    assert found.tone == 30


DPI = Resolution(100, 100)
SIZE = (197, 197)


def test_bands_are_told_from_a_fifth_of_a_point_on_and_twice_those_of_the_film():
    bare = np.full(SIZE, 0.5)

    def seen(height, on_film=0.0):
        film = waves(SIZE, DPI, 5.0, 0.0, on_film)
        return flat_tints._peak(film, waves(SIZE, DPI, 5.0, 0.0, height), DPI, 60.0, 30) is not None

    assert not seen(0.0018) and seen(0.0026)
    assert seen(0.02, on_film=0.009) and not seen(0.02, on_film=0.011)
    assert flat_tints._peak(bare, bare, DPI, 60.0, 30) is None


@pytest.mark.parametrize(("period_mm", "told"), [(16.0, True), (60.0, False), (1.2, False)])
def test_what_is_too_slow_or_too_fast_to_be_bands_is_not_told(period_mm, told):
    # Half of the patch of 50 mm at the slowest, three lines of a ruling of 60 at the fastest.
    found = flat_tints._peak(
        np.full(SIZE, 0.5), waves(SIZE, DPI, period_mm, 90.0, 0.05), DPI, 60.0, 30
    )
    if told:
        assert found.period_mm == pytest.approx(period_mm, rel=0.1)
    else:
        assert found is None or found.period_mm != pytest.approx(period_mm, rel=0.1)


def test_a_record_is_rounded_to_what_it_is_good_for():
    assert FoundBands(1.23456, 12.3456, 0.98765, 50).record() == {
        "period_mm": 1.23, "direction": 12.3, "change_points": 0.99, "tone_pct": 50,
    }  # fmt: skip


def test_blocks_are_averaged_and_what_is_left_over_cut_off():
    picture = np.arange(35.0).reshape(5, 7)
    averaged = flat_tints._averaged(picture, (2, 3))
    assert averaged.tolist() == [[4.5, 7.5], [18.5, 21.5]]


@pytest.mark.parametrize("off", [-0.4, 0.0, 0.3])
def test_a_peak_lies_at_the_top_of_a_parabola_through_logarithms(off):
    line = np.exp(-((np.arange(7) - 3 - off) ** 2))
    assert flat_tints._offset(line, 3) == pytest.approx(off, abs=1e-9)


def test_at_an_end_and_in_a_dip_a_peak_is_where_it_is():
    line = np.array([3.0, 2.0, 2.0, 2.0, 5.0, 1.0, 4.0])
    assert [flat_tints._offset(line, place) for place in (0, 6, 2, 5)] == [0, 0, 0, 0]
    assert flat_tints._offset(np.array([1.0, 2.0, 1.99999999]), 1) == pytest.approx(0.5, abs=1e-6)


def test_a_transform_gives_the_height_of_a_wave():
    rows = np.arange(64)
    picture = 0.3 + 0.2 * np.cos(2 * np.pi * 8 * rows / 64)[:, None] * np.ones(48)
    found = flat_tints._transform(picture)
    assert found[8, 0] == pytest.approx(0.2, rel=1e-6)
    assert found.shape == (64, 25)
    assert found[0, 0] == pytest.approx(0, abs=1e-9)
