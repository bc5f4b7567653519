"""Every dot and every shadow dot of flats at 49 tones, counted and measured by scipy's labels."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.tone import FULL

pytestmark = pytest.mark.outside

TONES = np.linspace(0.02, 0.98, 49)
SCREENS = {
    "classroom": "dpi: 300\nlpi: 25\nangle: 45\nmesh: 43-80",
    "fine": "dpi: 600\nlpi: 45\nangle: 22.5\nmesh: 120-34",
    "unequal": "dpi: 600 x 1200\nlpi: 45\nangle: 7.5\nmesh: 120-34",
    "odd": "dpi: 720\nlpi: 52\nangle: 61.5\nmesh: 150-31",
}


def planned(screen, *, dot, hold):
    text = f"{SCREENS[screen]}\ndot: {dot}\nsheet: a4\nthreshold: 50\nmargin: 5 mm\n"
    return plan_screen(read_profile(f"{text}tone: {{hold: {hold}}}\n", name="p", file="p.yaml"))


def flats(plan, side=700):
    """(tone, ink) of a square window for every tone."""
    screener = Screener(plan.tile(), column=13, width=side)
    for tone in TONES:
        strip = np.full((side, side), round(tone * FULL), np.uint16)
        yield tone, screener.cut(strip, row=7)


def whole_areas(bits):
    """Pixels of the 4-connected components that the border does not cut."""
    labels, count = ndimage.label(bits)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    sizes[np.unique(np.r_[labels[0], labels[-1], labels[:, 0], labels[:, -1]])] = 0
    return sizes[1:][sizes[1:] > 0]


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize(("dot", "joins"), [("round", 0.5), ("ellipse", 0.375)])
def test_every_dot_is_within_one_pixel_of_every_other(screen, dot, joins):
    plan = planned(screen, dot=dot, hold="off")
    cell = plan.grid.pixels / plan.grid.dots
    for tone, ink in flats(plan):
        # A dot a pixel wider than the mean may reach its neighbor a little before the formula.
        if tone < joins - 0.06:
            sizes, wanted = whole_areas(ink), tone * cell
        elif tone > 1 - joins + 0.06:
            sizes, wanted = whole_areas(~ink), (1 - tone) * cell
        else:
            continue
        # A 16-bit tone is half a step off at most.
        slack = cell / FULL
        assert sizes.size > 100
        assert sizes.min() >= np.floor(wanted - slack), tone
        assert sizes.max() <= np.ceil(wanted + slack), tone


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("dot", ["round", "ellipse", "diamond", "square", "line", "grain"])
def test_no_dot_and_no_hole_is_smaller_than_the_mesh_prints_evenly(screen, dot):
    plan = planned(screen, dot=dot, hold="auto")
    assert plan.smallest_dot > 1 and plan.smallest_shadow_dot > 1
    counts = []
    for tone, ink in flats(plan):
        dots, shadow_dots = whole_areas(ink), whole_areas(~ink)
        assert dots.min(initial=plan.smallest_dot) >= plan.smallest_dot, tone
        assert shadow_dots.min(initial=plan.smallest_shadow_dot) >= plan.smallest_shadow_dot, tone
        counts.append(dots.size)
    # Faint tones get fewer dots, not smaller ones. (Lines join into fewer as they grow.)
    assert dot == "line" or counts[0] < counts[4]


@pytest.mark.parametrize("screen", SCREENS)
def test_the_mean_tone_is_exact_to_a_smallest_dot_a_tile(screen):
    plan = planned(screen, dot="round", hold="auto")
    tile = plan.tile()
    thresholds = np.sort(tile.thresholds.ravel())
    inked = np.searchsorted(thresholds, np.rint(TONES * FULL), side="right")
    most = max(plan.smallest_dot, plan.smallest_shadow_dot) + thresholds.size / FULL
    assert np.abs(inked - TONES * thresholds.size).max() <= most
