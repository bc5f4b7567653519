from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.analysis.auto_levels import (
    IDENTITY,
    auto_levels,
    describe_levels,
    percentile_codes,
)


def ramp(low: int, high: int) -> np.ndarray:
    return np.linspace(low, high, 90_000).round().astype(np.uint16).reshape(300, 300)


def test_faded_photo_is_stretched_to_its_ends() -> None:
    black, white = auto_levels(ramp(8000, 60000), drawn=False)
    assert black == pytest.approx(8000, abs=100) and white == pytest.approx(60000, abs=100)


def test_contrast_at_most_doubles_and_the_middle_stays() -> None:
    black, white = auto_levels(ramp(30000, 35000), drawn=False)
    assert white - black == pytest.approx(65535 / 2, abs=1)
    assert (32500 - black) / (white - black) == pytest.approx(32500 / 65535, abs=0.02)
    assert 0 <= black < white <= 65535


@pytest.mark.parametrize(("low", "high"), [(0, 9000), (56000, 65535), (0, 20000)])
def test_ends_never_leave_the_range(low: int, high: int) -> None:
    black, white = auto_levels(ramp(low, high), drawn=False)
    assert 0 <= black <= low + 100 and high - 100 <= white <= 65535
    assert white - black >= 65535 // 2 - 1


@pytest.mark.parametrize(
    "coded",
    [ramp(0, 65535), ramp(300, 65000), np.full((50, 50), 30000, np.uint16), ramp(40000, 41000)],
    ids=["full", "nearly full", "flat", "blank paper"],
)
def test_little_to_gain_or_blank_is_left_alone(coded: np.ndarray) -> None:
    assert auto_levels(coded, drawn=False) == IDENTITY


def test_drawn_art_is_left_alone() -> None:
    assert auto_levels(ramp(8000, 50000), drawn=True) == IDENTITY


def test_a_few_stray_pixels_do_not_count() -> None:
    coded = ramp(10000, 50000)
    coded[0, :40], coded[1, :40] = 0, 65535
    black, white = auto_levels(coded, drawn=False)
    assert black > 9900 and white < 50100


def test_percentiles_clip_what_they_say() -> None:
    coded = ramp(0, 65535)
    black, white = percentile_codes(coded, black=5, white=10)
    assert (coded <= black).mean() == pytest.approx(0.05, abs=0.002)
    assert (coded >= white).mean() == pytest.approx(0.10, abs=0.002)


def test_sentence() -> None:
    assert describe_levels(IDENTITY) is None
    assert describe_levels((257 * 20, 257 * 220)) == (
        "Tones were stretched: 92 % tone became solid and 14 % clear film (tone: {endpoints: off} "
        "leaves them)."
    )
