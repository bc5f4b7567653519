"""Flat colors to shares of inks."""

from __future__ import annotations

import numpy as np
import pytest
from flat_drawings import drawn, pie

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.flat_colors import EDGE_REACH, flat_colors, share_flats

RED, BLUE, YELLOW, BLACK, WHITE = (
    (200, 20, 30), (20, 40, 160), (250, 210, 20), (10, 10, 10), (255, 255, 255)
)  # fmt: skip


def lab(*codes):
    return srgb_to_lab(np.array(codes) / 255)


def shared(codes, inks=(RED, BLUE), cloth=WHITE, **options):
    colors = flat_colors(codes, lab(*inks), lab(cloth)[0], **options)
    return share_flats(codes, colors)


def picture(rows, **colors):
    """A picture of letters, by the color of each."""
    return np.array([[colors[letter] for letter in row] for row in rows], np.uint8)


def test_flats_are_wholly_the_inks_and_the_cloths():
    codes = picture(["rrbb", "rrbb", "wwww", "wwww"], r=RED, b=BLUE, w=WHITE)
    found = shared(codes)
    assert found.shares[0].tolist() == [[1, 0, 0]] * 2 + [[0, 1, 0]] * 2
    assert found.shares[3].tolist() == [[0, 0, 1]] * 4
    assert (found.unreached_pixels, found.unreached) == (0, ())


@pytest.mark.parametrize("in_light", [False, True])
@pytest.mark.parametrize("cloth", [WHITE, BLACK])
def test_soft_edges_keep_the_areas_of_the_drawing(in_light, cloth):
    palette = (RED, BLUE, YELLOW, cloth)
    codes, areas = drawn(pie(60, 6, colors=(0, 1, 2), ground=3), palette, in_light=in_light)
    found = shared(codes, palette[:3], cloth)
    assert found.shares.sum(axis=-1) == pytest.approx(1)
    assert found.unreached_pixels == 0
    off = found.shares - areas
    # All areas within a tenth of a percent of the sheet's, and each pixel of two flats nearly so.
    assert np.abs(off.mean(axis=(0, 1))).max() < 0.001
    of_two = (areas > 0).sum(axis=-1) < 3
    assert np.abs(off[of_two]).max() < 0.1
    assert np.sqrt((off**2).mean()) < 0.01


