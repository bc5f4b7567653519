"""Inks that meet leave no cloth between them, and what lies below is drawn back from none."""

from __future__ import annotations

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
DARK, YELLOW, GREEN = (16, 16, 16), (255, 182, 18), (0, 119, 73)
SIDE, EDGE = 60, 6


def base_and_inks(codes, to, *, dpi=300.0):
    """Where the films of white, yellow and green have ink, white below and 0.3 mm narrower."""
    lab = {
        name: tuple(srgb_to_lab(np.array(color) / 255).tolist())
        for name, color in {"white": (255, 255, 255), "yellow": YELLOW, "green": GREEN}.items()
    }
    wanted = WantedSet(
        ("", 0),
        "",
        SeparationMode.SPOT,
        tuple(ListedInk(name, color) for name, color in lab.items()),
        cloth=tuple(srgb_to_lab(np.array(DARK) / 255).tolist()),
        choke_mm=0.3,
    )
    resolution = PixelsPerInch(dpi, dpi)
    found = separated_art(codes.astype(np.uint8), wanted, plan_set(wanted), to, resolution)
    assert not any(found.screened)
    return found.source.tones(0, to[1]) > FULL // 2


def drawn(slope):
    """Green laid up to yellow along a slanted edge, each softened by itself, on dark cloth."""
    y, x = np.mgrid[:SIDE, :SIDE] + 0.5
    beyond = x - SIDE / 2 - slope * (y - SIDE / 2)
    codes = np.full((SIDE, SIDE, 3), DARK, float)
    # A fifth of a pixel is open, as between shapes of rounded coordinates.
    for color, part in ((YELLOW, 0.3 - beyond), (GREEN, beyond + 0.5)):
        codes += np.clip(part, 0, 1)[..., None] * (np.array(color) - codes)
    codes[:EDGE] = codes[-EDGE:] = codes[:, :EDGE] = codes[:, -EDGE:] = DARK
    return np.rint(codes)


def inside(mask, distance):
    """The rows and columns of the mask that are so far from the edge of the drawing."""
    kept = slice(distance, len(mask) - distance)
    return mask[..., kept, kept]


@pytest.mark.parametrize("slope", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("scale", [1, 8])
def test_soft_edges_that_meet_leave_no_cloth(slope, scale):
    base, *inks = base_and_inks(drawn(slope), (SIDE * scale, SIDE * scale))
    # What meets the cloth as well, at the very edge, keeps what it has of it.
    assert inside(inks[0] ^ inks[1], (EDGE + 1) * scale).all()
    # 0.3 mm are three to four pixels; at the outer edge the drawing is as it was.
    assert inside(base, (EDGE + 1) * scale + 4).all()
    assert not base[: EDGE * scale + 3].any()
    assert not base[:, : EDGE * scale + 3].any()


def test_a_line_of_cloth_and_a_tint_between_inks_stay():
    codes = np.full((SIDE, SIDE, 3), DARK, float)
    codes[:, :20], codes[:, 20:] = YELLOW, GREEN
    codes[:, 19] = np.add(YELLOW, DARK) / 2
    codes[:, 20] = np.add(GREEN, DARK) / 2
    base, yellow, green = base_and_inks(np.rint(codes), (SIDE * 4, SIDE * 4))
    bare = ~(yellow | green)
    assert (np.count_nonzero(bare, axis=1) == 4).all()
    assert (np.count_nonzero(~inside(base, 4), axis=1) == 4 + 2 * 4).all()


@pytest.mark.parametrize(("gap", "open_pixels"), [(1, 0), (2, 0), (3, 3 + 2 * 7)])
def test_nothing_is_drawn_back_from_lines_too_narrow_to_print(gap, open_pixels):
    codes = np.full((SIDE, SIDE, 3), YELLOW, float)
    codes[:, 30:], codes[:, 30 : 30 + gap] = GREEN, DARK
    base, yellow, green = base_and_inks(codes, (SIDE, SIDE), dpi=600.0)
    assert (np.count_nonzero(yellow | green, axis=1) == SIDE - gap).all()
    assert (np.count_nonzero(~inside(base, 7), axis=1) == open_pixels).all()
