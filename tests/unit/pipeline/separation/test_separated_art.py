"""Colors of art to the tones of a set's films."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.pipeline.separation.planning.set_plan import (
    ListedInk,
    SeparationMode,
    WantedSet,
    plan_set,
)
from filmhand.pipeline.separation.separated_art import black_of, separated_art
from filmhand.units import PixelsPerInch

FULL = 65535
RESOLUTION = PixelsPerInch(254, 254)  # ten pixels a millimeter
PALETTE = {"red": (200, 20, 30), "yellow": (250, 210, 20), "white": (255, 255, 255)}


def listed(name, opacity=1.0):
    lab = srgb_to_lab(np.array(PALETTE[name]) / 255)
    return ListedInk(name, tuple(lab.tolist()), opacity)


def separated(codes, *inks, to=(80, 60), mode=SeparationMode.SPOT, **options):
    wanted = WantedSet(("", 0), "", mode, inks, **options)
    return separated_art(codes, wanted, plan_set(wanted), to, RESOLUTION)


@pytest.fixture
def flag():
    """Yellow beside red on white, eight pixels of cloth all around."""
    codes = np.full((60, 80, 3), 255, np.uint8)
    codes[8:52, 8:40], codes[8:52, 40:72] = PALETTE["yellow"], PALETTE["red"]
    return codes


def spans(tones):
    """From where to where each film has ink in the middle row."""
    return [(int(np.flatnonzero(row)[0]), int(np.flatnonzero(row)[-1]) + 1) for row in tones[:, 30]]


def test_spot_colors_meet_or_are_trapped(flag):
    inks = listed("yellow"), listed("red")
    plain = separated(flag, *inks)
    assert spans(plain.source.tones(0, 60)) == [(8, 40), (40, 72)]
    assert (plain.unreached_pixels, plain.unreached) == (0, ())
    trapped = separated(flag, *inks, trap_mm=0.4)
    assert spans(trapped.source.tones(0, 60)) == [(8, 44), (40, 72)]


def test_an_underbase_lies_under_all_inks_and_is_choked(flag):
    dark = np.where((flag == 255).all(axis=-1, keepdims=True), np.uint8(10), flag)
    inks = listed("white"), listed("yellow"), listed("red")
    cloth = tuple(srgb_to_lab(np.array([10, 10, 10]) / 255).tolist())
    found = separated(dark, *inks, cloth=cloth, choke_mm=0.3, trap_mm=0.4)
    tones = found.source.tones(0, 60)
    assert spans(tones) == [(11, 69), (8, 44), (40, 72)]
    assert np.flatnonzero(tones[0, :, 40])[[0, -1]].tolist() == [11, 48]
    assert found.model.ink_count == 3


def test_colors_that_no_ink_comes_near_are_told_by_place_in_print_order(flag):
    flag[20:30, 20:30] = (30, 200, 40)
    plain = separated(flag, listed("yellow"), listed("red"))
    assert plain.unreached_pixels >= 80
    based = separated(flag, listed("white"), listed("yellow"), listed("red"), choke_mm=0.1)
    assert based.unreached[0].nearest == plain.unreached[0].nearest + 1


@pytest.mark.slow
def test_inks_over_each_other_print_the_color_within_their_total():
    inks = tuple(
        ListedInk(name, lab, 0.0)
        for name, lab in {
            "cyan": (55.0, -37.0, -50.0),
            "magenta": (48.0, 74.0, -3.0),
            "yellow": (89.0, -5.0, 93.0),
            "black": (16.0, 0.0, 0.0),
        }.items()
    )
    lab = np.array([[60.0, 20, 15], [45, -20, 10], [75, 5, -15]])
    codes = np.rint(np.tile(lab_to_srgb(lab)[:, None], (1, 4, 1)) * 255).astype(np.uint8)
    few = {"mode": SeparationMode.PROCESS, "to": (4, 3), "total_ink": 2.0}
    little = separated(codes, *inks, **few, black_generation=0.0)
    much = separated(codes, *inks, **few, black_generation=1.0)
    for found in (little, much):
        tones = np.moveaxis(found.source.tones(0, 3), 0, -1) / FULL
        assert tones.sum(axis=-1).max() <= 2.0 + 1e-4
        assert np.abs(found.model.screened(tones[:, 0]) - lab).max() < 6
    black = [found.source.tones(0, 3)[3].mean() for found in (little, much)]
    assert black[1] > black[0] + 3000


def test_black_is_the_darkest_gray_ink():
    dark_red = ListedInk("dark red", (20.0, 40.0, 20.0))
    black, gray = ListedInk("black", (12.0, 1.0, 0.0)), ListedInk("dark gray", (28.0, 0.0, 2.0))
    assert black_of((dark_red, gray, black)) == 2
    assert black_of((dark_red,)) is None


def test_a_few_pixels_between_two_colors_are_an_edge_and_no_tint(flag):
    half = (255 + np.array(PALETTE["red"])) // 2
    few, many = flag.copy(), flag.copy()
    few[30, 20:30], many[2:6, 20:30] = half, half
    inks = listed("yellow"), listed("red")
    assert separated(few, *inks).screened == (False, False)
    assert separated(many, *inks).screened == (False, True)
