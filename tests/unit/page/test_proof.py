from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.mesh.printing.print_model import PrintConditions
from filmhand.mesh.table import read_mesh
from filmhand.page.predicted_print import coded, write_predicted_print
from filmhand.page.proof import write_proof
from filmhand.sheet.layout import Box
from filmhand.tone import linear_to_srgb
from filmhand.units import Resolution

DPI = Resolution(300, 300)
MESH = PrintConditions(mesh=read_mesh("43-80"))
RED, BLUE, ORANGE, FRAME = (214, 40, 40), (30, 90, 220), (235, 120, 0), (0, 125, 125)


@pytest.fixture
def proof(tmp_path):
    """proof(film, …): the picture of a film, as (h, w, 3)."""

    def draw(film, resolution=DPI, **more):
        with BitSheet.create(tmp_path / "bits", width=film.shape[1], height=film.shape[0]) as bits:
            bits.write(0, np.packbits(film, axis=1))
            write_proof(bits, tmp_path / "p.jpg", resolution=resolution, **({"mended": []} | more))
        return np.asarray(Image.open(tmp_path / "p.jpg").convert("RGB")).astype(int)

    return draw


def near(picture, color):
    """(row, column) of the pixels of about a color's hue; JPEG blurs color more than light."""
    gray = picture.mean(axis=2, keepdims=True)
    hue = np.array(color) - np.mean(color)
    along = ((picture - gray) * hue).sum(axis=2) / (hue**2).sum()
    off = np.abs(picture - gray - along[..., None] * hue).max(axis=2)
    return np.argwhere((along > 0.4) & (off < 45))


