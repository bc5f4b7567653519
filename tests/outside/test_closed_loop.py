"""A wedge printed on a simulated press, its curve put in force, and flat tones printed again.

The press is SciPy's: ink reaches so far beyond every edge of the film's black, after dots that are
too small were lost and shadow dots that are too small were filled.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.pipeline.press_curve import press_curve_of
from filmhand.pipeline.readings.measured_press import resolution_text, screen_text
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.curve import CurveText, curve_from_text
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import CurveHead, HeldSizes
from filmhand.reading.curve_file import curve_file
from filmhand.reading.fitted_curve import fit_curve
from filmhand.reading.reading import PatchReading, ReadOf, WedgeReading
from filmhand.screen.screener import Screener
from filmhand.sheet.wedge_layout import ALL_TONES
from filmhand.tone import FULL, Levels, print_wanted, tone_steps

SIDE_MM, FINER = 9, 3
LOST_UM, FILLED_UM = 180.0, 230.0  # dots and shadow dots that this press does not hold
HELD = HeldSizes(dot=200.0, shadow_dot=250.0)  # the next larger sizes of a wedge
WANTED = np.array([3, 4, 5, 7, 10, 20, 35, 50, 65, 80, 90, 93, 95, 96, 97]) / 100


def profile_of(*, curve=None, tone, **keys):
    said = {"sheet": "4 x 6 in", "dpi": 600, "lpi": 30, "dot": "round", "threshold": 50}
    said |= {"mesh": "55-64", "margin": "6 mm", "tone": f"{{{tone}}}"} | keys
    text = "".join(f"{key}: {value}\n" for key, value in said.items())
    return read_profile(
        text,
        name="loop",
        file="loop.yaml",
        measured=lambda name, folder: CurveText("curves/2026-11-29.txt", curve) if curve else None,
    )


class Press:
    """Prints flat tones with the screen of a profile."""

    def __init__(self, profile, growth_um):
        self.dpi, self.growth_um = profile.dpi.x, growth_um
        side = round(SIDE_MM / 25.4 * self.dpi)
        self.screener = Screener(plan_screen(profile).tile(), column=0, width=side)
        self.shape = (side, side)

    def film(self, tone):
        flat = np.full(self.shape, round(tone * FULL), np.uint16)
        return self.screener.cut(flat, row=0)

    def printed(self, bits):
        pixel = 25400 / self.dpi
        for ink, least in ((True, LOST_UM), (False, FILLED_UM)):
            labels, count = ndimage.label(bits == ink)
            area = ndimage.sum_labels(np.ones_like(labels), labels, np.arange(count + 1))
            small = 2 * np.sqrt(area / np.pi) * pixel < least
            small[0] = False
            bits = np.where(small[labels], not ink, bits)
        fine = np.kron(bits, np.ones((FINER, FINER), bool))
        beyond = ndimage.distance_transform_edt(~fine) * pixel / FINER
        grown = beyond <= self.growth_um + pixel / FINER / 2
        edge = 3 * FINER
        return float(grown[edge:-edge, edge:-edge].mean())


def curve_of(growth_um, seed):
    """What is read off the wedge of such a press, to 0.3 points."""
    plain = profile_of(tone="hold: off")
    press, noise = Press(plain, growth_um), np.random.default_rng(seed)
    patches = []
    for tone in ALL_TONES:
        bits = press.film(tone / 100)
        read = 100 * press.printed(bits) + 0.3 * noise.standard_normal()
        patches.append(PatchReading(100 * float(bits.mean()), read, 0.3))
    fitted = fit_curve([WedgeReading(ReadOf.PRINT, "code", tuple(patches))])
    head = CurveHead(
        date="2026-11-29",
        profile="loop",
        mesh="55-64",
        screen=screen_text(plain),
        dpi=resolution_text(plain),
        held=HELD,
    )
    text = curve_file(fitted.points, head, ["one note: with a colon"])
    read = curve_from_text(text, name="curve.txt")
    assert (read.points, read.head) == (fitted.points, head)
    return text


@pytest.mark.parametrize(("growth_um", "seed"), [(0, 1), (12, 2), (25, 3)])
@pytest.mark.parametrize("aim", ["tone", "luminance"])
def test_with_its_curve_in_force_the_press_prints_what_was_meant(growth_um, seed, aim):
    profile = profile_of(curve=curve_of(growth_um, seed), tone=f"gain: measured, aim: {aim}")
    press = Press(profile, growth_um)
    steps = tone_steps(profile.tone, levels=Levels(), press=press_curve_of(profile))
    # Art whose print is wanted to cover 3 to 97 %.
    art = np.linspace(0, 1, 4001)
    wanted = print_wanted(art, profile.tone.aim)
    art = np.interp(WANTED, wanted, art)
    printed = [press.printed(press.film(tone)) for tone in steps(art)]
    assert 100 * np.abs(np.array(printed) - WANTED).max() <= 2


def test_without_the_curve_it_does_not():
    press = Press(profile_of(tone="gain: 0"), 25)
    printed = [press.printed(press.film(tone)) for tone in WANTED]
    assert 100 * np.abs(np.array(printed) - WANTED).max() > 8
