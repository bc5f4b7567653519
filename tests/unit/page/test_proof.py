from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.mesh.printing.print_model import PrintConditions
from filmhand.mesh.table import read_mesh
from filmhand.page.predicted_print import coded, write_predicted_print
from filmhand.page.proof import write_proof
from filmhand.page.proof_page import ProofWords
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


LEFT, TOP = 20, 64  # of the film: the page's border, and the arrow for up above it


def film_of(picture, film, dpi=(300, 300)):
    """The film's part of a proof, and its scale."""
    across, down = film.shape[1] / dpi[0], film.shape[0] / dpi[1]
    scale = min(1040 / across, 1400 / down)
    width, height = round(across * scale), round(down * scale)
    left = (1080 - width) // 2
    return picture[TOP : TOP + height, left : left + width], width / film.shape[1]


def detail_of(picture, film):
    """The detail's part of a proof without words."""
    shown, _ = film_of(picture, film)
    top = TOP + shown.shape[0] + 20
    return picture[top : top + 640, LEFT : LEFT + 590]  # the piece's own blocks, or 640


def test_the_film_is_as_wide_as_the_page(proof):
    film = np.zeros((1500, 1200), bool)
    film[:750] = True
    picture = proof(film)
    shown, _ = film_of(picture, film)
    assert picture.shape[1] == 1080 and shown.shape == (1300, 1040, 3)
    assert shown[300, 900].max() < 10 and shown[1200, 900].min() > 245


def test_the_arrow_points_up(proof):
    picture = proof(np.zeros((1500, 1200), bool))
    dark = picture[16 : TOP - 8, 15 : 20 + 30].mean(axis=2) < 100
    widths = dark.sum(axis=1)[dark.any(axis=1)]
    assert widths[0] < 6 and widths.argmax() < len(widths) * 2 / 3
    assert widths.max() > 2 * widths[-3] > 10  # a head above its shaft


