"""Films of art that no sheet holds, joined again, against one film on a sheet that holds it.

The pictures are scikit-image's samples (astronaut, camera); the films are read with Pillow.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.sheet.placement import place_art

data = pytest.importorskip("skimage.data")
pytestmark = pytest.mark.outside

BASE = {
    "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50", "mesh": "43-80",
    "margin": "0.5 in", "write": "png",
}  # fmt: skip
LARGE = {"sheet": "7 x 7 in", "marks": "{label: no, ruler: no, solid: no}"}
SMALL = {"sheet": "4.5 x 5 in"}
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="80mm" viewBox="0 0 80 80">'
    '<g fill="none" stroke="black" stroke-width="1">'
    + "".join(f'<circle cx="{5 * n}" cy="{80 - 4 * n}" r="{4 + n}"/>' for n in range(1, 15))
    + "</g></svg>"
)


def profile_of(**keys):
    text = "".join(f"{key}: {value}\n" for key, value in (BASE | keys).items())
    return read_profile(text, name="test", file="test.yaml")


def made(tmp_path, path, profile):
    for folder in ("out", "scratch"):
        (tmp_path / folder).mkdir(exist_ok=True)
    request = JobRequest(
        art=path, name=path.name, profile=profile, out=tmp_path / "out",
        scratch=tmp_path / "scratch", threads=2,
    )  # fmt: skip
    films = []
    for film in make_films(request).films:
        (file,) = film.files.values()
        with Image.open(file) as image:
            films.append((film, ~np.asarray(image.convert("1"))))
    return films


def art_of(name, tmp_path):
    path = tmp_path / name
    if name.endswith(".svg"):
        path.write_text(SVG)
    elif name.startswith("wide"):
        Image.fromarray(data.camera()[100:400]).save(path)
    else:
        Image.fromarray(data.astronaut()).save(path)
    return path


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("astronaut.png", {}),
        ("astronaut.png", {"film": "{mirror: true}", "dot": "line", "mesh": "none"}),
        ("wide camera.png", {"mesh": "none", "film": "{negative: true}", "dpi": "300 x 600"}),
        ("circles.svg", {"mesh": "none"}),
    ],
)
def test_joined_films_are_the_large_film_bit_for_bit(tmp_path, name, more):
    path = art_of(name, tmp_path)
    art = "{fit: width 6 in, place: top-left, overlap: 0.4 in, tile: auto}"
    ((film_of_all, large),) = made(tmp_path, path, profile_of(**LARGE, **more, art=art))
    small = profile_of(**SMALL, **more, art=art)
    films = made(tmp_path, path, small)
    assert len(films) >= 4
    x, y = small.dpi.x, small.dpi.y
    shape = (300, 512) if name.startswith("wide") else (512, 512)
    layout = place_art(small, art_px=shape[::-1], art_ppi=None)
    mirror = small.film.mirror
    # The large film's art begins in the corner of its margin, right where the joined one's does.
    joined = np.zeros((layout.sheet.height, layout.sheet.width), np.bool_)
    seen = np.zeros(joined.shape, np.uint8)
    for (film, bits), one in zip(films, layout.films, strict=True):
        own, shown = one.art, one.part.shown
        if mirror:
            own, shown = own.mirrored(bits.shape[1]), shown.mirrored(joined.shape[1])
        part = bits[own.top : own.bottom, own.left : own.right]
        there = np.s_[shown.top : shown.bottom, shown.left : shown.right]
        # What an earlier film shows of the same place is the same to the bit.
        assert np.array_equal(part[seen[there] > 0], joined[there][seen[there] > 0])
        joined[there] = part
        seen[there] += 1
        # Mending and checks are those of the whole.
        for what in ("spotted", "checks"):
            assert film.record[what] == film_of_all.record[what]
        assert film.suffix == f"-r{one.part.row}c{one.part.column}"
    assert seen.max() == 4 and (seen > 0).sum() == layout.art.width * layout.art.height
    assert 0.02 < joined.mean() < 0.98
    width, height = joined.shape[1], joined.shape[0]
    assert width == 7 * x
    assert np.array_equal(large[:height, :width], joined[: 7 * y])
