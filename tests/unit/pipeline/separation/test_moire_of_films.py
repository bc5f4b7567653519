"""The bands of the films of a set with each other."""

from __future__ import annotations

from math import cos, radians, sin, sqrt

import numpy as np
import pytest

from filmhand.ink.cielab import lab_to_xyz
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.mesh.moire.bands import screen_vectors
from filmhand.mesh.moire.fourier_orders import strength_in_windows
from filmhand.mesh.moire.visibility import Sight
from filmhand.pipeline.separation.moire_advice import turn_that_passes
from filmhand.pipeline.separation.moire_of_films import ROSETTE_CELLS, FilmScreen, moire_of_films
from filmhand.profile.terms import MoireLimits

CYAN, MAGENTA, YELLOW, BLACK = (
    PrintingInk(np.array(lab, float))
    for lab in ((55, -37, -50), (48, 74, -3), (89, -5, 93), (16, 0, 0))
)
WHITE = np.array([100.0, 0.0, 0.0])
SIGHT = Sight(500.0)


def discs(orders):
    """Discs of 30 %, by integrating the Bessel function's integral (DLMF 10.9.2)."""
    turn = (np.arange(400) + 0.5) * np.pi / 400
    x = 2 * np.pi * np.sqrt(0.3 / np.pi) * np.hypot(*orders[:, :2].T)[:, None]
    return np.abs(2 / x[:, 0] * np.cos(turn - x * np.sin(turn)).mean(axis=1))


def bands(inks, angles, *, lpi=65.0, sight=SIGHT, most=4000):
    """All bands of screens of these angles, one of the rulings each."""
    rulings = np.broadcast_to(lpi, len(angles))
    screens = [
        FilmScreen(screen_vectors(float(ruling), angle), discs)
        for ruling, angle in zip(rulings, angles, strict=True)
    ]
    return moire_of_films(screens, print_model(inks, WHITE), sight, most=most)


def of_orders(found, *orders):
    """The one of these orders, or of their reverse."""
    reverse = tuple((-i, -j) for i, j in orders)
    (one,) = [each for each in found if each.orders in (orders, reverse)]
    return one


@pytest.mark.outside
@pytest.mark.parametrize(
    ("apart", "cells"), [(5, 11.46), (7.5, 7.65), (15, 3.83), (22.5, 2.56), (30, 1.93), (45, 1.31)]
)
def test_two_screens_beat_by_the_angle_between_them(apart, cells):
    found = bands([CYAN, BLACK], [10, 10 + apart])
    period = of_orders(found, (1, 0), (-1, 0)).period_mm
    assert period / 25.4 * 65 == pytest.approx(cells, abs=0.006)


@pytest.mark.outside
def test_two_rulings_beat_by_the_usual_formula():
    one, other, turn = 25.4 / 65, 25.4 / 55, radians(11)
    period = one * other / sqrt(one**2 + other**2 - 2 * one * other * cos(turn))
    found = of_orders(bands([CYAN, BLACK], [20, 31], lpi=[65, 55]), (1, 0), (-1, 0))
    assert found.period_mm == pytest.approx(period)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("turned", "finer", "inches"), [(0.1, 0, 8.8), (0.5, 0, 1.8), (0, 0.001, 15.4), (0, 0.01, 1.5)]
)
def test_a_rosette_drifts_where_one_of_three_screens_is_off(turned, finer, inches):
    lpi = [65, 65 * (1 + finer), 65]
    found = bands([CYAN, MAGENTA, BLACK], [15, 75 + turned, 45], lpi=lpi)
    drift = of_orders(found, (-1, 0), (1, 0), (0, -1))
    assert drift.period_mm / 25.4 == pytest.approx(inches, abs=0.05)


def test_exact_screens_30_degrees_apart_lock():
    found = bands([CYAN, MAGENTA, BLACK], [15, 75, 45])
    assert not [one for one in found if one.orders == ((-1, 0), (1, 0), (0, -1))]
    assert max(one.period_mm for one in found) < 20


def test_directions_are_as_seen():
    found = of_orders(bands([CYAN, BLACK], [0, 10]), (1, 0), (-1, 0))
    x, y = 1 - cos(radians(10)), -sin(radians(10))
    assert found.direction == pytest.approx((np.degrees(np.arctan2(y, x)) + 90) % 180)