@pytest.mark.parametrize("turn", [0, 90, 270])
def test_the_film_is_turned_until_its_art_stands_upright(proof, turn):
    film = np.zeros((1500, 1000), bool)
    film[:300, :200] = True  # the top left corner of the sheet
    picture = proof(film, words=ProofWords(turn=turn), detail_at=(800, 1200))
    upright = np.rot90(film, turn // 90)
    shown, scale = film_of(picture, upright)
    seen = shown.mean(axis=2) < 60  # the frame is lighter
    assert seen.mean() == pytest.approx(film.mean(), abs=0.01)
    rows, columns = np.nonzero(seen)
    expected = np.argwhere(upright).mean(axis=0) * scale
    assert (rows.mean(), columns.mean()) == pytest.approx(tuple(expected), abs=4)


def test_the_detail_is_of_the_busiest_place(proof):
    film = np.zeros((3300, 2550), bool)
    film[1200:1900, 900:1600] = chequered(700, 700)
    picture = proof(film, conditions=MESH)
    # The busiest place is the only one that is not bare; the frame is around some of it.
    shown, scale = film_of(picture, film)
    frame = near(shown, FRAME)
    assert (1200 - 150) * scale < frame[:, 0].min()
    assert frame[:, 0].max() < (1900 + 150) * scale
    assert (900 - 150) * scale < frame[:, 1].min()
    assert frame[:, 1].max() < (1600 + 150) * scale
    side = frame[:, 0].max() - frame[:, 0].min()
    assert side == pytest.approx(25 / 25.4 * 300 * scale, abs=8)
    close = detail_of(picture, film)[10:560, 10:560]
    assert (close.mean(axis=2) < 60).mean() > 0.25 and (close.mean(axis=2) > 200).mean() > 0.15


def test_the_detail_is_taken_from_the_art(proof):
    film = np.zeros((1500, 1500), bool)
    film[:1500, :700] = chequered(1500, 700)  # busier, but not art
    film[800:1200, 900:1300] = chequered(400, 400, cell=20)
    picture = proof(film, conditions=MESH, art=Box(900, 800, 400, 400))
    shown, scale = film_of(picture, film)
    frame = near(shown, FRAME)
    assert frame[:, 1].min() >= 900 * scale - 8
    assert frame[:, 0].min() >= 800 * scale - 8
    assert frame[:, 1].max() <= 1300 * scale + 8


@pytest.mark.parametrize("place", [(700, 1100), (0, 0), (1499, 1499)])
def test_the_detail_may_be_asked_for_at_a_place(proof, place):
    film = chequered(1500, 1500)
    shown, scale = film_of(proof(film, conditions=MESH, detail_at=place), film)
    frame = near(shown, FRAME)
    half = 148  # of 25 mm at 300 dpi, and the square stays on the film
    for axis in (0, 1):
        middle = min(max(place[1 - axis], half), 1500 - half)
        found = (frame[:, axis].min() + frame[:, axis].max()) / 2
        assert found == pytest.approx(middle * scale, abs=6)


def test_lost_dots_are_red_and_filled_holes_blue(proof):
    lone = np.zeros((1200, 1200), bool)
    lone[600:604, 600:604] = True
    gone = PrintConditions(mesh=read_mesh("43-80"), gap_um=500, light_deg=45)
    close = detail_of(proof(lone, conditions=gone, art=Box(450, 450, 300, 300)), lone)
    assert len(near(close, RED)) > 20
    assert not len(near(close, BLUE))
    resolution = Resolution(1200, 1200)
    holes = np.ones((1400, 1400), bool)
    for row in range(100, 1300, 20):
        holes[row : row + 2, 100:1300:20] = holes[row : row + 2, 101:1300:20] = False
    within = PrintConditions(mesh=read_mesh("43-80"), gap_um=0)
    close = detail_of(proof(holes, resolution, conditions=within), holes)
    assert len(near(close, BLUE)) > 100
    assert not len(near(close, RED))


def test_without_a_mesh_the_detail_shows_the_films_own_pixels(proof):
    film = chequered(1500, 1500, cell=74)  # two cells and a half in 25 mm, or 288 pixels
    picture = proof(film, art=Box(0, 0, 1500, 1500), detail_at=(148 + 74 * 4, 148 + 74 * 4))
    close = detail_of(picture, film).mean(axis=2)
    first = 148 + 74 * 4 - 144
    wanted = film[first : first + 288, first : first + 288]
    at = np.arange(260) * 640 // 288 + 1
    assert ((close[np.ix_(at, at)] < 128) == wanted[:260, :260]).mean() > 0.98


def test_weak_places_are_circled(proof):
    film = np.zeros((1000, 1000), bool)
    shown, scale = film_of(proof(film, circled=[(300, 700)]), film)
    circle = near(shown, ORANGE)
    middle = np.array([700, 300]) * scale
    assert circle.mean(axis=0) == pytest.approx(middle, abs=1)
    assert np.hypot(*(circle - middle).T) == pytest.approx(15, abs=3)


def test_mended_places_are_points(proof):
    film = np.zeros((1000, 1000), bool)
    shown, scale = film_of(proof(film, mended=[(500, 200)], detail_at=(800, 800)), film)
    point = near(shown[:400], (50, 90, 210))
    assert len(point) and point.mean(axis=0) == pytest.approx(np.array([200, 500]) * scale, abs=1.5)
    assert np.ptp(point, axis=0).max() <= 8  # two millimeters of an A4 sheet


@pytest.mark.parametrize(
    "shape", [(40, 40), (100, 3000), (3000, 60), (301, 299)], ids=lambda shape: f"{shape}"
)
def test_films_smaller_than_the_detail_get_one_too(proof, shape):
    film = chequered(*shape)
    picture = proof(film, conditions=MESH, art=Box(0, 0, shape[1], shape[0]))
    assert picture.shape[1] == 1080


def test_unequal_resolutions_keep_the_proportions(proof):
    film = chequered(1500, 3000, 12)
    picture = proof(film, Resolution(600, 300), conditions=MESH)
    shown, _ = film_of(picture, film, (600, 300))
    frame = near(shown, FRAME)
    height, width = frame.max(axis=0) - frame.min(axis=0)
    assert height == pytest.approx(width, abs=3)


def test_the_same_film_gives_the_same_bytes(tmp_path):
    with BitSheet.create(tmp_path / "bits", width=900, height=900) as bits:
        bits.write(0, np.packbits(chequered(900, 900), axis=1))
        for name in ("a.jpg", "b.jpg"):
            write_proof(bits, tmp_path / name, resolution=DPI, mended=[], conditions=MESH)
    assert (tmp_path / "a.jpg").read_bytes() == (tmp_path / "b.jpg").read_bytes()


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
