"""Sizes of a screen's smallest dots, names of its angle, and of drawings on film, by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from filmhand.art.crop_window import CropWindow
from filmhand.pipeline.render import cropping
from filmhand.pipeline.render.screen_plan import ScreenPlan, smallest_pixels
from filmhand.profile.read.load import read_profile
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.units import Resolution


def profile_of(**keys):
    said = {
        "sheet": "200 x 300 mm", "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50",
        "mesh": "43-80", "margin": "5 mm", "marks": "{label: false, ruler: false, solid: false}",
    }  # fmt: skip
    text = "".join(f"{key}: {value}\n" for key, value in (said | keys).items())
    return read_profile(text, name="p", file="p.yaml")


@pytest.mark.parametrize(
    ("keys", "sizes"),
    [
        # A pixel of 300 dpi is 84.67 um. Openings of 152.6 um and two threads of 80 um print
        # evenly: a circle of 312.6 um is 76725 um2 or 10.7 pixels. A cell at 25 lpi has 144.
        ({}, (11, 11)),
        ({"mesh": "none"}, (1, 1)),
        ({"tone": "{hold: off}"}, (1, 1)),
        ({"tone": "{hold: [5, 95]}"}, (1, 1)),
        # Of a cell of 18.4 pixels at 70 lpi no more than 45 %, and 25 % of scattered dots.
        ({"lpi": "70"}, (8, 8)),
        ({"lpi": "70", "dot": "grain"}, (4, 4)),
        ({"lpi": "40", "dot": "grain"}, (11, 11)),
        # Unequal limits: circles of 200 um and 400 um are 4.4 and 17.5 pixels.
        (
            {"verdict": "{dot: {warn: 200 um, fail: 50 um}, "
                        "shadow_dot: {warn: 400 um, fail: 50 um}}"},
            (5, 18),
        ),
        # A piece of a line is as long as its cell, 12 pixels, and a tenth wider than what is lost:
        # threads' diagonals of 113.1 um and openings of 152.6 um are 1.47 and 1.98 pixels.
        ({"dot": "line"}, (18, 24)),
    ],
)  # fmt: skip
def test_the_smallest_dots_are_those_that_print_evenly_and_have_room(keys, sizes):
    assert smallest_pixels(profile_of(**keys)) == sizes


@pytest.mark.parametrize(
    ("asked", "made", "named"),
    [(0.0, 179.9, -0.1), (45.0, 45.1, 45.1), (180.0, 0.1, 180.1), (135.0, 135.0, 135.0),
     (90.0, 89.95, 89.95), (179.0, 0.5, 180.5)],
)  # fmt: skip
def test_an_angle_is_told_near_the_one_that_was_asked(asked, made, named):
    grid = SimpleNamespace(angle=made, lpi=25.12347, resolution=Resolution(300, 600))
    plan = ScreenPlan(grid, DotShape(Dot.ROUND), 25.0, asked, 1, 1)
    assert plan.angle_made() == pytest.approx(named)
    # Sizes of a dot: 300 x 600 pixels to the square inch by 625 cells, and none.
    assert plan.levels == 289
    assert plan.record() == {
        "dot": "round", "lpi_asked": 25.0, "lpi_made": 25.1235, "angle_asked": asked,
        "angle_made": pytest.approx(named), "levels": 289,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "inches", "size"),
    [
        # 50 mm at 508 dpi, the finer direction, are 1000 pixels, which are square.
        ({"dpi": "254 x 508", "art": "{fit: width 50 mm}"}, (2, 1), (1000, 500, 508)),
        ({"dpi": "508 x 254", "art": "{fit: width 50 mm}"}, (2, 1), (1000, 500, 508)),
        ({"dpi": "254", "art": "{fit: own}"}, (2, 3), (508, 762, 254)),
        # What fits only turned keeps its own width and height.
        ({"dpi": "254", "art": "{fit: width 250 mm}"}, (10, 2), (2500, 500, 254)),
        ({"dpi": "254", "art": "{repeat: 2 x 2, fit: width 40 mm}"}, (1, 2), (400, 800, 254)),
    ],
)
def test_a_drawing_has_the_pixels_of_its_place_on_film(keys, inches, size):
    found = cropping.sizing_of(profile_of(**keys))(*inches)
    assert (found.width_px, found.height_px, found.ppi) == size


def test_a_part_of_a_drawing_has_the_size_of_the_whole_less_what_is_cut_off():
    part = CropWindow(0.25, 0.0, 0.75, 0.5)
    sizing = cropping.sizing_of(profile_of(dpi="254", art="{fit: own}"), part=part)
    found = sizing(4, 3)
    assert (found.width_px, found.height_px, found.part) == (508, 381, part)


@pytest.mark.parametrize(
    ("inches", "size"),
    [((10, 5), (1500, 750, 150)), ((1, 3), (500, 1500, 500)), ((30, 0.001), (1500, 1, 50))],
)
def test_the_small_look_at_a_drawing_is_1500_pixels_long(inches, size):
    found = cropping._small(*inches)
    assert (found.width_px, found.height_px, found.ppi) == size


def test_a_part_of_a_picture_is_cut_by_its_window():
    coded = np.arange(60, dtype=np.uint16).reshape(6, 10)
    part = cropping.part_of(coded, CropWindow(0.2, 0.5, 0.7, 1.0))
    assert part.tolist() == coded[3:, 2:7].tolist()
    assert part.flags.c_contiguous and part.base is None
    assert cropping.part_of(coded, CropWindow()) is coded
