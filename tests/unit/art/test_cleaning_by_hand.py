"""The steps of cleaning line art, each on figures that are known beforehand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.art.analysis.exact_flats import PaleInk
from filmhand.art.analysis.page_regions import PageRegions
from filmhand.art.analysis.paper_estimate import PaperEstimate
from filmhand.art.repair import line_cleaning
from filmhand.art.repair.line_cleaning import ALL, Cleaning, prepare_line
from filmhand.art.repair.stroke_depth import Evener
from filmhand.tone import linear_to_srgb, srgb_to_linear


def paper_of(light, factor):
    return PaperEstimate(np.array(light, np.float32), factor, 1.0, 0.0)


@pytest.mark.parametrize("factor", [1, 3, 4])
def test_depth_is_against_the_papers_light_between_the_pixels_of_its_copy(factor):
    chance = np.random.default_rng(factor)
    light = chance.uniform(0.3, 0.9, (5, 7))
    shape = (5 * factor + factor // 2, 7 * factor + factor // 2)
    coded = chance.integers(0, 65536, shape).astype(np.uint16)
    evener = Evener(coded, paper_of(light, factor), None)
    # A pixel of the copy lies in the middle of the square that it stands for.
    places = [(np.arange(n) + 0.5) / factor - 0.5 for n in shape]
    at = np.meshgrid(*places, indexing="ij")
    inverse = ndimage.map_coordinates(1 / light, at, order=1, mode="nearest")
    wanted = 1 - srgb_to_linear(coded / 65535) * inverse
    assert evener.depth(0, shape[0]) == pytest.approx(wanted, abs=1e-4)
    assert evener.depth(2, 5) == pytest.approx(wanted[2:5], abs=1e-4)


def test_where_a_page_is_tone_it_counts_as_bare_paper():
    tone = np.array([[True, False]])
    regions = PageRegions(tone, tone, np.ones((1, 2), np.float32), 3)
    coded = np.zeros((3, 6), np.uint16)
    evener = Evener(coded, paper_of([[0.5, 0.5]], 3), regions)
    assert evener.depth(0, 3).tolist() == [[0, 0, 0, 1, 1, 1]] * 3


def test_two_numbers_stretch_and_clip():
    coded = np.array([[0, 10_000, 25_000, 40_000, 65_535]], np.uint16).repeat(20, axis=0)
    made = prepare_line(coded, drawn=True, endpoints=(20.0, 20.0))
    # A fifth is clipped at either end: from 10000 to 40000 what lies between is stretched.
    assert made.share[0].tolist() == [65_535, 65_535, 32_768, 0, 0]
    assert "Codes up to 39 count as solid ink and from 156 as clear" in made.notes[0]
    flat = prepare_line(np.full((9, 9), 500, np.uint16), drawn=True, endpoints=(1.0, 1.0))
    assert (flat.share == 65_035).all() and not flat.notes


def test_a_pale_ink_is_brought_up_unless_that_is_off():
    coded = np.array([[30_000, 65_535, 20_000, 47_768]], np.uint16)
    ink = PaleInk(30_000, 65_535)
    made = prepare_line(coded, drawn=True, ink=ink)
    assert made.share[0].tolist() == pytest.approx([65_535, 0, 65_535, 32_768], abs=2)
    (repair,) = made.repairs
    assert (str(repair.kind), repair.found, repair.unit) == ("faded", 54, "% tone")
    for other in ({"endpoints": "off"}, {"cleaning": Cleaning(faded=False)}):
        kept = prepare_line(coded, drawn=True, ink=ink, **other)
        assert np.array_equal(kept.share, 65_535 - coded) and not kept.repairs


def test_with_all_repairs_off_the_share_is_that_of_the_light():
    assert Cleaning(light=False, paper=False, faded=False).nothing
    assert not ALL.nothing and not Cleaning(light=False, paper=False).nothing
    x = np.arange(120) * np.ones((90, 1), int)
    coded = np.where((x // 4) % 6 == 0, 9_000, 50_000).astype(np.uint16)
    made = prepare_line(
        coded, drawn=False, cleaning=Cleaning(light=False, paper=False, faded=False)
    )
    wanted = 65_535 * (1 - srgb_to_linear(coded / 65_535))
    assert made.share == pytest.approx(wanted, abs=1) and not made.notes


@pytest.mark.parametrize("width", [2, 5, 9])
def test_the_width_of_strokes_is_their_area_by_their_edges(width):
    band = np.zeros((16, 200), np.float32)
    for left in range(10, 190, 30):
        band[:, left : left + width] = 1
    # Upright, they show an edge a row and side; the mean of all angles shows 4 / pi.
    found = line_cleaning._stroke_width([band, band], 0.5)
    assert found == pytest.approx(width * 4 / np.pi)
    lying = line_cleaning._stroke_width([np.ascontiguousarray(band.T)], 0.5)
    assert lying == pytest.approx(width * 4 / np.pi)
    assert line_cleaning._stroke_width([np.zeros((9, 9), np.float32)], 0.5) == 0


@pytest.mark.parametrize("noise", [0.01, 0.05])
def test_the_noise_of_paper_is_its_standard_deviation(noise):
    chance = np.random.default_rng(3)
    bands = [chance.normal(0, noise, (16, 400)).astype(np.float32) for _ in range(10)]
    for band in bands:
        band[:, 50:90] = 1  # strokes do not count
    assert line_cleaning._noise(bands, 1.0) == pytest.approx(noise, rel=0.06)
    assert line_cleaning._noise([np.ones((9, 9), np.float32)], 1.0) == 0


def crests(*depths):
    """Bands in which single pixels far apart stand out by these depths."""
    band = np.zeros((9, 9 * len(depths)), np.float32)
    band[4, 4::9] = depths
    return [band]


def test_crests_are_local_maxima_that_are_deep():
    bands = crests(0.9, 0.3, 0.2, 0.5)
    assert sorted(line_cleaning._crests(bands, 0.25)) == pytest.approx([0.3, 0.5, 0.9])
    bands[0][4, 6] = 0.8  # beside a deeper one
    assert sorted(line_cleaning._crests(bands, 0.25)) == pytest.approx([0.3, 0.5, 0.9])


@pytest.mark.parametrize(
    ("depths", "core", "noise", "cut"),
    [
        ((0.9,) * 5, 0.9, 0.0, 0.5),  # ink that is dark is cut at half of all light
        ((0.6,) * 5, 0.6, 0.0, 0.3),
        ((0.6,) * 5, 0.6, 0.05, 0.3),  # never under half of the strokes' own depth
        ((0.79,) * 50 + (0.4,), 0.5, 0.01, 0.385),
        # Nearly all strokes have to stay: nine tenths of the palest.
        ((0.79,) * 10 + (0.3,) * 10, 0.5, 0.0, 0.27),
        ((0.9,) * 10 + (0.42,) * 10, 0.8, 0.0, 0.4),
        ((), 0.6, 0.0, 0.3),
        ((), 1.2, 0.0, 0.5),
    ],
)
def test_strokes_are_cut_at_half_of_their_ink(depths, core, noise, cut):
    bands = crests(*depths) if depths else [np.zeros((9, 9), np.float32)]
    assert line_cleaning._cut(bands, core, noise) == pytest.approx(cut, abs=0.002)


@pytest.mark.parametrize(
    ("recipe", "light", "cleaning", "kinds"),
    [
        ({"gain": 1.0}, (0.95, 1.0), ALL, []),
        ({"gain": 1.02}, (0.95, 1.0), ALL, ["faded"]),
        ({"gain": 1.005}, (0.85, 1.0), ALL, ["light"]),
        ({"gain": 1.0}, (0.78, 0.79), ALL, ["paper"]),
        ({"gain": 1.0}, (0.79, 0.81), ALL, []),
        ({"gain": 1.0}, (0.78, 0.79), Cleaning(paper=False), []),
        ({"gain": 2.0}, (0.3, 0.6), ALL, ["light", "paper", "faded"]),
    ],
)
def test_what_was_mended_of_a_drawing_is_told(recipe, light, cleaning, kinds):
    made = line_cleaning._Recipe(passes=0, core=0.456, speck=0, **recipe)
    done = made.repairs(paper_of([light], 1), cleaning)
    assert [str(repair.kind) for repair in done] == kinds
    if "faded" in kinds:
        assert (done[-1].found, done[-1].unit) == (46, "% darker than the paper")


def test_notes_of_a_recipe():
    assert line_cleaning._Recipe(0, 1.0, 0.5, 0).notes() == []
    assert len(line_cleaning._Recipe(1, 1.0, 0.5, 3).notes()) == 2
    assert line_cleaning._Recipe(0, 1.0, 0.0, 0).notes() == ["No stroke stands out from the paper."]


@pytest.mark.parametrize(("speck", "gone"), [(4, False), (5, True)])
def test_specks_with_little_ink_around_them_are_put_below_the_edge(speck, gone):
    share = np.zeros((30, 40), np.uint16)
    share[10:12, 10:12] = 60_000
    share[5:25, 25:30] = 60_000
    kept = line_cleaning._despeckled(share.copy(), speck)
    assert (kept[10:12, 10:12] > 32_767).all() == (not gone)
    assert (kept[5:25, 25:30] == 60_000).all()


def test_rows_are_cleaned_alike_wherever_they_are_parted():
    chance = np.random.default_rng(1)
    coded = (65_535 * linear_to_srgb(chance.uniform(0.2, 0.8, (60, 50)))).astype(np.uint16)
    evener = Evener(coded, paper_of(np.full((20, 17), 0.8), 3), None)
    recipe = line_cleaning._Recipe(passes=2, gain=1.3, core=0.5, speck=5, tint=0.9)
    whole = line_cleaning._cleaned(evener, recipe, 0, 60)
    parts = [
        line_cleaning._cleaned(evener, recipe, top, min(60, top + 7)) for top in range(0, 60, 7)
    ]
    assert np.array_equal(np.concatenate(parts), whole)
    plain = line_cleaning._cleaned(evener, line_cleaning._Recipe(0, 2.0, 0.5, 0, 0.9), 10, 20)
    depth = 1 - srgb_to_linear(coded[10:20] / 65_535) / 0.8
    wanted = np.clip(65_535 * (2.0 * 0.9 * depth + 0.1), 0, 65_535)
    assert plain == pytest.approx(wanted, abs=3)
