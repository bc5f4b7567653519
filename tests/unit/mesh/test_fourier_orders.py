"""Fourier coefficients of dots and threads, against numerical transforms of drawn ones."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.moire.fourier_orders import (
    bessel_j1,
    disc_strength,
    dot_strength,
    mesh_strength,
    stripe_strength,
)

PIXELS = 1024


def drawn(inside):
    """Coefficients of one drawn cell relative to its mean, by fast Fourier transform."""
    spectrum = np.abs(np.fft.fft2(inside.astype(float)))
    return spectrum / spectrum[0, 0]


def test_the_bessel_function_is_the_one_of_its_integral():
    # NIST Digital Library of Mathematical Functions, 10.9.2; the midpoint rule is exact here.
    x = np.linspace(0, 300, 3001)
    turn = (np.arange(1000) + 0.5) * np.pi / 1000
    integral = np.cos(turn - x[:, None] * np.sin(turn)).mean(axis=1)
    assert np.abs(bessel_j1(x) - integral).max() < 1e-8


@pytest.mark.parametrize("tone", [0.1, 0.3, 0.5, 0.7, 0.85, 0.95])
def test_discs_are_as_strong_as_drawn_ones(tone):
    y, x = (np.mgrid[:PIXELS, :PIXELS] + 0.5) / PIXELS - 0.5
    share = tone if tone <= np.pi / 4 else 1 - tone
    disc = np.hypot(x, y) <= np.sqrt(share / np.pi)
    spectrum = drawn(disc if tone <= np.pi / 4 else ~disc)
    for i, j in ((0, 0), (1, 0), (1, 1), (2, 1), (3, 3), (4, 0), (5, 2), (8, 1)):
        told = disc_strength(np.array([i * i + j * j]), tone)[0]
        assert told == pytest.approx(spectrum[i, j], abs=1e-3)


def test_threads_are_as_strong_as_drawn_ones():
    opening = 600
    line = np.arange(1000) < opening
    spectrum = drawn(line[:, None] & line)
    orders = np.array([(m, n) for m in range(4) for n in range(4)])
    told = mesh_strength(orders, opening / 1000)
    assert told == pytest.approx(spectrum[orders[:, 0], orders[:, 1]], abs=1e-4)
    assert mesh_strength(-orders, opening / 1000) == pytest.approx(told)


def test_of_all_tones_the_worst_counts():
    orders = np.array([(1, 0), (3, -3), (70, 9)])  # the last is beyond what is kept at first
    squares = (orders**2).sum(1)
    worst = np.max([disc_strength(squares, tone) for tone in (0.3, 0.5, 0.7)], axis=0)
    assert dot_strength(orders, lines=False) == pytest.approx(worst)
    lines = np.array([[1], [-4], [7]])
    worst = np.max([stripe_strength(lines[:, 0], tone) for tone in (0.3, 0.5, 0.7)], axis=0)
    assert dot_strength(lines, lines=True) == pytest.approx(worst)
