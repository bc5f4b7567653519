"""The model of a print against worked values and against dots that were counted."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.mixing import PrintingInk, bands_to_lab, demichel_weights, print_model
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE

pytestmark = pytest.mark.outside

WHITE = np.array([100.0, 0.0, 0.0])


# Yule and Nielsen, and Murray and Davies for the area that such a print measures:
# R = (a * Rs ** (1 / n) + 1 - a) ** n, a = (1 - R) / (1 - Rs); half a dot of two inks.
@pytest.mark.parametrize(
    ("density", "exponent", "measured"),
    [(1.40, 1.7, 0.6349), (1.40, 2.0, 0.6668), (1.70, 2.0, 0.6881), (1.00, 1.7, 0.6059)],
)
def test_the_optical_gain_of_half_a_dot(density, exponent, measured):
    solid = 10**-density
    ink = PrintingInk(bands_to_lab(np.full(3, solid)))
    model = print_model([ink], WHITE, yule_nielsen=exponent)
    lightness = model.screened(np.array([0.5]))[0]
    reflected = ((lightness + 16) / 116) ** 3
    assert (1 - reflected) / (1 - solid) == pytest.approx(measured, abs=6e-5)


def screened(angle, tone):
    """The dots of a flat of 3 x 3 inches at 600 dpi and 45 lpi."""
    profile = read_profile(
        f"sheet: 8.5 x 11 in\ndpi: 600\nlpi: 45\ndot: round\nthreshold: 50\nmesh: none\n"
        f"margin: 0.25 in\nangle: {angle}\n",
        name="flat",
        file="flat.yaml",
    )
    strip = np.full((1800, 1800), round(tone * FULL_TONE), np.uint16)
    return Screener(plan_screen(profile).tile(), column=0, width=1800).cut(strip, row=0)


def counted(tones, angles):
    """The area of each primary on films of flat tones, by their dots."""
    films = [screened(angle, tone) for angle, tone in zip(angles, tones, strict=True)]
    place = sum(film.astype(int) << k for k, film in enumerate(films))
    return np.bincount(place.ravel(), minlength=2 ** len(films)) / place.size


def test_dots_at_two_angles_of_the_trade_meet_as_the_model_says():
    tones = np.array([0.3, 0.7])
    for angles in ((22.5, 52.5), (22.5, 82.5), (7.5, 22.5)):
        assert np.abs(counted(tones, angles) - demichel_weights(tones)).max() < 0.001


def test_three_screens_30_degrees_apart_meet_nearly_so():
    # A vector of the third is the sum of one of each other, so their dots stay in step: they lie
    # over each other more or less than by chance, here as much as it can be.
    tones = np.array([0.3, 0.5, 0.7])
    off = np.abs(counted(tones, (22.5, 52.5, 82.5)) - demichel_weights(tones)).max()
    assert 0.02 < off < 0.03


def test_dots_at_one_angle_do_not():
    same = [screened(22.5, tone) for tone in (0.3, 0.5)]
    both = (same[0].astype(bool) & same[1].astype(bool)).mean()
    assert both == pytest.approx(0.3, abs=0.01)  # the smaller dot lies within the larger
    assert demichel_weights(np.array([0.3, 0.5]))[0b11] == pytest.approx(0.15)
