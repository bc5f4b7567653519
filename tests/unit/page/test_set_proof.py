from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.page.proof_page import PAGE_WIDTH, ProofWords
from filmhand.page.set_proof import SmallFilm, small_light, write_set_proof
from filmhand.page.swatch import swatch_color
from filmhand.units import Resolution

RED, BLUE = (45.0, 60.0, 40.0), (32.0, 10.0, -45.0)  # no color of the page's own signs
PRINT = (90, 170, 60)
TITLE = ProofWords("poster.png")


def film(k, ink, color, shape=(300, 200)):
    light = np.ones(shape, np.float32)
    light[:, : shape[1] // 2] = 0
    return SmallFilm(k, 2, ink, color, light)


def proof(tmp_path, *, words=TITLE, films=None, size_mm=(100.0, 50.0)):
    printed = np.full((20, 40, 3), PRINT, np.uint8)
    printed[:, 20:] = 255
    films = [film(1, "red", RED), film(2, "blue", BLUE)] if films is None else films
    write_set_proof(tmp_path / "p.jpg", films, printed, size_mm=size_mm, words=words)
    return np.asarray(Image.open(tmp_path / "p.jpg").convert("RGB")).astype(int)


def is_near(picture, color, off=12):
    return (np.abs(picture - np.array(color)) <= off).all(axis=2)


def extent(mask):
    """Width and height; what is only a letter's edge does not count."""
    rows, columns = (np.flatnonzero(mask.sum(axis=axis) > 20) for axis in (1, 0))
    return int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1


def test_the_expected_print_is_large_and_in_the_proportions_of_the_art(tmp_path) -> None:
    picture = proof(tmp_path)
    assert picture.shape[1] == PAGE_WIDTH
    width, height = extent(is_near(picture, PRINT))
    assert abs(width - 520) < 20 and abs(height - 520) < 20  # the half of 1040 x 520


def test_a_print_of_unequal_places_is_shown_as_it_measures(tmp_path) -> None:
    width, height = extent(is_near(proof(tmp_path, size_mm=(50.0, 50.0)), PRINT))
    assert abs(width - 520) < 20 and abs(height - 1040) < 20


def test_each_film_has_a_swatch_of_its_ink(tmp_path) -> None:
    picture = proof(tmp_path)
    places = [
        np.argwhere(is_near(picture, swatch_color(color))).mean(axis=0) for color in (RED, BLUE)
    ]
    assert places[0][1] < PAGE_WIDTH / 2 < places[1][1]
    assert abs(places[0][0] - places[1][0]) < 2  # on one line, below the films


def test_films_stand_beside_each_other_below_the_print(tmp_path) -> None:
    picture = proof(tmp_path)
    black = (picture.max(axis=2) < 12).sum(axis=1)
    rows = np.flatnonzero(black >= 190)  # two halves of 100
    assert len(rows) >= 295
    assert rows.min() > np.nonzero(is_near(picture, PRINT))[0].max()


def test_films_and_print_are_turned_so_that_the_art_stands_upright(tmp_path) -> None:
    words = ProofWords("poster.png", turn=90)
    picture = proof(tmp_path, words=words)
    # 100 x 50 mm are now 50 x 100, and what was on the left is below.
    width, height = extent(is_near(picture, PRINT))
    assert abs(width - 650) < 20 and abs(height - 650) < 20
    assert np.nonzero(is_near(picture, PRINT))[0].min() > 64 + 600


@pytest.mark.parametrize("of", [1, 2, 3, 4, 8])
@pytest.mark.parametrize("sideways", [False, True])
def test_a_film_is_made_as_small_as_it_is_shown(tmp_path, of, sideways) -> None:
    with BitSheet.create(tmp_path / "bits", width=2400, height=3000) as bits:
        rows = np.zeros((3000, 300), np.uint8)
        rows[:, 75:150] = rows[1500:, 150:225] = 0b10101010
        bits.write(0, rows)
        light = small_light(bits, Resolution(600, 600), of=of, sideways=sideways)
    height, width = light.shape[::-1] if sideways else light.shape
    columns = 2 if of in {1, 2, 4} else 3
    assert max(width / ((1040 - 20 * (columns - 1)) // columns), height / 620) <= 1.01
    assert abs(float(light.mean()) - 0.8125) < 0.01
    films = [SmallFilm(k, of, f"ink {k}", RED, light) for k in range(1, of + 1)]
    picture = proof(tmp_path, films=films, words=ProofWords("a", turn=90 if sideways else 0))
    gray = is_near(picture, (188, 188, 188), 6)  # half the light, as sRGB codes it
    assert gray.sum() == pytest.approx(of * width * height * 0.375, rel=0.05)


def test_warnings_and_facts_are_told(tmp_path) -> None:
    bare = proof(tmp_path)
    words = ProofWords("poster.png", ("43-80 mesh",), ("No ink comes near the green.",))
    told = proof(tmp_path, words=words)
    assert told.shape[0] > bare.shape[0] + 60
    assert is_near(told, (150, 20, 20), 20).sum() > 200
