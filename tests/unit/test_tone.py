"""The tone curve: gray to film tone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from filmhand.pipeline.render.strips import LightRows
from filmhand.profile.model import ToneWishes
from filmhand.profile.terms import Aim
from filmhand.sheet.layout import Box
from filmhand.tone import (
    FULL,
    LIGHT_STEPS,
    Levels,
    PressCurve,
    curve_through,
    light_cuts,
    linear_table,
    linear_to_srgb,
    srgb_to_linear,
    tone_steps,
)

TONES = np.linspace(0, 1, 2001)


def wishes(**given):
    return ToneWishes(**given)


def curve(levels=None, negative=False, press=None, **given):
    return tone_steps(wishes(**given), levels=levels or Levels(), negative=negative, press=press)


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
        rows = LightRows(coded, Box(0, 0, width, height), drawn=False)
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


# SEFAR, Half-tone printing process line (sefar.com, article 6566571): film %, print %.
SEFAR = [(0, 0), (1, 0), (6, 2), (11, 7), (17, 15), (22, 22), (32, 35), (40, 44), (47, 53)]
SEFAR += [(53, 59), (63, 76), (69, 84), (76, 89), (83, 94), (91, 98), (99, 100), (100, 100)]
PRESS = curve_through(SEFAR)


def test_a_curve_through_points_passes_them_and_never_falls():
    film, printed = np.array(SEFAR).T / 100
    assert PRESS.print_of(film) == pytest.approx(printed, abs=1e-12)
    assert (np.diff(PRESS.print_of(TONES)) >= 0).all()
    assert PRESS.print_of(np.array([0.005, 0.995])) == pytest.approx([0, 1])


def test_a_curve_through_points_is_that_of_another_library():
    film, printed = np.array(SEFAR).T / 100
    theirs = PchipInterpolator(film, printed)(TONES)
    inner = (film[1] < TONES) & (film[-2] > TONES)  # its end slopes are taken another way
    assert PRESS.print_of(TONES)[inner] == pytest.approx(theirs[inner], abs=2e-4)


@pytest.mark.parametrize(
    ("wanted", "film"),
    [
        *[(5, 9.27), (10, 13.39), (20, 20.55), (30, 28.01), (40, 36.46), (50, 44.57)],
        *[(60, 53.76), (70, 59.50), (75, 62.35), (80, 65.71), (90, 77.36), (95, 84.71)],
    ],
)
def test_what_the_film_must_be_for_a_published_press(wanted, film):
    # Worked out from the same published line with another library's monotone cubic pieces.
    assert 100 * PRESS.film_for(np.array([wanted / 100]))[0] == pytest.approx(film, abs=0.02)


def test_what_a_press_makes_of_the_film_that_was_asked_is_what_was_wanted():
    assert PRESS.print_of(PRESS.film_for(TONES)) == pytest.approx(TONES, abs=1e-4)
    assert PRESS.film_for(np.array([0.0, 1.0])).tolist() == [0, 1]


def test_by_tone_the_print_covers_the_tone_and_by_luminance_it_reflects_what_the_art_does():
    # A dot of area a in an ink that reflects nothing leaves 1 - a (A. Murray, J. Franklin Inst.
    # 221, 1936); code 128 is 0.2159 of white (IEC 61966-2-1), so 78.4 % must be inked.
    assert PRESS.print_of(curve(press=PRESS)(TONES)) == pytest.approx(TONES, abs=1e-4)
    film = curve(press=PRESS, aim=Aim.LUMINANCE)(TONES)
    assert 1 - PRESS.print_of(film) == pytest.approx(srgb_to_linear(1 - TONES), abs=1e-4)
    nothing = PressCurve(np.array([0.0, 1.0]), np.array([0.0, 1.0]))
    film = curve(press=nothing, aim=Aim.LUMINANCE)(np.array([1 - 128 / 255]))
    assert film[0] == pytest.approx(0.784, abs=5e-4)


def test_what_is_not_screened_knows_no_aim_and_no_gain():
    assert curve(aim=Aim.LUMINANCE, gain=20.0)(TONES) == pytest.approx(TONES, abs=1e-12)


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
    assert by_hand < 0.6
    by_hand /= 1.5  # gain: a press that prints 40 as 60
    press = PressCurve(np.array([0, 0.4, 1]), np.array([0, 0.6, 1]))
    by_hand = 0.05 + by_hand * 0.9  # hold
    made = curve(levels, press=press, contrast=1.5, midtone=10, dropout=3, hold=(5, 95))(tone)
    assert made[0] == pytest.approx(by_hand)


@settings(max_examples=150, deadline=None)
@given(
    span=st.tuples(st.floats(0, 0.45), st.floats(0.55, 1)),
    contrast=st.floats(0.2, 5),
    midtone=st.floats(-25, 25),
    dropout=st.floats(0, 50),
    press=st.sampled_from([None, PRESS]),
    aim=st.sampled_from(list(Aim)),
    hold=st.one_of(
        st.sampled_from(["auto", "off"]), st.tuples(st.floats(0, 40), st.floats(60, 100))
    ),
    negative=st.booleans(),
)
def test_any_curve_rises_and_keeps_bare_and_solid(
    span, contrast, midtone, dropout, press, aim, hold, negative
):
    made = curve(
        levels=Levels(span[0] * FULL, span[1] * FULL),
        contrast=contrast,
        midtone=midtone,
        dropout=dropout,
        press=press,
        aim=aim,
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


def test_codes_below_0_have_light_below_0():
    assert srgb_to_linear(np.array([-0.2, 0.0])).tolist() == [-0.2 / 12.92, 0.0]