@pytest.mark.parametrize("opacity", [0.0, 0.4, 1.0])
def test_strengths_are_those_of_a_print_made_pixel_by_pixel(opacity):
    # Square dots on whole pixels: the exact print, and its wave by the discrete transform. Periods
    # without a common part have no two pairs of orders of one frequency.
    size, first, second = 110, 10, 11
    ink = [PrintingInk(CYAN.color, opacity), PrintingInk(BLACK.color, opacity)]
    model = print_model(ink, WHITE)
    y, x = np.mgrid[:size, :size]
    films = [(x % p < side) & (y % p < side) for p, side in ((first, 5), (second, 7))]
    light = lab_to_xyz(model.screened(np.stack(films, axis=-1).astype(float)))[..., 1]

    def strength(cell, period):
        cell = cell[:period, :period]
        waves = np.abs(np.fft.fft2(cell)) / period**2
        # Relative to the 30 % that all strengths count as.
        return lambda orders: waves[orders[:, 1] % period, orders[:, 0] % period] / 0.3

    screens = [
        FilmScreen(np.eye(2) * size / period, strength(film, period))
        for film, period in zip(films, (first, second), strict=True)
    ]
    found = of_orders(moire_of_films(screens, model, Sight(1e9), most=4000), (1, 0), (-1, 0))
    # The two frequencies are 11 and 10 waves across the sheet.
    wave = 2 * np.abs(np.fft.fft2(light))[0, 1] / size**2
    a = 0.3
    y00, y10, y01, y11 = lab_to_xyz(
        model.screened(np.array([[0, 0], [1, 0], [0, 1], [1, 1]], float))
    )[:, 1]
    mean = (1 - a) ** 2 * y00 + a * (1 - a) * (y10 + y01) + a * a * y11
    assert found.strength * mean == pytest.approx(wave, rel=1e-9)


def test_yellow_at_half_the_angle_is_seen_less_than_the_others():
    inks = [CYAN, MAGENTA, YELLOW, BLACK]
    limit = MoireLimits().warn
    trade = bands(inks, [22.5, 82.5, 7.5, 52.5], lpi=45.0)
    assert trade[0].visibility < limit
    swapped = bands(inks, [22.5, 82.5, 52.5, 7.5], lpi=45.0)
    assert swapped[0].visibility > 1.5 * trade[0].visibility
    near = bands(inks, [22.5, 27.5, 7.5, 52.5], lpi=45.0)
    assert near[0].visibility > limit
    assert near[0].films == (0, 1)


def test_finished_films_have_the_bands_of_their_dots():
    y, x = np.mgrid[:600, :600]
    film = (x % 12 < 6) & (y % 12 < 6)

    def finished(orders):
        return strength_in_windows([film], orders[:, :2] / 12)

    blank = FilmScreen(
        np.eye(2) * 50, lambda orders: strength_in_windows([film & 0], orders[:, :2])
    )
    screen = FilmScreen(np.eye(2) * 50, finished)
    other = FilmScreen(screen_vectors(50, 6), discs)
    model = print_model([CYAN, BLACK], WHITE)
    assert moire_of_films([screen, other], model, SIGHT)[0].visibility > 0.02
    assert moire_of_films([blank, other], model, SIGHT)[0].visibility == 0


def test_films_without_a_screen_and_lines():
    lines = FilmScreen(screen_vectors(45, 20, lines=True), lambda orders: np.full(len(orders), 0.5))
    model = print_model([CYAN, MAGENTA, BLACK], WHITE)
    dots = FilmScreen(screen_vectors(45, 22), discs)
    found = moire_of_films([lines, None, dots], model, SIGHT, most=10)
    assert {one.films for one in found} == {(0, 2)}
    assert all(one.orders[0][0] == 0 for one in found)
    with pytest.raises(ValueError, match="2 screens"):
        moire_of_films([lines, dots], model, SIGHT)


def test_an_angle_is_named_by_which_bands_pass():
    angles = [22.5, 37.5]
    screens = [FilmScreen(screen_vectors(35.0, angle), discs) for angle in angles]
    model = print_model([PrintingInk(CYAN.color, 1.0), PrintingInk(BLACK.color, 1.0)], WHITE)
    options = {"most": 1, "shortest": ROSETTE_CELLS}
    (seen,) = moire_of_films(screens, model, SIGHT, **options)
    assert seen.period_mm / 25.4 * 35 == pytest.approx(3.83, abs=0.006)
    limit = seen.visibility / 3
    better = turn_that_passes(screens, model, SIGHT, seen, limit)
    assert better is not None
    angles[better.film] += better.turn
    assert abs((angles[1] - angles[0] + 45) % 90 - 45) >= 30
    turned = [FilmScreen(screen_vectors(35.0, angle), discs) for angle in angles]
    left = moire_of_films(turned, model, SIGHT, **options)
    assert not left or left[0].visibility <= limit
    assert turn_that_passes(screens, model, SIGHT, seen, -1.0) is None


def test_the_rosette_of_the_trades_offset_is_no_band():
    found = bands([CYAN, BLACK], [15, 45], lpi=35.0)
    assert of_orders(found, (1, 0), (-1, 0)).period_mm / 25.4 * 35 < ROSETTE_CELLS
