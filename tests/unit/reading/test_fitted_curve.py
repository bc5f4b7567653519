"""A press curve through readings: blended by their errors, without outliers, rising, inverted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from filmhand.errors import Refused
from filmhand.reading.fitted_curve import _risen, fit_curve
from filmhand.reading.reading import PatchReading, ReadOf, WedgeReading
from filmhand.sheet.wedge_layout import ALL_TONES
from filmhand.tone import curve_through

# Film % to print %: SEFAR, Half-tone printing process line (sefar.com, article 6566571), and
# Precise Media, Presto CD artwork (precisemedia.com).
SEFAR = np.array([
    (0, 0), (1, 0), (6, 2), (11, 7), (17, 15), (22, 22), (32, 35), (40, 44), (47, 53), (53, 59),
    (63, 76), (69, 84), (76, 89), (83, 94), (91, 98), (99, 100), (100, 100),
], float)  # fmt: skip
PRECISE = np.array([
    (0, 0), (6, 0), (10, 6), (20, 15), (30, 25), (40, 35), (50, 45), (60, 55), (70, 72), (80, 82),
    (90, 92), (95, 96), (97, 100), (100, 100),
], float)  # fmt: skip
TONES = np.array(ALL_TONES, float)


def reading_of(curve, *, seed=0, noise=0.0, bad=None, error=None, **more):
    measured = np.interp(TONES, *curve.T) + noise * np.random.default_rng(seed).standard_normal(
        TONES.size
    )
    for tone, wrong in (bad or {}).items():
        measured[tone == TONES] = wrong
    patches = zip(TONES, measured, strict=True)
    return WedgeReading(
        more.pop("of", ReadOf.PRINT),
        "code",
        tuple(PatchReading(tone, value, error or max(noise, 0.2)) for tone, value in patches),
        **more,
    )


@pytest.mark.parametrize("curve", [SEFAR, PRECISE], ids=["sefar", "precise"])
@pytest.mark.parametrize("seed", range(5))
def test_noise_is_smoothed_and_the_curve_stays_true(curve, seed):
    fitted = fit_curve([reading_of(curve, seed=seed, noise=0.6)])
    film, printed = np.array(fitted.points).T
    off = np.abs(printed - np.interp(film, *curve.T))
    assert off.max() <= 1.8
    assert np.sqrt(np.mean(off**2)) <= 0.6
    assert (np.diff(film) > 0).all()
    assert (np.diff(printed) >= 0).all()
    assert fitted.notes == ()


@pytest.mark.parametrize("curve", [SEFAR, PRECISE], ids=["sefar", "precise"])
def test_forward_of_the_inverse_gives_back_what_was_wanted(curve):
    press = curve_through(fit_curve([reading_of(curve, seed=3, noise=0.4)]).points)
    wanted = np.linspace(0, 1, 2001)
    assert np.abs(press.print_of(press.film_for(wanted)) - wanted).max() * 100 <= 0.01


def test_the_inverse_is_that_of_another_library():
    # SciPy's monotone cubics through the published pairs, turned about by its own root finding.
    press, other = curve_through([tuple(pair) for pair in SEFAR]), PchipInterpolator(*SEFAR.T)
    for wanted in (5, 10, 20, 30, 40, 50, 60, 70, 75, 80, 90, 95):
        (film,) = other.solve(wanted, extrapolate=False)
        assert 100 * press.film_for(np.array(wanted / 100)) == pytest.approx(film, abs=0.02)
    assert 100 * press.film_for(np.array(0.5)) == pytest.approx(44.6, abs=0.1)


def test_a_fold_is_pooled_as_another_library_does():
    values = np.random.default_rng(1).normal(np.linspace(0, 9, 40), 2)
    weight = np.random.default_rng(2).uniform(0.1, 5, 40)
    assert _risen(values, weight) == pytest.approx(isotonic_regression(values, weights=weight).x)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.floats(-5, 105), min_size=35, max_size=35), st.floats(0.1, 30))
def test_whatever_was_read_the_curve_rises_from_bare_to_solid_or_is_refused(measured, error):
    patches = [
        PatchReading(tone, value, error) for tone, value in zip(TONES[1:-1], measured, strict=True)
    ]
    try:
        fitted = fit_curve([WedgeReading(ReadOf.PRINT, "code", tuple(patches))])
    except Refused:
        return
    film, printed = np.array(fitted.points).T
    assert (np.diff(film) > 0).all()
    assert (np.diff(printed) >= 0).all()
    assert fitted.points[0] == (0, 0)
    assert fitted.points[-1] == (100, 100)


def test_a_tone_out_of_line_is_left_out_and_told():
    fitted = fit_curve([reading_of(SEFAR, noise=0.3, bad={45: 30.0})])
    (note,) = fitted.notes
    assert "film tone 45.0 % was read as 30.0 %" in note
    film, printed = np.array(fitted.points).T
    assert 45 not in film
    assert np.abs(printed - np.interp(film, *SEFAR.T)).max() < 1.5
    assert 45 in [tone.film_pct for tone in fitted.tones]


def test_repeats_are_blended_by_their_errors():
    sharp, rough = reading_of(SEFAR, error=0.2), reading_of(SEFAR + np.array([0, 2]), error=2.0)
    tones = {tone.film_pct: tone for tone in fit_curve([sharp, rough]).tones}
    # Weights of 25 and 0.25 by the errors, so 2 points of difference count 0.02.
    assert tones[50].measured_pct == pytest.approx(np.interp(50, *SEFAR.T) + 0.02, abs=0.01)


def test_of_several_readings_the_one_that_is_off_is_left_out():
    three = [reading_of(SEFAR), reading_of(SEFAR), reading_of(SEFAR, bad={50: 70})]
    fitted = fit_curve(three)
    assert len(fitted.notes) == 1
    assert "film tone 50.0 % was read as 70.0 %" in fitted.notes[0]
    at_50 = next(tone for tone in fitted.tones if tone.film_pct == 50)
    assert at_50.measured_pct == pytest.approx(np.interp(50, *SEFAR.T))


def test_two_readings_that_do_not_agree_are_told():
    fitted = fit_curve([reading_of(SEFAR), reading_of(SEFAR, bad={50: 65})])
    assert "do not agree on the film tone 50.0 %" in fitted.notes[0]


def test_ink_that_was_not_seen_is_none():
    press = curve_through(fit_curve([reading_of(PRECISE, noise=0.3, seed=4)]).points)
    assert press.print_of(np.array([0.04])) == 0
    assert 100 * press.film_for(np.array(0.005)) > 4


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        ([reading_of(SEFAR, of=ReadOf.FILM)], "is a scan of the film"),
        ([WedgeReading(ReadOf.PRINT, "", reading_of(SEFAR).patches[:5])], "Only 4 tones"),
        (
            [reading_of(SEFAR, bad=dict.fromkeys((5, 15, 25, 35, 45, 55, 65, 75), 50.0))],
            "of 35 tones are out of line",
        ),
    ],
)
def test_what_gives_no_curve_is_refused(readings, says):
    with pytest.raises(Refused, match=says):
        fit_curve(readings)