def chequered(height, width, cell=6):
    y, x = np.mgrid[:height, :width]
    return (x // cell + y // cell) % 2 == 0


def test_without_a_mesh_there_is_the_film_alone(proof):
    film = np.zeros((1500, 1200), bool)
    film[:750] = True
    picture = proof(film)
    assert picture.shape == (1000, 800, 3)
    assert picture[250, 400].max() < 10 and picture[750, 400].min() > 245


def test_with_a_mesh_the_detail_lies_right_of_the_film(proof):
    film = np.zeros((3300, 2550), bool)
    film[1200:1900, 900:1600] = chequered(700, 700)
    picture = proof(film, conditions=MESH)
    assert picture.shape[0] > 1000 and picture.shape[1] > 773 + 400
    # The busiest place is the only one that is not bare; the frame is around some of it.
    frame = near(picture[:, :800], FRAME)
    scale = 1000 / 3300
    assert 20 + (1200 - 150) * scale < frame[:, 0].min()
    assert frame[:, 0].max() < 20 + (1900 + 150) * scale
    assert 20 + (900 - 150) * scale < frame[:, 1].min()
    assert frame[:, 1].max() < 20 + (1600 + 150) * scale
    side = frame[:, 0].max() - frame[:, 0].min()
    assert side == pytest.approx(25 / 25.4 * 300 * scale, abs=8)
    close = picture[30:500, 830:1300]
    assert (close.mean(axis=2) < 60).mean() > 0.25 and (close.mean(axis=2) > 200).mean() > 0.15


def test_the_detail_is_taken_from_the_art(proof):
    film = np.zeros((1500, 1500), bool)
    film[:1500, :700] = chequered(1500, 700)  # busier, but not art
    film[800:1200, 900:1300] = chequered(400, 400, cell=20)
    frame = near(proof(film, conditions=MESH, art=Box(900, 800, 400, 400))[:, :1020], FRAME)
    scale = 1000 / 1500
    assert frame[:, 1].min() >= 20 + 900 * scale - 8
    assert frame[:, 0].min() >= 20 + 800 * scale - 8
    assert frame[:, 1].max() <= 20 + 1300 * scale + 8


@pytest.mark.parametrize("place", [(700, 1100), (0, 0), (1499, 1499)])
def test_the_detail_may_be_asked_for_at_a_place(proof, place):
    film = chequered(1500, 1500)
    frame = near(proof(film, conditions=MESH, detail_at=place)[:, :1020], FRAME)
    scale = 1000 / 1500
    half = 148  # of 25 mm at 300 dpi, and the square stays on the film
    for axis in (0, 1):
        middle = min(max(place[1 - axis], half), 1500 - half)
        found = (frame[:, axis].min() + frame[:, axis].max()) / 2
        assert found == pytest.approx(20 + middle * scale, abs=6)


def test_lost_dots_are_red_and_filled_holes_blue(proof):
    lone = np.zeros((1200, 1200), bool)
    lone[600:604, 600:604] = True
    gone = PrintConditions(mesh=read_mesh("43-80"), gap_um=500, light_deg=45)
    close = proof(lone, conditions=gone, art=Box(450, 450, 300, 300))[:, 1040:]
    assert len(near(close, RED)) > 20
    assert not len(near(close, BLUE))
    resolution = Resolution(1200, 1200)
    holes = np.ones((1400, 1400), bool)
    for row in range(100, 1300, 20):
        holes[row : row + 2, 100:1300:20] = holes[row : row + 2, 101:1300:20] = False
    within = PrintConditions(mesh=read_mesh("43-80"), gap_um=0)
    close = proof(holes, resolution, conditions=within)[:, 1040:]
    assert len(near(close, BLUE)) > 100
    assert not len(near(close, RED))


def test_weak_places_are_circled(proof):
    film = np.zeros((1000, 1000), bool)
    picture = proof(film, circled=[(300, 700)])
    circle = near(picture, ORANGE)
    assert circle.mean(axis=0) == pytest.approx([700, 300], abs=1)
    assert np.hypot(*(circle - [700, 300]).T) == pytest.approx(13, abs=3)


def test_mended_places_are_points(proof):
    picture = proof(np.zeros((1000, 1000), bool), mended=[(500, 200)])
    point = near(picture, (50, 90, 210))
    assert len(point) and point.mean(axis=0) == pytest.approx([200, 500], abs=1.5)
    assert np.ptp(point, axis=0).max() <= 8  # two millimeters and a half of an A4 sheet


@pytest.mark.parametrize(
    "shape", [(40, 40), (100, 3000), (3000, 60), (301, 299)], ids=lambda shape: f"{shape}"
)
def test_films_smaller_than_the_detail_get_one_too(proof, shape):
    film = chequered(*shape)
    picture = proof(film, conditions=MESH, art=Box(0, 0, shape[1], shape[0]))
    assert picture.shape[1] > 300


def test_unequal_resolutions_keep_the_proportions(proof):
    film = chequered(1500, 3000, 12)
    picture = proof(film, Resolution(600, 300), conditions=MESH)
    frame = near(picture[:, :1030], FRAME)
    height, width = frame.max(axis=0) - frame.min(axis=0)
    assert height == pytest.approx(width, abs=3)


def test_the_same_film_gives_the_same_bytes(tmp_path):
    with BitSheet.create(tmp_path / "bits", width=900, height=900) as bits:
        bits.write(0, np.packbits(chequered(900, 900), axis=1))
        for name in ("a", "b"):
            write_proof(bits, tmp_path / name, resolution=DPI, mended=[], conditions=MESH)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_light_is_coded_as_srgb():
    light = np.linspace(-0.1, 1.1, 5001, dtype=np.float32)
    exact = 255 * linear_to_srgb(light.astype(np.float64))
    assert np.abs(coded(light) - exact).max() < 0.75


def test_the_print_of_a_sheet_keeps_its_proportions(tmp_path):
    share = np.zeros((400, 200), np.float32)
    share[:200] = 1
    write_predicted_print(share, tmp_path / "p.png", inches=(5, 10))
    with Image.open(tmp_path / "p.png") as picture:
        assert picture.size == (1000, 2000)
        assert picture.mode == "L"
        assert (picture.getpixel((500, 400)), picture.getpixel((500, 1600))) == (0, 255)
