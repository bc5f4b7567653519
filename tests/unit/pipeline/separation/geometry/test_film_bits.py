"""The tones of inks to bits of films."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.film.bits import BitSheet
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.separation.geometry.film_bits import FilmToFill, fill_films
from filmhand.screen.dot_shapes import Dot
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import build_tile
from filmhand.sheet.layout import Box
from filmhand.units import PixelsPerInch

WIDTH, HEIGHT, LEFT, TOP = 150, 300, 11, 6
FULL = 65535


class Tones:
    """Tones that are known as a whole."""

    def __init__(self, *planes):
        self.planes = np.array(planes, np.uint16)

    def tones(self, first, count):
        return self.planes[:, first : first + count]


@pytest.fixture
def area(tmp_path):
    def made(width=WIDTH):
        path = tmp_path / f"{len(list(tmp_path.iterdir()))}.bits"
        sheet = BitSheet.create(path, width=width + 40, height=HEIGHT + 20)
        return AreaOfSheet(sheet, Box(LEFT, TOP, width, HEIGHT))

    return made


def tile(lpi, angle):
    return build_tile(find_lattice(lpi, angle, PixelsPerInch(600, 600)), Dot.ROUND.row.function)


def screener(made):
    return Screener(made, column=LEFT, width=WIDTH)


def plane(seed):
    """A gradient with bare film and a solid."""
    tones = np.random.default_rng(seed).integers(0, 1 << 16, (HEIGHT, WIDTH))
    tones[:40], tones[40:90] = 0, FULL
    return tones


@pytest.mark.parametrize("threads", [1, 3])
def test_each_film_has_its_own_screen_anchored_to_the_sheet(area, threads):
    tiles = [tile(45, 22.5), tile(35, 52.5)]
    films = [FilmToFill(area(), screener(each)) for each in tiles]
    planes = [plane(1), plane(2)]
    fill_films(films, Tones(*planes), threads=threads)
    for film, made, tones in zip(films, tiles, planes, strict=True):
        sheet = np.zeros((HEIGHT + 20, WIDTH + 40), np.uint16)
        sheet[TOP : TOP + HEIGHT, LEFT : LEFT + WIDTH] = tones
        cut = Screener(made, column=0, width=WIDTH + 40).cut(sheet, row=0)
        whole = np.unpackbits(film.area.bits.read(0, HEIGHT + 20), axis=1, count=WIDTH + 40)
        assert (whole == cut).all()


def test_a_curve_changes_tones_only(area):
    curve = np.full(1 << 16, 20000, np.uint16)
    film = FilmToFill(area(), screener(tile(45, 22.5)), curve)
    fill_films([film], Tones(plane(3)))
    found = film.area.read(0, HEIGHT)
    assert not found[:40].any()
    assert found[40:90].all()
    assert found[90:].mean() == pytest.approx(20000 / FULL, abs=0.01)


def test_without_a_screen_ink_is_where_there_is_more_than_half(area):
    film = FilmToFill(area())
    tones = plane(4)
    fill_films([film], Tones(tones))
    assert (film.area.read(0, HEIGHT) == (tones > 32767)).all()


def test_solid_and_bare_pixels_are_kept_beside_tints(area):
    film = FilmToFill(area(), screener(tile(45, 22.5)), beside_tints=area())
    tones = plane(6)
    fill_films([film], Tones(tones))
    kept = film.beside_tints.read(0, HEIGHT)
    assert (kept == ((tones == 0) | (tones == FULL))).all()
    assert 0 < kept.mean() < 1


def test_films_of_other_sizes_are_no_set(area):
    with pytest.raises(ValueError, match="one size"):
        fill_films([FilmToFill(area()), FilmToFill(area(WIDTH + 1))], Tones(plane(5), plane(6)))


def test_there_is_a_film_for_each_ink(area):
    with pytest.raises(ValueError, match="zip"):
        fill_films([FilmToFill(area())], Tones(plane(5), plane(6)))
