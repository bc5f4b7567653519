from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from filmhand.art.analysis.islands import block_size, find_islands, ink_of_blocks

TONE = (1 - np.arange(65536) / 65535).astype(np.float32)


@pytest.mark.parametrize("size", [1, 3, 7])
def test_ink_is_the_mean_tone_of_blocks(size):
    picture = np.random.default_rng(2).integers(0, 65536, (50, 41)).astype(np.uint16)
    ink = ink_of_blocks(picture, TONE, size)
    assert ink.shape == (-(-50 // size), -(-41 // size))
    whole = TONE[picture[: 50 // size * size, : 41 // size * size]]
    means = whole.reshape(50 // size, size, 41 // size, size).mean(axis=(1, 3))
    assert np.allclose(ink[: 50 // size, : 41 // size], means, atol=1e-5)


def sheet(marks):
    picture = np.full((600, 600), 65535, np.uint16)
    picture[150:350, 150:350] = 20000
    for y, x, side in marks:
        picture[y : y + side, x : x + side] = 0
    return picture


def found(picture, *, least=40, far=30):
    ink = ink_of_blocks(picture, TONE, 1)
    return find_islands(ink, 1, least=least, far=far)


def test_small_and_far_goes_and_near_or_large_stays():
    picture = sheet([(500, 500, 4), (60, 450, 3), (360, 250, 4), (480, 60, 20)])
    islands = found(picture)
    assert sorted(islands.places) == [(452, 62), (502, 502)]
    islands.clear(picture, 65535)
    assert np.array_equal(picture, sheet([(360, 250, 4), (480, 60, 20)]))


def test_words_keep_their_dots():
    image = Image.fromarray(sheet([]) // 257).convert("L")
    pen = ImageDraw.Draw(image)
    pen.text((60, 480), "i.e. a jay: fini!", 0, font=ImageFont.load_default(14))
    picture = np.asarray(image).astype(np.uint16) * 257
    assert not found(picture).places


def test_nothing_to_clear():
    blank = np.full((300, 300), 65535, np.uint16)
    assert not found(blank).places and not found(sheet([])).places
    assert not found(np.zeros((50, 50), np.uint16)).places


def test_large_pictures_are_looked_at_in_blocks():
    assert [block_size(shape) for shape in ((100, 100), (900, 700), (6000, 4000))] == [1, 1, 7]
