"""Finished films of an open photograph and of a drawing print their art again."""

from __future__ import annotations

import numpy as np
import pytest
from film_set_cases import drawing_films, made_row, made_set, photograph_films
from PIL import Image

from filmhand.profile.terms import MoireLimits

pytestmark = pytest.mark.outside


@pytest.mark.slow
def test_a_photograph_in_process_inks(tmp_path):
    row, bands = photograph_films(tmp_path, "astronaut")
    assert row.found.mean < 2
    assert row.found.p95 < 5
    assert bands[0].visibility < MoireLimits().warn


def test_a_drawing_in_its_inks(tmp_path):
    found = drawing_films(tmp_path).found
    assert found.mean < 0.3
    assert found.p95 < 0.01


def test_a_drawing_as_jobs_make_it(tmp_path):
    inks = (
        "[{name: red, color: '#b3261e'}, {name: blue, color: '#1d3f9c'}, "
        "{name: yellow, color: '#f2c418'}]"
    )
    found = made_row(tmp_path, "drawing", inks, "its three inks").found
    assert found.mean < 0.3 and found.p95 < 1.5


@pytest.mark.parametrize("dpi", [100, 400])
def test_flat_art_gives_back_its_areas(tmp_path, dpi):
    codes = np.full((120, 120, 3), 255, np.uint8)
    codes[10:50, 20:90], codes[50:101, 20:41] = (179, 38, 30), (29, 63, 156)
    Image.fromarray(codes).save(tmp_path / "a.png", dpi=(100, 100))
    inks = "[{name: red, color: '#b3261e'}, {name: blue, color: '#1d3f9c'}]\nart: {fit: own}"
    made_set(tmp_path, tmp_path / "a.png", inks, dpi=dpi, lpi=20)
    made = sorted((tmp_path / "out").glob("*.png"))
    areas = [int((~np.asarray(Image.open(path))).sum()) for path in made]
    square = (dpi // 100) ** 2
    wanted = [40 * 70 * square, 51 * 21 * square]
    assert areas == wanted
