"""How much ink a tone is: exact counts over whole periods, and published dot sizes."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import ndimage

from filmhand.mesh.limits import diameter_um
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE

pytestmark = pytest.mark.outside


def plan(*, dpi=300, lpi=25, dot="round", mesh="43-80", angle=45, hold="auto"):
    return plan_screen(
        read_profile(
            f"sheet: 8.5 x 11 in\ndpi: {dpi}\nlpi: {lpi}\ndot: {dot}\nthreshold: 50\n"
            f"mesh: {mesh}\nmargin: 0.25 in\nangle: {angle}\ntone: {{hold: {hold}}}\n",
            name="flat",
            file="flat.yaml",
        )
    )


def flat(tile, tone, *, width, height, row=0, column=0):
    strip = np.full((height, width), round(tone * FULL_TONE), np.uint16)
    return Screener(tile, column=column, width=width).cut(strip, row=row)


@pytest.mark.parametrize("dot", ["round", "ellipse", "diamond", "square", "line"])
def test_all_257_tones_of_an_eight_bit_wedge_are_exact(dot):
    # A rank screen prints round(t N) of N pixels in every window of a whole period.
    tile = plan(dot=dot, angle=0, lpi=30, mesh="none").tile()
    # At 0 degrees the period is small, and an upright rectangle of this size holds it.
    a, d = tile.brick.length, tile.brick.height
    assert a * d < 50_000
    for step in range(257):
        tone = step / 256
        bits = flat(tile, tone, width=a, height=d, row=7 * step, column=3 * step)
        code = round(tone * FULL_TONE)
        assert bits.sum() == (2 * code * a * d + FULL_TONE) // (2 * FULL_TONE)


@pytest.mark.parametrize(
    ("dpi", "lpi", "mesh"), [(300, 25, "43-80"), (600, 55, "120-34"), ("600 x 1200", 45, "90-48")]
)
def test_tone_is_kept_where_dots_are_dropped(dpi, lpi, mesh):
    screen = plan(dpi=dpi, lpi=lpi, mesh=mesh, angle=22.5)
    assert screen.smallest_dot > 1
    thresholds = np.sort(screen.tile().thresholds.ravel())
    for percent in range(101):
        inked = np.searchsorted(thresholds, round(percent / 100 * FULL_TONE), side="right")
        smallest = screen.smallest_dot if percent < 50 else screen.smallest_shadow_dot
        spare = thresholds.size / FULL_TONE / 2 + 1
        assert abs(inked - percent / 100 * thresholds.size) <= smallest / 2 + spare
    assert thresholds[0] > 0


@pytest.mark.parametrize(
    ("lpi", "percent", "diameter"),
    [(25, 10, 363), (25, 30, 628), (35, 5, 183), (45, 15, 247), (55, 20, 233), (65, 30, 242)],
)
def test_dots_have_the_diameter_of_their_tone(lpi, percent, diameter):
    # D = c sqrt(4 t / pi) for a round dot in a cell of c = 25.4 mm / lpi: plain geometry, worked
    # out by hand for these six. A dot may be a pixel larger or smaller than the mean.
    screen = plan(dpi=1200, lpi=lpi, mesh="none", angle=22.5)
    bits = flat(screen.tile(), percent / 100, width=1500, height=1500)
    labels, count = ndimage.label(bits)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    edge = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    sizes[np.unique(edge)] = 0
    for size in np.unique(sizes[1:][sizes[1:] > 0]):
        assert diameter_um(size, screen.grid.resolution) == pytest.approx(diameter, rel=0.015)


@pytest.mark.parametrize(
    ("dpi", "lpi", "levels"),
    [(300, 45, 45), (300, 30, 101), (600, 45, 178), (600, 55, 120), (600, 65, 86), (1200, 45, 712)],
)
def test_levels_of_one_cell(dpi, lpi, levels):
    # (dpi / lpi)^2 + 1: 600 / 45 is 13.33, squared 177.8. ISO 12647-9:2021, 4.2.2 (metal decoration
    # by offset), counts the same way: 80 lines per cm on a device of 1000 per cm make 12.5^2 = 156.
    assert plan(dpi=dpi, lpi=lpi).levels == levels


def test_a_print_of_the_same_tone_is_the_same_everywhere():
    # Windows of one inch, anywhere: their means agree to a fifth of a percent of tone.
    screen = plan(dpi=300, lpi=45, mesh="none", angle=22.5)
    tile = screen.tile()
    for tone, row, column in product((0.1, 0.37, 0.9), (0, 501), (0, 777)):
        mean = flat(tile, tone, width=300, height=300, row=row, column=column).mean()
        assert mean == pytest.approx(tone, abs=0.002)
