"""The films of a set printed over each other."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.film.bits import BitSheet
from filmhand.ink.cielab import lab_to_srgb, lab_to_xyz, srgb_to_lab, xyz_to_lab
from filmhand.ink.flat_colors import flat_colors, share_flats
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.separation.geometry.ink_regions import ink_regions
from filmhand.pipeline.separation.geometry.ink_shapes import InkShapes
from filmhand.pipeline.separation.recombined import recombined_films
from filmhand.screen.dot_shapes import Dot
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import build_tile
from filmhand.sheet.layout import Box
from filmhand.units import PixelsPerInch

WHITE = np.array([100.0, 0.0, 0.0])
CYAN, RED = np.array([55.0, -37, -50]), np.array([45.0, 65, 40])


@pytest.fixture
def laid(tmp_path):
    """Puts bits of art on a sheet of their own, off its corner."""

    def lay(bits):
        height, width = bits.shape
        name = tmp_path / f"{len(list(tmp_path.iterdir()))}.bits"
        sheet = BitSheet.create(name, width=width + 20, height=height + 9)
        area = AreaOfSheet(sheet, Box(5, 4, width, height))
        area.write(0, bits)
        return area

    return lay


def model_of(*colors, opacity=0.0, **options):
    return print_model([PrintingInk(color, opacity) for color in colors], WHITE, **options)


def codes_of(labs):
    return np.rint(lab_to_srgb(np.asarray(labs, float)) * 65535).astype(np.uint16)


@pytest.mark.parametrize("spread", [1.0, 2.0])
def test_the_print_is_of_what_lies_over_each_other_and_not_of_chance(laid, spread):
    model = model_of(CYAN, RED, yule_nielsen=spread)
    stripes = np.zeros((16, 16), bool)
    stripes[::2] = True
    art = np.full((4, 4, 3), 65535, np.uint16)
    same = recombined_films([laid(stripes), laid(stripes)], model, art, cell=16)
    apart = recombined_films([laid(stripes), laid(~stripes)], model, art, cell=16)
    assert same.printed[0, 0] == pytest.approx(model.of_parts(np.array([0.5, 0, 0, 0.5])))
    assert apart.printed[0, 0] == pytest.approx(model.of_parts(np.array([0, 0.5, 0.5, 0])))
    assert same.areas.tolist() == apart.areas.tolist() == [0.5, 0.5]
    assert same.difference.mean != pytest.approx(apart.difference.mean, rel=0.05)


def test_places_of_art_are_means_of_its_light(laid):
    rng = np.random.default_rng(5)
    codes = rng.integers(0, 65536, (12, 9, 3)).astype(np.uint16)
    film = laid(np.zeros((24, 18), bool))
    each = recombined_films([film], model_of(RED), codes, cell=2, cells=1)
    assert each.art == pytest.approx(srgb_to_lab(codes / 65535), abs=1e-6)
    # Places that cut pixels take their part of them: the mean of all is that of three by three.
    coarse = recombined_films(
        [film], model_of(RED), codes.repeat(3, 0).repeat(3, 1), cell=2, cells=1
    )
    assert coarse.art == pytest.approx(each.art, abs=1e-6)
    uneven = recombined_films(
        [laid(np.zeros((25, 19), bool))], model_of(RED), codes, cell=7, cells=1
    )
    fine = codes.repeat(25, 0).repeat(19, 1)
    edges = np.rint(np.linspace(0, 25, 5)), np.rint(np.linspace(0, 19, 4))
    part = fine[int(edges[0][1] * 12) : int(edges[0][2] * 12), int(edges[1][2] * 9) :]
    whole = recombined_films([laid(np.zeros((1, 1), bool))], model_of(RED), part, cell=1)
    assert uneven.art[1, 2] == pytest.approx(whole.art[0, 0], abs=1e-6)


def test_light_spreads_within_cells_and_is_averaged_over_those_of_a_place(laid):
    model = model_of(RED, yule_nielsen=2.0)
    half = np.zeros((16, 32), bool)
    half[:, :16] = True
    art = np.full((4, 8, 3), 65535, np.uint16)
    solid, cloth = model.screened(np.array([[1.0], [0.0]]))
    mean = xyz_to_lab((lab_to_xyz(solid) + lab_to_xyz(cloth)) / 2)
    apart = recombined_films([laid(half)], model, art, cell=16, cells=2).printed
    assert apart.shape == (1, 1, 3)
    assert apart[0, 0] == pytest.approx(mean)
    together = recombined_films([laid(half)], model, art, cell=32, cells=1).printed[0, 0]
    assert together == pytest.approx(model.screened(np.array([0.5])))
    assert together[0] < mean[0] - 3


def test_uneven_sizes_are_all_looked_at(laid):
    rng = np.random.default_rng(9)
    bits = rng.random((67, 101)) < 0.4
    model = model_of(RED)
    found = recombined_films([laid(bits)], model, np.zeros((5, 5, 3), np.uint16), cell=7)
    assert found.printed.shape == found.art.shape == (2, 4, 3)
    assert found.areas[0] == bits.mean()
    # Without spread all places together are the mean of all pixels, as far as they are equal.
    light = lab_to_xyz(found.printed).mean(axis=(0, 1))
    assert light == pytest.approx(lab_to_xyz(model.screened(bits.mean()[None])), rel=0.01)


def test_flat_art_gives_back_its_areas_and_colors(laid):
    palette = np.array([[200, 20, 30], [20, 40, 160], [255, 255, 255]], np.uint8)
    y, x = np.mgrid[:40, :56]
    labels = np.full((40, 56), 2)
    labels[8:32, 6:30] = 0
    labels[(x - 38) ** 2 + (y - 20) ** 2 < 120] = 1
    codes = palette[labels]
    inks = srgb_to_lab(palette[:2] / 255)
    colors = flat_colors(codes, inks, WHITE)
    shapes = InkShapes(ink_regions(share_flats(codes, colors).shares), (56 * 6, 40 * 6))
    films = [laid(tone > 0) for tone in shapes.tones(0, 240)]
    model = model_of(*inks, opacity=1.0)
    found = recombined_films(films, model, codes * np.uint16(257), cell=6, cells=1)
    true = np.array([(labels == k).mean() for k in range(2)])
    assert found.areas == pytest.approx(true, rel=0.002)
    assert found.difference.p95 < 1e-3
    assert found.difference.mean < 0.3
    # Films that are exchanged are far off.
    wrong = recombined_films(films[::-1], model, codes * np.uint16(257), cell=6, cells=1)
    assert wrong.difference.mean > 10


def test_screened_tints_give_back_their_color(laid):
    resolution = PixelsPerInch(600, 600)
    model = model_of(CYAN, RED)
    films, tones = [], (0.3, 0.55)
    for tone, angle in zip(tones, (22.5, 52.5), strict=True):
        lattice = find_lattice(45, angle, resolution)
        tile = build_tile(lattice, Dot.ROUND.row.function)
        rows = np.full((600, 600), round(tone * 65535), np.uint16)
        films.append(laid(Screener(tile, column=0, width=600).cut(rows, row=0)))
    art = codes_of(np.full((20, 20, 3), model.screened(np.array(tones))))
    found = recombined_films(films, model, art, cell=13)
    assert found.areas == pytest.approx(tones, abs=0.003)
    assert found.difference.mean < 1.5
    assert found.printed.mean(axis=(0, 1)) == pytest.approx(art_lab(art), abs=1)


def art_lab(codes):
    return srgb_to_lab(codes[0, 0] / 65535)


def test_films_that_are_no_set(laid):
    one, other = laid(np.zeros((5, 6), bool)), laid(np.zeros((6, 6), bool))
    art = np.zeros((3, 3, 3), np.uint16)
    with pytest.raises(ValueError, match="1 films"):
        recombined_films([one], model_of(CYAN, RED), art, cell=2)
    with pytest.raises(ValueError, match="one size"):
        recombined_films([one, other], model_of(CYAN, RED), art, cell=2)
