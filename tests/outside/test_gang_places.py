"""Art is found on a shared film where its record says, by another library's template matching."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from skimage import data
from skimage.color import rgb2gray
from skimage.feature import match_template
from skimage.filters import gaussian
from skimage.transform import resize

from filmhand.pipeline.gang import make_gang
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

pytestmark = pytest.mark.outside

PROFILE = """
sheet: 8.5 x 11 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
angle: 22.5
gang: 10 min
art: {fit: width 60 mm}
tone: {endpoints: off}
write: png
"""
COARSER = 6  # pixels of the film to one of the comparison: about half a dot
BLUR = 2  # of the comparison's pixels: dots become the gray that they stand for


def test_pictures_are_where_their_records_say(tmp_path):
    """Pictures of scikit-image's data set; the match is scikit-image's own (Lewis 1995)."""
    pictures = {"astronaut": data.astronaut(), "coffee": data.coffee(), "cat": data.chelsea()}
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    for part in ("out", "scratch"):
        (tmp_path / part).mkdir()
    requests = []
    for name, picture in pictures.items():
        Image.fromarray(picture).save(tmp_path / f"{name}.png")
        requests.append(
            JobRequest(
                art=tmp_path / f"{name}.png",
                name=f"{name}.png",
                profile=profile,
                out=tmp_path / "out",
                scratch=tmp_path / "scratch",
                threads=2,
            )
        )
    result = make_gang(requests)
    assert sorted(result.placed) == [0, 1, 2]
    with Image.open(result.placed[0].files["png"]) as opened:
        film = np.asarray(opened.convert("L"), np.float64) / 255
    small = film[: film.shape[0] // COARSER * COARSER, : film.shape[1] // COARSER * COARSER]
    small = small.reshape(small.shape[0] // COARSER, COARSER, -1, COARSER).mean(axis=(1, 3))
    small = gaussian(small, BLUR)
    for number, picture in enumerate(pictures.values()):
        record = result.placed[number].record
        size = [
            round(record["art"][side] / 25.4 * 300 / COARSER) for side in ("height_mm", "width_mm")
        ]
        sought = gaussian(resize(rgb2gray(picture), size, anti_aliasing=True), BLUR)
        match = match_template(small, sought)
        row, column = np.unravel_index(match.argmax(), match.shape)
        assert match.max() > 0.75
        told = [record["gang"][key] / 25.4 * 300 / COARSER for key in ("y_mm", "x_mm")]
        assert abs(row - told[0]) <= 1
        assert abs(column - told[1]) <= 1