def test_an_edge_that_looks_like_another_ink_gets_none_of_it():
    pink = tuple((np.array(RED) + WHITE) // 2)
    labels = pie(60, 4, colors=(0, 2), ground=2)
    codes, areas = drawn(labels, (RED, pink, WHITE))
    assert (np.abs(codes.astype(int) - pink).max(axis=-1) < 6).any()
    found = shared(codes, (RED, pink))
    assert found.shares[..., 1].max() == 0
    assert found.shares[..., 0].sum() == pytest.approx(areas[..., 0].sum(), rel=0.01)


def test_a_line_of_one_pixel_of_its_own_color_stays_whole():
    black_line = picture(["rrrkbbbb"] * 6, r=RED, k=BLACK, b=BLUE)
    found = shared(black_line, (RED, BLUE, BLACK))
    assert found.shares[2].argmax(axis=-1).tolist() == [0] * 3 + [2] + [1] * 4
    assert found.shares[..., 2].sum() == 6


# Of a drawing: two shades of one ink, and between them and a dark ground what looks like another.
LIGHT, SHADE, CYAN, DARK = (40, 184, 235), (35, 194, 238), (0, 172, 211), (58, 77, 84)
SOFT = tuple(np.round(0.79 * np.array(SHADE) + 0.21 * np.array(DARK)).astype(int))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("rows", ["ddddMssss", "ddddmMssss"])
def test_the_soft_edge_of_a_shade_has_nothing_of_an_ink_that_it_looks_like(rows, turned):
    letters = {"d": DARK, "s": SHADE, "l": LIGHT, "c": CYAN, "M": SOFT}
    letters["m"] = tuple((3 * np.array(DARK) + np.array(SHADE)) // 4)
    codes = picture([rows + "lllllllcccccc"] * 8, **letters)
    codes = codes.swapaxes(0, 1) if turned else codes
    shares = shared(codes, (LIGHT, CYAN, DARK)).shares
    edge = (shares.swapaxes(0, 1) if turned else shares)[:, : len(rows)]
    assert edge[..., 1].max() == 0
    assert edge[2, rows.index("M")] == pytest.approx([0.79, 0, 0.21, 0], abs=0.03)


@pytest.mark.parametrize(
    ("rows", "line"), [("ddddcssss", CYAN), ("ddddgwwww", None), ("ddddggwwww", None)]
)
def test_a_drawn_line_between_two_flats_stays_though_an_edge_may_look_so(rows, line):
    gray = tuple((np.array(DARK) + WHITE) // 2)
    letters = {"d": DARK, "s": SHADE, "w": WHITE, "c": CYAN, "g": gray}
    codes = picture([rows + "sssssscccccgggggg"] * 8, **letters)
    shares = shared(codes, (SHADE, line or gray, DARK)).shares[3, : len(rows)]
    drawn = [letter in "cg" for letter in rows]
    assert shares[drawn, 1].tolist() == [1] * sum(drawn)
    assert shares[~np.array(drawn), 1].max() == 0


@pytest.mark.parametrize(("rows", "line"), [("ddddgwwww", 0), ("ddddggwwww", 2), ("ddddcwwww", 1)])
def test_what_is_too_thin_to_print_and_a_blend_of_the_flats_beside_is_their_edge(rows, line):
    gray = tuple((np.array(DARK) + WHITE) // 2)
    codes = picture([rows + "cccccgggggg"] * 8, d=DARK, w=WHITE, c=CYAN, g=gray)
    shares = shared(codes, (CYAN, gray, DARK), fine=True).shares[3, : len(rows)]
    assert shares[:, :2].sum() == line
    if not line:
        assert shares[4, 2:] == pytest.approx([0.5, 0.5], abs=0.01)


def test_the_soft_sides_of_a_thin_line_have_nothing_of_an_ink_that_they_look_like():
    gray = (132, 132, 132)
    codes = picture(["wwwskswwwwgggg"] * 8, w=WHITE, s=(128, 128, 128), k=BLACK, g=gray)
    shares = shared(codes, (gray, BLACK)).shares[3, :9]
    assert shares[:, 0].max() == 0
    assert shares[:, 1] == pytest.approx([0, 0, 0, 0.52, 1, 0.52, 0, 0, 0], abs=0.02)


def test_a_soft_line_that_no_flat_of_its_ink_lies_near_is_that_inks():
    half = tuple((np.array(RED) + WHITE) // 2)
    codes = picture(["wwwhrhwww"] * 6, w=WHITE, h=half, r=RED)
    share = shared(codes).shares[2, :, 0]
    assert share == pytest.approx([0, 0, 0, 0.5, 1, 0.5, 0, 0, 0], abs=0.02)


def test_a_tint_is_a_tone_of_its_ink_and_not_of_one_that_is_nearly_as_good():
    tint = tuple(np.round(0.4 * np.array(RED) + 0.6 * np.array(WHITE)).astype(int))
    wine = (170, 10, 40)
    found = shared(np.full((8, 8, 3), tint, np.uint8), (wine, RED))
    assert found.shares[..., 1] == pytest.approx(0.4, abs=0.02)
    assert found.shares[..., 0].max() == 0
    assert found.unreached_pixels == 0


def test_the_gray_of_black_on_white_is_the_tone_that_one_film_has():
    codes = np.full((4, 4, 3), 140, np.uint8)
    found = shared(codes, (BLACK,), tolerance=3)
    assert found.shares[..., 0] == pytest.approx(1 - (140 - 10) / 245, abs=1e-6)


def test_the_gradient_of_an_ink_is_reached_all_along():
    ramp = np.linspace(0, 1, 256)[:, None] * np.array(BLUE) + np.linspace(1, 0, 256)[:, None] * 255
    codes = np.broadcast_to(np.round(ramp).astype(np.uint8), (8, 256, 3))
    found = shared(codes)
    assert found.unreached_pixels == 0
    assert found.shares[4, :, 0].max() == 0
    wanted = np.linspace(0, 1, 256)
    # Within the tolerance of either end, it is the end.
    middle = (wanted > 0.15) & (wanted < 0.85)
    assert np.abs(found.shares[4, :, 1] - wanted)[middle].max() < 0.02


def test_colors_that_no_ink_comes_near_are_told_and_go_to_the_nearest():
    codes = picture(["rrrrggggggss"] * 8, r=RED, g=(30, 160, 60), s=(120, 120, 40))
    found = shared(codes)
    assert found.unreached_pixels == 8 * 8
    green, olive = found.unreached
    assert (green.pixels, olive.pixels) == (48, 16)
    assert green.color == pytest.approx(lab((30, 160, 60))[0])
    assert green.difference > 20
    assert found.shares.sum(axis=-1) == pytest.approx(1)
    assert set(found.shares[:, 5:9].ravel().tolist()) == {0, 1}


def test_a_color_within_the_tolerance_is_the_inks_and_one_beyond_it_is_not():
    codes = np.full((6, 6, 3), (200, 40, 60), np.uint8)
    assert shared(codes, tolerance=8).unreached_pixels == 0
    beyond = shared(codes, tolerance=1)
    assert beyond.unreached_pixels == 36
    assert beyond.unreached[0].nearest == 0
    assert 1 < beyond.unreached[0].difference < 8


def test_art_that_is_a_little_off_its_inks_is_shared_by_its_own_colors():
    near_red = (204, 26, 26)
    codes, areas = drawn(pie(60, 2, colors=(0, 1), ground=2), (near_red, BLUE, WHITE))
    found = shared(codes)
    assert np.abs((found.shares - areas).mean(axis=(0, 1))).max() < 0.001


def test_parts_with_their_context_are_shared_as_the_whole():
    codes, _ = drawn(pie(48, 5, colors=(0, 1, 2), ground=3), (RED, BLUE, YELLOW, WHITE))
    colors = flat_colors(codes, lab(RED, BLUE, YELLOW), lab(WHITE)[0])
    whole = share_flats(codes, colors).shares
    for first in range(0, 48, 16):
        top = max(0, first - EDGE_REACH)
        part = share_flats(codes[top : first + 16 + EDGE_REACH], colors).shares
        assert (part[first - top :][:16] == whole[first : first + 16]).all()


def test_deep_color_is_shared_as_color_of_8_bits_is():
    codes, _ = drawn(pie(32, 4, colors=(0, 1), ground=2), (RED, BLUE, WHITE))
    deep = codes.astype(np.uint16) * 257
    assert np.abs(shared(deep).shares - shared(codes).shares).max() < 1e-6


def test_more_inks_than_a_set_holds_are_told():
    with pytest.raises(ValueError, match="16 inks are more than 15"):
        flat_colors(np.zeros((2, 2, 3), np.uint8), np.zeros((16, 3)), np.zeros(3))


def test_codes_of_16_bits_that_are_no_whole_ones_of_8_are_shared_alike():
    codes, _ = drawn(pie(60, 6, colors=(0, 1, 1), ground=2), (RED, BLUE, WHITE), in_light=False)
    whole = codes.astype(np.uint16) * 257
    beside = whole.copy()
    beside[0, 0] = 65534
    found, plain, other = shared(codes), shared(whole), shared(beside)
    assert (found.shares == plain.shares).all()
    assert (plain.shares == other.shares).all()
