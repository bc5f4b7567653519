"""The outlines of pictures on a page, its paper and its reduced copies, by geometry and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import spatial

from filmhand.art.analysis import page_regions, tone_or_line
from filmhand.art.analysis.line_work import find_line_work
from filmhand.art.analysis.page_regions import PageRegions
from filmhand.art.analysis.reduced_image import ReducedImage, depths_of
from filmhand.art.raster import connected_runs
from filmhand.art.repair import mixed_page


def runs_of(mask):
    return np.stack(connected_runs(mask), axis=1)


def area(corners):
    x, y = corners.T
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


@pytest.mark.parametrize("seed", range(5))
def test_a_hull_is_that_of_scipy(seed):
    points = np.random.default_rng(seed).integers(0, 30, (60, 2)).astype(float)
    hull = page_regions._hull(points)
    wanted = spatial.ConvexHull(points)
    corners = {tuple(point) for point in points[wanted.vertices].tolist()}
    assert {tuple(point) for point in hull.tolist()} == corners
    assert area(hull) == pytest.approx(wanted.volume)


def test_a_piece_that_is_nearly_a_rectangle_is_outlined_as_one():
    mask = np.zeros((60, 80), bool)
    mask[10:40, 20:70] = True
    mask[10:14, 20:24] = False  # a corner is missing
    outline = page_regions._outline(runs_of(mask))
    assert sorted(map(tuple, outline.tolist())) == [(20, 10), (20, 40), (70, 10), (70, 40)]
    # At a tilt, too: a square on its tip is a square of its own sides.
    y, x = np.mgrid[:81, :81] - 40
    tip = page_regions._outline(runs_of(np.abs(x) + np.abs(y) <= 30))
    assert len(tip) == 4
    assert area(tip) == pytest.approx(2 * 31 * 31, rel=0.05)
    # A triangle fills half of its rectangle, a disc less than 86 %: they keep their hulls.
    triangle = page_regions._outline(runs_of((x + y <= 0) & (np.abs(x) < 40) & (np.abs(y) < 40)))
    assert area(triangle) == pytest.approx(80 * 80 / 2, rel=0.05)
    disc = page_regions._outline(runs_of(x * x + y * y <= 900))
    assert len(disc) > 8 and area(disc) == pytest.approx(np.pi * 900, rel=0.05)


QUARTERS = PageRegions(
    tone=np.array([[True, False], [False, True]]),
    inner=np.array([[True, False], [False, False]]),
    paper=np.array([[0.1, 0.2], [0.3, 0.4]], np.float32),
    factor=3,
)


def test_regions_of_a_copy_at_other_sizes():
    assert QUARTERS.share == 0.25
    assert QUARTERS.resampled((4, 2)).tolist() == [[1, 0], [1, 0], [0, 1], [0, 1]]
    assert QUARTERS.resampled((1, 3)).tolist() == [[1, 1, 0]]
    copy = QUARTERS.of_copy((2, 4))
    assert copy.factor == 1
    assert copy.tone.tolist() == [[1, 1, 0, 0], [0, 0, 1, 1]]
    assert copy.inner.tolist() == [[1, 1, 0, 0], [0, 0, 0, 0]]
    assert copy.paper == pytest.approx(np.array([[0.1, 0.1, 0.2, 0.2], [0.3, 0.3, 0.4, 0.4]]))
    # Three pixels of the art are one of the copy; what is left over belongs to the last.
    rows = QUARTERS.enlarged(QUARTERS.tone, slice(2, 8), 8)
    assert rows.shape == (6, 8)
    assert rows[0].tolist() == [1, 1, 1, 0, 0, 0, 0, 0]
    assert rows[1].tolist() == rows[5].tolist() == [0, 0, 0, 1, 1, 1, 1, 1]


@pytest.mark.parametrize(
    ("share", "tones"),
    [
        (np.full(100, 0.5), True),
        (np.repeat([0.5, 1.0], [25, 75]), True),  # a quarter lies between ink and paper
        (np.repeat([0.5, 1.0], [24, 76]), False),
        (np.repeat([0.12, 0.86], 50), False),  # these still are ink and paper
        (np.repeat([0.121, 0.859], 50), True),
        # Dark all over, and of more than a tenth of the codes: a night, and no solid ink.
        (np.linspace(0.0, 0.02, 100), True),
        (np.linspace(0.01, 0.011, 100), False),
        (np.concatenate([np.linspace(0, 0.02, 50), np.ones(50)]), False),
        (np.zeros(0), False),
    ],
)
def test_pictures_have_tones_between_ink_and_paper(share, tones):
    assert page_regions._has_tones(share.astype(np.float32)) is tones


@pytest.mark.parametrize(("sharp", "rim"), [(0.49, False), (0.51, True)])
def test_pictures_have_a_rim_around_half_of_them(sharp, rim):
    mask = np.zeros((60, 60), bool)
    mask[20:40, 20:40] = True
    steps = np.zeros((60, 60), np.float32)
    around = np.argwhere(page_regions.grown(mask, 1) & ~mask)
    for y, x in around[: round(sharp * len(around))]:
        steps[y, x] = 0.09
    assert page_regions._has_a_rim(steps, mask) is rim
    assert page_regions._has_a_rim(steps * 0.8, mask) is False
    assert page_regions._has_a_rim(steps, np.ones((60, 60), bool)) is True


def page(height=300, width=400):
    y, x = np.mgrid[:height, :width]
    x, y = x / width, y / height
    return (0.5 + 0.3 * x - 0.2 * y - 0.2 * x * x + 0.1 * x * y + 0.15 * y * y).astype(np.float32)


def test_paper_is_a_surface_of_second_order_under_which_little_lies():
    paper = page()
    assert page_regions.paper_surface(paper) == pytest.approx(paper, abs=0.002)
    dark = paper.copy()
    dark[60:240, 80:300] *= 0.4  # four tenths of the page are a picture
    assert page_regions.paper_surface(dark) == pytest.approx(paper, abs=0.01)


def test_what_is_shaded_like_no_sheet_is_no_paper():
    y = np.linspace(0, 1, 300, dtype=np.float32)[:, None] * np.ones((1, 400), np.float32)
    assert page_regions.paper_surface(0.15 + 0.85 * y) is not None
    assert page_regions.paper_surface(0.05 + 0.95 * y) is None
    assert page_regions.paper_surface(np.full((300, 400), 0.04, np.float32)) is None
    # Twelve places of paper at the least, of those 24 pixels apart.
    assert page_regions.paper_surface(np.full((96, 72), 0.5, np.float32)) is not None
    assert page_regions.paper_surface(np.full((96, 59), 0.5, np.float32)) is None


@pytest.mark.parametrize(
    ("shape", "factor", "narrow"),
    [
        ((1100, 8), 1, False),
        ((1100, 7), 1, True),
        ((1101, 16), 2, False),
        ((15, 1101), 2, True),
        ((2201, 24), 3, False),
    ],
)
def test_art_is_looked_at_on_a_copy_1100_pixels_long(shape, factor, narrow):
    look = ReducedImage.at(np.full(shape, 65535, np.uint16), drawn=False)
    assert (look.factor, look.narrow, look.dark) == (factor, narrow, False)


@pytest.mark.parametrize(("code", "dark"), [(0.429, True), (0.431, False)])
def test_a_dark_ground_is_looked_at_as_its_negative(code, dark):
    coded = np.full((60, 90), round(code * 65535), np.uint16)
    coded[:20] = 65535
    look = ReducedImage.at(coded, drawn=False)
    assert look.dark is dark
    assert look.small[5, 5] == pytest.approx(0 if dark else 1, abs=1e-6)
    assert look.papered(np.zeros((60, 90), bool), look.small).dark is dark
    assert ReducedImage.at(coded[:47]).paper is None


def test_paper_is_laid_over_a_part_of_the_small_picture_only():
    coded = np.full((100, 120), 30_000, np.uint16)
    look = ReducedImage.at(coded, drawn=True)
    where = np.zeros((100, 120), bool)
    where[:, :50] = True
    other = look.papered(where, np.full((100, 120), 0.9, np.float32))
    assert not other.drawn and other.coded is coded
    assert (other.small[:, :50] == np.float32(0.9)).all()
    assert np.array_equal(other.small[:, 50:], look.small[:, 50:])


@pytest.mark.parametrize(("reach", "size"), [((1, 1), 1), ((3, 3), 2), ((30, 12), None)])
@pytest.mark.parametrize("threads", [1, 2])
def test_line_work_is_where_most_around_is_solid_or_clear_and_there_is_both(reach, size, threads):
    height, width = 240, 200
    chance = np.random.default_rng(5)
    coded = chance.integers(20_000, 40_000, (height, width)).astype(np.uint16)
    lettering = np.kron(chance.integers(0, 2, (20, 20)), np.ones((5, 5), int)) * 65535
    coded[60:160, 50:150] = lettering
    codes = np.arange(65536)
    solid, clear = codes < 5_000, codes > 60_000
    found = find_line_work(coded, solid=solid, clear=clear, reach=reach, threads=threads)
    down, across = found.size
    if size is not None:
        assert found.size == (size, size)
    else:
        assert found.size == (12, 8)  # two thirds of the reach, 12 at the most
    # By the definition, block by block.
    rows, columns = height // down, width // across
    cut = coded[: rows * down, : columns * across]
    blocks = {}
    for name, table in (("solid", solid), ("clear", clear)):
        counts = table[cut].reshape(rows, down, columns, across).sum(axis=(1, 3))
        far = max(1, int(reach[0] / down)), max(1, int(reach[1] / across))
        wide = np.pad(counts, ((far[0],) * 2, (far[1],) * 2), mode="edge")
        windows = np.lib.stride_tricks.sliding_window_view(wide, (2 * far[0] + 1, 2 * far[1] + 1))
        blocks[name] = windows.sum(axis=(2, 3))
    pixels = down * across * (2 * far[0] + 1) * (2 * far[1] + 1)
    wanted = np.minimum(blocks["solid"], blocks["clear"]) >= 0.08 * pixels
    wanted &= blocks["solid"] + blocks["clear"] >= 0.65 * pixels
    assert np.array_equal(found.blocks, wanted)
    assert found.share == pytest.approx(wanted.mean())
    none = np.zeros(65536, bool)
    assert find_line_work(coded, solid=solid, clear=none, reach=reach) is None


def test_depth_is_nothing_on_paper_and_one_on_the_crests_of_strokes():
    share = np.full((90, 120), 0.9, np.float32)
    share[40:50, 20:100] = 0.3
    depth, contrast = depths_of(share)
    assert contrast == pytest.approx(0.6)
    assert depth[5, 5] == pytest.approx(0, abs=1e-6) and depth[45, 60] == pytest.approx(1)
    # A solid that is deeper than the strokes does not make them pale.
    share[70:80, 20:100] = share[10:20, 20:100] = share[25:35, 20:100] = 0.3
    share[60:66, 5:11] = 0.0
    depth, _ = depths_of(share)
    assert depth[45, 60] == pytest.approx(1) and depth[63, 8] == pytest.approx(1.5)
    assert depths_of(np.full((9, 9), 0.5, np.float32))[1] == 0


def test_texture_and_paler_flats_are_shares_of_the_art():
    depth = np.zeros((200, 200), np.float32)
    depth[:, :100] = 1.0
    assert tone_or_line._roughness(depth) == 0
    rows = np.arange(200)[:, None]
    depth[:, :100] = 1.5 + 0.5 * np.sin(2 * np.pi * rows / 16)
    # Wide ink is where nothing near is paper: some 94 of 200 columns, and all of them textured.
    assert tone_or_line._roughness(depth) == pytest.approx(0.47, abs=0.015)
    depth[:, :100] = 1.5 + 0.2 * np.sin(2 * np.pi * rows / 16)
    assert tone_or_line._roughness(depth) < 0.01
    strokes = np.zeros((200, 200), np.float32)
    strokes[:, 10::20] = strokes[:, 11::20] = 1.0
    assert tone_or_line._paler_flats(strokes) == 0
    strokes[100:180, 40:160] = 0.6
    inside = (80 - 8) * (120 - 8) / 40_000
    assert tone_or_line._paler_flats(strokes) == pytest.approx(inside, rel=0.02)
    strokes[100:180, 40:160] = 0.7  # as deep as two thirds of the strokes
    assert tone_or_line._paler_flats(strokes) == 0


@pytest.mark.parametrize(
    ("ink", "paper", "spread", "crisp"),
    [(0.1, 0.9, 0.02, True), (0.4, 0.75, 0.02, False), (0.1, 0.9, 0.3, False)],
)
def test_black_and_white_with_nothing_between_is_crisp(ink, paper, spread, crisp):
    bars = np.repeat(np.arange(200) // 20 % 2, 1)[:, None] * np.ones((1, 200))
    noise = np.random.default_rng(1).uniform(-spread / 2, spread / 2, (200, 200))
    share = np.where(bars > 0, ink, paper) + noise
    assert tone_or_line._is_crisp(share.clip(0, 1).astype(np.float32)) is crisp
    # Of each there is two percent at the least.
    few = np.full((200, 200), 0.9, np.float32)
    few[:26, :26] = 0.1
    assert tone_or_line._is_crisp(few) is False
    few[:40, :40] = 0.1
    assert tone_or_line._is_crisp(few) is True


def test_the_parts_of_a_page_are_cut_or_kept(monkeypatch):
    """Strokes hold 1 - share as light; pictures their light against the paper's."""
    coded = np.full((12, 12), 40_000, np.uint16)
    tone, inner = np.zeros((4, 4), bool), np.zeros((4, 4), bool)
    tone[:, 1:], inner[:, 2:] = True, True
    regions = PageRegions(tone, inner, np.full((4, 4), 0.4, np.float32), 3)
    share = np.full((12, 12), 65535, np.uint16)
    share[:6] = 0
    line = type("Line", (), {"share": share.copy(), "notes": ["n"], "repairs": ["r"], "paper": "p"})
    monkeypatch.setattr(mixed_page, "prepare_line", lambda *_, **__: line)
    parts = mixed_page.in_parts(coded, regions, drawn=True)
    assert (parts.notes, parts.repairs, parts.paper) == (["n"], ["r"], "p")
    assert np.array_equal(parts.lines, np.repeat(~tone, 3, 0).repeat(3, 1))
    assert (parts.coded[:6, :3] == 65535).all() and (parts.coded[6:, :3] == 0).all()
    # Light of code 40000 is 0.330; by 0.4 that is 0.826, which in the margin is paper.
    light = ((40_000 / 65535 + 0.055) / 1.055) ** 2.4 / 0.4
    code = 65535 * (1.055 * light ** (1 / 2.4) - 0.055)
    assert (parts.coded[:, 3:6] == 65535).all()
    assert parts.coded[:, 6:] == pytest.approx(np.full((12, 6), code), abs=3)
    line.share = share.copy()
    kept = mixed_page.in_parts(coded, regions, drawn=True, endpoints="off")
    assert (kept.coded[:, 3:] == 40_000).all()
    assert kept.levels == (0, 65535)
