"""Inks that overprint: what lies beneath them, and what the print becomes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from filmhand.ink.cielab import srgb_to_lab
from filmhand.pipeline.separation.planning.set_plan import (
    ListedInk,
    SeparationMode,
    WantedSet,
    plan_set,
)
from filmhand.pipeline.separation.separated_art import separated_art
from filmhand.units import PixelsPerInch

FULL = 65535
RESOLUTION = PixelsPerInch(254, 254)
PALETTE = {
    "yellow": (250, 210, 20),
    "red": (200, 20, 30),
    "blue": (29, 63, 156),
    "black": (16, 16, 16),
    "white": (255, 255, 255),
}


def ink(name, **more):
    lab = tuple(srgb_to_lab(np.array(PALETTE[name]) / 255).tolist())
    return ListedInk(name, lab, **more)


BLACK = ink("black", overprint=True)


def wanted(*inks, **more):
    return WantedSet(("", 0), "", SeparationMode.SPOT, inks, **more)


def tones(codes, *inks, to=(160, 120), **more):
    asked = wanted(*inks, **more)
    return separated_art(codes, asked, plan_set(asked), to, RESOLUTION).source.tones(0, to[1])


@pytest.fixture
def flag():
    codes = np.full((60, 80, 3), 255, np.uint8)
    codes[8:52, 8:40], codes[8:52, 40:72] = PALETTE["yellow"], PALETTE["red"]
    return codes


@pytest.fixture
def lined(flag):
    """Three lines over both colors and beyond, and a spot so large that its middle is far."""
    codes = flag.copy()
    for row in (12, 14, 20):
        codes[row : row + 1, 4:76] = PALETTE["black"]
    codes[26:50, 20:60] = PALETTE["black"]
    return codes


def test_lines_leave_no_hole_in_the_colors_beneath(flag, lined):
    inks = ink("yellow"), ink("red")
    through = tones(lined, *inks, BLACK)
    assert np.array_equal(through[:2], tones(flag, *inks))
    knocked = tones(lined, *inks, replace(BLACK, overprint=False))
    assert np.array_equal(through[2], knocked[2])
    # Knocked out, as it is unless it is asked for, each pixel is of one ink.
    assert np.count_nonzero(knocked, axis=0).max() == 1 and knocked[2].any()


def test_sets_without_it_are_what_they_were():
    inks = ink("yellow"), replace(BLACK, overprint=False)
    assert plan_set(wanted(*inks)).id == "58e84050f737a5b2"
    assert plan_set(wanted(inks[0], BLACK)).id != "58e84050f737a5b2"


def test_what_lies_beneath_is_trapped_and_the_ink_on_top_is_not(flag, lined):
    inks = ink("yellow"), ink("red")
    found = tones(lined, *inks, BLACK, trap_mm=0.4)
    assert np.array_equal(found[:2], tones(flag, *inks, trap_mm=0.4))
    plan = plan_set(wanted(*inks, BLACK, trap_mm=0.4))
    assert [(trap.spread, trap.under) for trap in plan.traps] == [(0, 1)]


def test_soft_edges_of_an_ink_on_top_leave_no_line_of_cloth(flag, lined):
    """As art is that is drawn smaller: every edge has blends."""
    fine = np.kron(lined, np.ones((3, 3, 1), np.uint8))
    row = np.pad(fine, ((1, 1), (1, 1), (0, 0)), mode="edge").astype(float)
    soft = sum(row[i : i + 180, j : j + 240] for i in range(3) for j in range(3)) / 9
    codes = np.rint(soft[::2, ::2]).astype(np.uint8)
    yellow, red, black = tones(codes, ink("yellow"), ink("red"), BLACK) == FULL
    inside = np.zeros_like(yellow)
    inside[20:100, 20:140] = True
    assert (yellow | red)[inside].all() and black[inside].any()
    assert not (yellow & red).any()


def test_a_tint_of_the_ink_lies_on_the_cloth(flag):
    flag[20:40, 20:60] = 128
    base = tones(flag, ink("yellow"), ink("red"), replace(BLACK, overprint=False))
    found = tones(flag, ink("yellow"), ink("red"), BLACK)
    assert 0 < found[2, 60, 80] < FULL and not found[:2, 60, 80].any()
    assert np.abs(found.astype(int) - base).max(axis=0)[44:76, 44:116].max() == 0


def test_inks_printed_later_are_never_beneath(flag):
    """Blue, printed last, stands beside the black spot all around: red goes on beneath black."""
    flag[14:46, 44:68] = PALETTE["blue"]
    flag[20:40, 48:64] = PALETTE["black"]
    yellow, red, black, blue = tones(flag, ink("yellow"), ink("red"), BLACK, ink("blue"))
    assert black[60, 112] == FULL and red[60, 112] == FULL and not (yellow | blue)[60, 112]
    # Blue still knocks out, and meets black without a gap or a double.
    assert not (blue & (black | red)).any()
    assert (blue | black)[28:92, 88:136].all()


def test_soft_edges_between_an_ink_on_top_and_a_later_one_stay_where_they_are(flag):
    """Black's edges lie at a quarter of a pixel, so most of such a pixel is blue."""
    flag[14:46, 44:68] = PALETTE["blue"]
    flag[20:40, 48:64] = PALETTE["black"]
    quarter = (np.array(PALETTE["black"]) + 3 * np.array(PALETTE["blue"]).astype(int)) // 4
    flag[19:41, 47] = flag[19:41, 64] = flag[19, 47:65] = flag[40, 47:65] = quarter
    inks = ink("yellow"), ink("red"), BLACK, ink("blue")
    found = tones(flag, *inks, to=(800, 600))
    knocked = tones(flag, *inks[:2], replace(BLACK, overprint=False), inks[3], to=(800, 600))
    assert (found[2:] == knocked[2:]).mean() > 0.9999
    assert (found[2] | found[3])[150:450, 450:670].all()


def test_one_overprints_another(flag):
    flag[14:46, 44:68] = PALETTE["black"]
    flag[20:40, 48:64] = PALETTE["blue"]
    blue = ink("blue", overprint=True)
    found = tones(flag, ink("yellow"), ink("red"), BLACK, blue)
    assert (found[1:, 60, 112] == FULL).all() and not found[0, 60, 112]


def test_it_has_no_meaning_for_mixed_colors_and_for_the_first_ink():
    inks = ink("yellow", overprint=True), ink("red"), BLACK
    assert wanted(*inks).overprinting == (2,)
    assert wanted(*inks, choke_mm=0.1).overprinting == (2,)
    assert wanted(inks[0], BLACK, choke_mm=0.1).overprinting == ()
    assert replace(wanted(*inks), mode=SeparationMode.PROCESS).overprinting == ()
