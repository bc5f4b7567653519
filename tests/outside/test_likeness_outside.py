"""Our measure of a film's likeness beside one that others wrote: structural similarity.

Z. Wang, A. C. Bovik, H. R. Sheikh and E. P. Simoncelli, "Image quality assessment: from error
visibility to structural similarity", IEEE Transactions on Image Processing 13 (2004) 600-612, as
scikit-image has it. Film and art are seen from afar by SciPy's Gaussian filter, two dots wide.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter
from skimage import data
from skimage.metrics import structural_similarity

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "pipeline"))

from test_drawing_size import films

DPI, LPI = 300, 25
PICTURES = ("camera", "chelsea", "coins", "horse", "rocket", "coffee", "astronaut")
WAYS = ("auto", "line", "tone")


def art_of(name):
    picture = np.asarray(getattr(data, name)())
    if picture.dtype == bool:
        picture = picture.astype(np.uint8) * 255
    return Image.fromarray(picture).convert("L")


def both(tmp_path, name, treat):
    """Our record of a film, and its structural similarity to the art, both seen from afar."""
    image = art_of(name)
    held = io.BytesIO()
    image.save(held, "PNG")
    ways = {"art": {"treat": treat, "turn": "never"}, "tone": {"endpoints": "off"}}
    wishes = {"sheet": "100 x 100 mm", "dpi": DPI, "lpi": LPI} | ways
    (film,) = films(tmp_path, held.getvalue(), f"{name}.png", **wishes)
    with Image.open(film.files[next(iter(film.files))]) as opened:
        bits = np.asarray(opened.convert("L")) < 128
    width, height = (
        round(film.record["art"][key] / 25.4 * DPI) for key in ("width_mm", "height_mm")
    )
    top, left = (bits.shape[0] - height) // 2, (bits.shape[1] - width) // 2
    seen = gaussian_filter(bits[top : top + height, left : left + width].astype(float), DPI / LPI)
    asked = np.asarray(image.resize((width, height), Image.Resampling.BICUBIC)) / 255
    asked = gaussian_filter(1 - asked, DPI / LPI)
    return film.record, structural_similarity(seen, asked, data_range=1.0)


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    return {
        (name, treat): both(tmp_path_factory.mktemp("film"), name, treat)
        for name in PICTURES
        for treat in WAYS
    }


def test_the_film_that_is_chosen_looks_like_its_art(measured) -> None:
    for name in PICTURES:
        record, similarity = measured[name, "auto"]
        assert record["likeness"]["correlation"] > 0.97, name
        assert similarity > 0.9, name


def test_no_other_treatment_would_have_been_much_more_like_it(measured) -> None:
    for name in PICTURES:
        best = max(measured[name, treat][1] for treat in WAYS)
        assert measured[name, "auto"][1] > best - 0.03, name


def test_both_measures_prefer_the_same_film_of_each_art(measured) -> None:
    told = 0
    for name in PICTURES:
        (line, by_line), (tone, by_tone) = (measured[name, treat] for treat in ("line", "tone"))
        if abs(by_line - by_tone) > 0.05:
            told += 1
            ours = line["likeness"]["correlation"] > tone["likeness"]["correlation"]
            assert ours == (by_line > by_tone), name
    assert told >= 5
