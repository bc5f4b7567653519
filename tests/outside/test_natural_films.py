"""Films of photographs, labeled by scipy.ndimage: nothing on them is too small for the mesh.

The photographs are scikit-image's (camera, chelsea, coffee, grass: CC0 and public domain). The
limit is one opening and two threads, by area: openings and threads as in the mesh's name. Black
and white are labeled edge to edge; joined at corners as well, components only get larger.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageOps
from scipy import ndimage

from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

data = pytest.importorskip("skimage.data")
pytestmark = pytest.mark.outside

PROFILE = """\
sheet: letter
dpi: {dpi}
lpi: {lpi}
dot: {dot}
mesh: {mesh}
margin: 0 in
angle: {angle}
art: {{treat: tone}}
tone: {{hold: auto}}
marks: {{label: false, ruler: false, solid: false}}
write: tiff
"""
EVERY = [
    (photo, dpi, lpi, mesh, "round")
    for photo in ("camera", "chelsea", "coffee")
    for dpi, lpi, mesh in ((300, 25, "43-80"), (600, 45, "77-55"))
]
OTHERS = [
    ("camera", 1200, 55, "120-34", "round"),
    ("coffee", 1200, 55, "120-34", "round"),
    ("camera", 600, 45, "77-55", "ellipse"),
    ("chelsea", 600, 45, "77-55", "diamond"),
    ("coffee", 600, 45, "77-55", "grain"),
    ("grass", 300, 45, "43-80", "round"),
    ("grass", 600, 45, "77-55", "ellipse"),
]


def jpeg(folder: Path, photo: str) -> Path:
    """The photograph at 200 pixels to the inch, cut to the proportions of the sheet."""
    pixels = getattr(data, photo)()
    if photo == "grass":  # laid out beside itself, so that its blades stay as fine as they are
        pixels = np.tile(pixels, (5, 4))[:2200, :1700]
    art = Image.fromarray(pixels)
    upright = art.height >= art.width
    sheet = (1700, 2200) if upright else (2200, 1700)
    art = ImageOps.fit(art, sheet, Image.Resampling.BICUBIC)
    path = folder / f"{photo}.jpg"
    art.save(path, quality=90)
    return path


def components(bits: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Pixels of every component that the border of the art does not cut."""
    labels, count = ndimage.label(bits)
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    areas[np.unique(np.r_[labels[0], labels[-1], labels[:, 0], labels[:, -1]])] = 0
    areas[0] = 0
    return areas[areas > 0]


@pytest.mark.parametrize(("photo", "dpi", "lpi", "mesh", "dot"), EVERY + OTHERS)
def test_no_component_is_under_what_the_mesh_prints_evenly(
    tmp_path: Path, photo: str, dpi: int, lpi: int, mesh: str, dot: str
) -> None:
    text = PROFILE.format(dpi=dpi, lpi=lpi, dot=dot, mesh=mesh, angle=22.5 if lpi == 45 else 45)
    profile = read_profile(text, name="test", file="test.yaml")
    out, scratch = tmp_path / "out", tmp_path / "scratch"
    out.mkdir()
    scratch.mkdir()
    art = jpeg(tmp_path, photo)
    film = make_films(JobRequest(art, art.name, profile, out=out, scratch=scratch)).films[0]
    bits = tifffile.imread(next(iter(film.files.values()))).astype(bool)
    # The art lies inside white paper, whose border cuts what touches it.
    rows, columns = np.flatnonzero(bits.any(1)), np.flatnonzero(bits.any(0))
    bits = bits[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    threads, thread_um = (float(part) for part in mesh.split("-"))
    even_um = 10000 / threads - thread_um + 2 * thread_um
    least = np.pi / 4 * even_um**2 / (25400 / dpi) ** 2
    for color in (bits, ~bits):
        areas = components(color)
        assert areas.size > 300
        assert (areas < least).sum() == 0
    checks = {check["name"]: check for check in film.record["checks"]}
    for name in ("smallest dot", "smallest shadow dot"):
        assert checks[name]["verdict"] == "pass"
