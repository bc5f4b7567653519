"""The tone curve: gray to film tone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.pipeline.render.strips import light_rows
from filmhand.profile.model import ToneWishes
from filmhand.profile.terms import GainCurve
from filmhand.sheet.layout import Box
from filmhand.tone import (
    FULL,
    LIGHT_STEPS,
    Levels,
    light_cuts,
    linear_table,
    linear_to_srgb,
    srgb_to_linear,
    tone_steps,
)

TONES = np.linspace(0, 1, 2001)


def wishes(**given):
    return ToneWishes(**given)


def curve(levels=None, negative=False, **given):
    return tone_steps(wishes(**given), levels=levels or Levels(), negative=negative)


@pytest.mark.parametrize(
    ("code", "light"), [(0, 0.0), (10, 0.003035), (128, 0.2159), (188, 0.5029), (255, 1.0)]
)
def test_srgb_values(code, light):
    # IEC 61966-2-1:1999: code 128 is 0.2159 of white; 10 lies on the straight part, 10/255/12.92.
    assert srgb_to_linear(np.array(code / 255)) == pytest.approx(light, abs=5e-5)
    assert linear_to_srgb(np.array(light)) * 255 == pytest.approx(code, abs=0.02)


@given(st.floats(0, 1))
def test_coding_and_decoding_undo_each_other(code):
    assert linear_to_srgb(srgb_to_linear(np.array(code))) == pytest.approx(code, abs=1e-6)


def tones_by_cut(light, cuts):
    """The film tone of each light: the highest threshold that it reaches."""
    at = cuts.at[1:]
    if cuts.dark_inks:
        return np.searchsorted(-at, -light, side="right")
    return np.searchsorted(at, light, side="right")


def test_gray_140_has_tone_45_1():
    # 100 x (1 - 140 / 255) = 45.098.
    light = linear_table()[140 * 257].astype(np.float32)
    tone = tones_by_cut(light, light_cuts(curve()))
    assert tone / FULL * 100 == pytest.approx(45.1, abs=0.01)


@pytest.mark.parametrize("negative", [False, True])
def test_every_16_bit_gray_keeps_exactly_its_tone(negative):
    # 8-bit gray g is 257 g, so all of those are among them.
    gray = np.arange(FULL + 1)
    tone = tones_by_cut(
        linear_table().astype(np.float32), light_cuts(curve(negative=negative), negative=negative)
    )
    assert np.array_equal(tone, gray if negative else FULL - gray)


@pytest.mark.parametrize("negative", [False, True])
def test_light_beyond_black_and_white_is_black_and_white(negative):
    # Tones from 10 to 90 % only, so that no light of the art reaches the outer thresholds.
    made = light_cuts(lambda tone: 0.1 + 0.8 * (1 - tone if negative else tone), negative=negative)
    light = np.array([-0.5, 0, 1, 1.5], np.float32)
    black, white = round(0.9 * FULL), round(0.1 * FULL)
    wanted = [white, white, black, black] if negative else [black, black, white, white]
    assert tones_by_cut(light, made).tolist() == pytest.approx(wanted, abs=1)  # rounding


@pytest.mark.parametrize("negative", [False, True])
def test_cuts_lie_where_the_tone_rounds_to_the_threshold(negative):
    # IEC 61966-2-1 by itself: a tone of half a step under the threshold is the first that reaches
    # it. The look-up has a grid, so a single cut is off by up to half its step, but not all alike.
    at = light_cuts(curve(negative=negative), negative=negative).at[1:].astype(np.float64)
    tone = (np.arange(1, FULL + 1) - 0.5) / FULL
    exact = srgb_to_linear(tone if negative else 1 - tone)
    off = (np.sqrt(at) - np.sqrt(exact)) * LIGHT_STEPS
    assert np.abs(off).max() < 0.6
    assert abs(off.mean()) < 0.02


@pytest.mark.parametrize("size", [(37, 41), (80, 90), (50, 60)])
def test_a_flat_keeps_its_tone_through_resampling(size):
    width, height = size
    for gray in (0, 1, 77, 140, 254, 255):
        coded = np.full((60, 50), gray * 257, np.uint16)
        rows = light_rows(coded, Box(0, 0, width, height), drawn=False)
        tone = tones_by_cut(rows(3, 20), light_cuts(curve()))
        assert tone.shape == (20, width)
        assert (tone == (255 - gray) * 257).all()


def test_nothing_is_done_unless_asked():
    assert curve()(TONES) == pytest.approx(TONES, abs=1e-12)


def test_stretch_takes_the_levels_as_black_and_white():
    levels = Levels(black=FULL * 0.1, white=FULL * 0.8)  # tones 0.9 and 0.2
    made = curve(levels=levels)(np.array([0.0, 0.2, 0.55, 0.9, 1.0]))
    assert made == pytest.approx([0, 0, 0.5, 1, 1])


def test_range_turns_about_the_middle():
    tones = np.array([0.0, 0.1, 0.4, 0.5, 0.6, 0.9, 1.0])
    assert curve(contrast=2.0)(tones) == pytest.approx([0, 0, 0.3, 0.5, 0.7, 1, 1])
    assert curve(contrast=0.5)(tones) == pytest.approx([0, 0.3, 0.45, 0.5, 0.55, 0.7, 1])


def test_lift_is_points_in_the_middle():
    assert curve(midtone=10)(np.array([0, 0.5, 1])) == pytest.approx([0, 0.6, 1])
    assert curve(midtone=-10)(np.array([0, 0.5, 1])) == pytest.approx([0, 0.4, 1])


def test_clear_bares_tones_up_to_its_own():
    made = curve(dropout=5)(np.array([0.0, 0.03, 0.05, 0.0501, 1.0]))
    assert made == pytest.approx([0, 0, 0, 0.0501, 1])


@pytest.mark.parametrize(("percent", "gray"), [(20, 204), (40, 153)])
def test_dropout_clears_a_gray_of_just_that_tone(percent, gray):
    # 100 x (1 - 153 / 255) = 40, and 204 is 20: "up to this %", from the light of the art on.
    cuts = light_cuts(curve(dropout=percent))
    tone = tones_by_cut(linear_table()[[gray * 257, (gray - 1) * 257]].astype(np.float32), cuts)
    assert tone.tolist() == [0, (255 - gray + 1) * 257]


def test_gain_is_points_off_the_half_tone():
    # The press adds 4 G a (1 - a): a film tone a that prints as 0.5.
    film = float(curve(gain=20.0)(np.array([0.5]))[0])
    assert film + 4 * 0.2 * film * (1 - film) == pytest.approx(0.5)
    assert film < 0.5


@pytest.mark.parametrize("points", [0.5, 7.0, 18.0, 25.0])
def test_the_press_puts_the_gain_back(points):
    film = curve(gain=points)(TONES)
    assert film + 4 * points / 100 * film * (1 - film) == pytest.approx(TONES, abs=1e-9)


PRESS = GainCurve(((0, 0), (6, 2), (22, 22), (53, 59), (69, 84), (91, 98), (100, 100)))


def test_with_a_measured_curve_the_print_reflects_the_arts_luminance():
    # A dot of area a in an ink that reflects nothing leaves 1 - a (Murray-Davies).
    film = curve(gain=PRESS)(TONES)
    measured = np.array(PRESS.points) / 100
    printed = np.interp(film, measured[:, 0], measured[:, 1])
    assert 1 - printed == pytest.approx(srgb_to_linear(1 - TONES), abs=1e-9)


def test_hold_compresses_and_leaves_the_ends():
    made = curve(hold=(10, 85))(np.array([0.0, 0.001, 0.5, 0.999, 1.0]))
    assert made == pytest.approx([0, 0.10075, 0.475, 0.84925, 1])


def test_a_negative_is_exchanged_before_the_hold():
    made = curve(hold=(10, 70), negative=True, dropout=5)(np.array([0.0, 0.04, 0.5, 1.0]))
    # 0.04 is cleared, so solid in the negative; hold keeps its own ends.
    assert made == pytest.approx([1, 1, 0.4, 0])


def test_the_order_of_the_steps():
    tone = np.array([0.4])
    levels = Levels(black=0.0, white=FULL * 0.9)
    by_hand = (0.4 - 0.1) / 0.9  # end points
    by_hand = 0.5 + (by_hand - 0.5) * 1.5  # range
    by_hand += 4 * 0.1 * by_hand * (1 - by_hand)  # midtone
    root = np.sqrt((1 + 4 * 0.15) ** 2 - 16 * 0.15 * by_hand)  # gain
    by_hand = (1 + 4 * 0.15 - root) / (8 * 0.15)
    by_hand = 0.05 + by_hand * 0.9  # hold
    made = curve(levels=levels, contrast=1.5, midtone=10, dropout=3, gain=15.0, hold=(5, 95))(tone)
    assert made[0] == pytest.approx(by_hand)


@settings(max_examples=150, deadline=None)
@given(
    span=st.tuples(st.floats(0, 0.45), st.floats(0.55, 1)),
    contrast=st.floats(0.2, 5),
    midtone=st.floats(-25, 25),
    dropout=st.floats(0, 50),
    gain=st.one_of(st.floats(0, 25), st.just(PRESS)),
    hold=st.one_of(
        st.sampled_from(["auto", "off"]), st.tuples(st.floats(0, 40), st.floats(60, 100))
    ),
    negative=st.booleans(),
)
def test_any_curve_rises_and_keeps_bare_and_solid(
    span, contrast, midtone, dropout, gain, hold, negative
):
    made = curve(
        levels=Levels(span[0] * FULL, span[1] * FULL),
        contrast=contrast,
        midtone=midtone,
        dropout=dropout,
        gain=gain,
        hold=hold,
        negative=negative,
    )(TONES)
    if negative:
        made = made[::-1]
    assert np.isfinite(made).all()
    assert made.min() >= 0
    assert made.max() <= 1
    assert (np.diff(made) >= -1e-12).all()
    assert (made[0], made[-1]) == (0, 1)


def test_the_straight_part_of_srgb_ends_where_the_standard_says():
    # IEC 61966-2-1:1999: C / 12.92 for codes up to 0.04045, 12.92 x L for light up to 0.0031308,
    # both inclusive; the two parts do not quite meet there.
    assert srgb_to_linear(np.array(0.04045)) == 0.04045 / 12.92
    assert linear_to_srgb(np.array(0.0031308)) == 0.0031308 * 12.92
    above = np.nextafter(0.0031308, 1)
    assert linear_to_srgb(np.array(above)) == 1.055 * above ** (1 / 2.4) - 0.055
