"""Where each thing lies on a proof, to the pixel, before JPEG blurs it."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.film.bits import BitSheet
from filmhand.mesh.printing.print_model import PrintConditions
from filmhand.mesh.table import read_mesh
from filmhand.page import proof as proofs
from filmhand.page.predicted_print import FILLED, LOST, detail
from filmhand.page.proof import write_proof
from filmhand.sheet.layout import Box
from filmhand.tone import linear_to_srgb
from filmhand.units import Resolution

MESH = PrintConditions(mesh=read_mesh("43-80"))
MENDED, CIRCLE, FRAME = (50, 90, 210), (235, 120, 0), (0, 125, 125)
CLEARED, CLEARED_TINT = (20, 140, 40), (120, 205, 120)
# 4 x 2 in, so 1000 x 500 pixels of the proof: 2.4 device pixels across are one, and 1.2 down.
UNEQUAL = Resolution(600, 300)
SHAPE = (600, 2400)

Proof = Callable[..., np.ndarray[Any, Any]]


@pytest.fixture
def texts(monkeypatch: pytest.MonkeyPatch) -> list[tuple[tuple[int, int], str]]:
    """Where each line of text is put, and what it says; nothing is drawn."""
    drawn: list[tuple[tuple[int, int], str]] = []

    def text(self: ImageDraw.ImageDraw, at: tuple[int, int], words: str, **_: object) -> None:
        drawn.append((at, words))

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    return drawn


@pytest.fixture
def proof(tmp_path, monkeypatch: pytest.MonkeyPatch) -> Proof:
    """proof(film, …): the picture as it is before it becomes a JPEG, (h, w, 3) or (h, w)."""
    kept: list[np.ndarray[Any, Any]] = []

    def keep(self: Image.Image, *_: object, **options: object) -> None:
        # Thin marks keep their color, and a proof is no larger than a mail takes (no source).
        assert (options["subsampling"], options["quality"]) == (0, 85)
        kept.append(np.asarray(self).astype(int))

    monkeypatch.setattr(Image.Image, "save", keep)

    def draw(film, resolution=UNEQUAL, **more):
        with BitSheet.create(tmp_path / "bits", width=film.shape[1], height=film.shape[0]) as bits:
            bits.write(0, np.packbits(film, axis=1))
            write_proof(bits, tmp_path / "p", resolution=resolution, **({"mended": []} | more))
        return kept[-1]

    return draw


def extent(picture, color):
    """(left, top, right, bottom) of the pixels of exactly this color, all inside."""
    rows, columns = np.nonzero((picture == color).all(axis=2))
    return columns.min(), rows.min(), columns.max(), rows.max()


BARE = np.zeros(SHAPE, bool)


@pytest.mark.parametrize(
    ("marks", "color", "reach"),
    [
        # Points, not rings: what was mended is no fault. Of many, the smallest points.
        ({"mended": [(1200, 240)]}, MENDED, 2),
        ({"mended": [(1200, 240)] * 40}, MENDED, 2),
        ({"mended": [(1200, 240)] * 41}, MENDED, 1),
        ({"circled": [(1200, 240)]}, CIRCLE, 14),
        ({"cleared": [(1200, 240)]}, CLEARED, 4),
    ],
)
def test_marks_lie_about_their_places(proof: Proof, marks, color, reach) -> None:
    picture = proof(BARE, **marks)
    assert picture.shape == (500, 1000, 3)
    x, y = 500, 200
    assert extent(picture, color) == (x - reach, y - reach, x + reach, y + reach)
    assert tuple(picture[y, x]) == (color if color == MENDED else (255, 255, 255))
    thick = reach if color == MENDED else 3 if color == CIRCLE else 1
    across = (picture[y, x + 1 : x + 30] == color).all(axis=1)
    assert across.sum() == thick


@pytest.mark.parametrize(("count", "shown"), [(7999, 7999), (8000, 4000), (12_000, 4000)])
@pytest.mark.parametrize(("marks", "color"), [("mended", MENDED), ("cleared", CLEARED)])
def test_very_many_marks_are_spread_over_the_sheet(
    tmp_path, monkeypatch: pytest.MonkeyPatch, proof: Proof, count, shown, marks, color
) -> None:
    drawn: list[tuple[float, ...]] = []

    def note(self: ImageDraw.ImageDraw, box: tuple[float, ...], **_: object) -> None:
        drawn.append(box)

    shape = "ellipse" if marks == "mended" else "rectangle"
    monkeypatch.setattr(ImageDraw.ImageDraw, shape, note)
    places = [(number % 2400, number // 2400) for number in range(count)]
    proof(BARE, **{marks: places})
    assert len(drawn) == shown
    assert drawn[-1][1] > (count - 4 * 2400) // 2400 / 1.2 - 5  # not the first of them alone


def test_bare_background_is_tinted_where_it_is_bare(proof: Proof) -> None:
    where = np.zeros((2, 4), bool)
    where[0, 1:3] = where[1, 3] = True
    picture = proof(BARE, bared=[(Box(240, 120, 960, 240), where)])
    tint = tuple(np.rint(255 + (np.array(CLEARED_TINT) - 255) * 110 / 255).astype(int))
    x, y = 100, 100  # 400 x 200 pixels from there, each of the places 100 x 100
    expected = np.full_like(picture, 255)
    expected[y : y + 100, x + 100 : x + 300] = tint
    expected[y + 100 : y + 200, x + 300 : x + 400] = tint
    assert np.abs(picture - expected).max() <= 1
    one = np.ones((1, 1), bool)
    for width, tinted in ((2, 1), (1, 0)):  # of a proof's pixel, about one and about none
        picture = proof(BARE, bared=[(Box(240, 120, width, 1), one)])
        assert (picture != 255).any(axis=2).sum() == tinted


def test_the_film_keeps_its_edges_where_they_are(proof: Proof) -> None:
    film = np.zeros((3000, 8000), bool)  # 600 x 450 dpi, averaged 4 x 3 first
    film[600:1500, 1600:5600] = True
    picture = proof(film, Resolution(1200, 900))
    assert picture.shape == (500, 1000)
    dark = picture < 128
    expected = np.zeros_like(dark)
    expected[100:250, 200:700] = True
    assert (dark == expected).all()
    assert set(np.unique(picture[[0, 0, -1, -1], [0, -1, 0, -1]])) == {255}
    assert picture[175, 450] == 0


@pytest.mark.parametrize(
    ("place", "box"),
    [
        # 25 mm are 590.6 pixels across and 295.3 down; whole blocks of 8 are 584 and 288.
        ((1200, 300), (908, 156)),
        ((0, 0), (0, 0)),
        ((2399, 599), (2400 - 584, 600 - 288)),
    ],
)
@pytest.mark.usefixtures("texts")
def test_the_frame_is_around_what_the_detail_shows(proof: Proof, place, box) -> None:
    picture = proof(BARE, conditions=MESH, detail_at=place)
    left, top = 20 + box[0] / 2.4, 20 + box[1] / 1.2
    expected = (left - 2, top - 2, left + 584 / 2.4 + 1, top + 288 / 1.2 + 1)
    inside = (20, 20, 1019, 519)
    first, last = np.maximum(expected[:2], inside[:2]), np.minimum(expected[2:], inside[2:])
    assert extent(picture[:, :1020], FRAME) == (*first.astype(int), *last.astype(int))
    if place == (1200, 300):  # two pixels thick on either side
        assert (picture[round(top + 100), :1020] == FRAME).all(axis=1).sum() == 4


def test_film_and_detail_lie_side_by_side_with_their_words_below(proof: Proof, texts) -> None:
    picture = proof(
        BARE,
        conditions=MESH,
        mended=[(1, 1)],
        circled=[(2, 2)],
        cleared=[(3, 3)],
        detail_at=(1200, 300),
    )
    # The detail's 584 x 288 pixels are 42.3 x 84.7 um, and its blocks 42.3 um each way.
    width, height = 584, 576
    assert picture.shape[0] == 20 + height + 2 * 20 + 20
    wide = picture.shape[1] - 1000 - 3 * 20
    assert wide >= width  # or as wide as its words
    left, right = 20, 20 + 1000 + 20
    assert [at for at, _ in texts] == [
        (left, 20 + 500 + 6), (left, 20 + 500 + 26),
        (right, 20 + height + 6), (right, 20 + height + 26),
    ]  # fmt: skip
    assert [words for _, words in texts] == [
        "The film. The frame shows where the detail is from.",
        "Blue points: spotted out, orange circles: weakest places, green: cleared.",
        "25 x 25 mm of the expected print, mesh 110 (43-80).",
        "Lost dots here: 0 (red). Filled shadow dots: 0 (blue).",
    ]
    around = (226, 226, 226)
    expected = np.zeros(picture.shape[:2], bool)
    expected[20:520, left : left + 1000] = True
    expected[20 : 20 + height, right : right + width] = True
    assert ((picture == around).all(axis=2) == ~expected).all()


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ({}, None),
        ({"mended": [(1, 1)]}, "Blue points: spotted out."),
        ({"circled": [(1, 1)]}, "Orange circles: weakest places."),
        ({"cleared": [(1, 1)]}, "Green: cleared."),
        ({"bared": [(Box(0, 0, 9, 9), np.ones((1, 1), bool))]}, "Green: cleared."),
    ],
)
def test_only_marks_that_are_there_are_told(proof: Proof, texts, marks, words) -> None:
    proof(BARE, conditions=MESH, **marks)
    below = [told for (left, _), told in texts if left == 20][1:]
    assert below == ([words] if words else [])


def test_the_busiest_place_is_found_to_a_step_of_the_coarser_picture(proof: Proof, texts) -> None:
    """All the change of this film lies in one spot, so the square that is shown holds it whole."""
    for column, row in ((200, 80), (1500, 420), (2250, 500)):
        film = BARE.copy()
        spot = film[row - 60 : row + 60, column - 120 : column + 120]
        spot[:] = np.indices(spot.shape).sum(axis=0) // 20 % 2
        picture = proof(film, conditions=MESH)
        left, top, right, bottom = extent(picture[:, :1020], FRAME)
        x, y = 20 + column / 2.4, 20 + row / 1.2
        assert left - 1 <= x - 50 and x + 50 <= right + 1
        assert top - 1 <= y - 50 and y + 50 <= bottom + 1


def test_middle_tones_that_change_are_busier_than_flat_ones(proof: Proof, texts) -> None:
    y, x = np.indices(SHAPE)
    fine = (x // 2 + y) % 2 == 0
    film = BARE.copy()
    film[:, :800] = fine[:, :800]  # a flat half tone
    film[:, 1600:] = fine[:, 1600:] & (x[:, 1600:] // 60 % 2 == 0)  # stripes of it
    left, _, right, _ = extent(proof(film, conditions=MESH)[:, :1020], FRAME)
    assert left >= 20 + 1600 / 2.4 - 10
    film[:, 1600:] = False
    film[:, :800] = True
    film[:, 800:1600] = fine[:, 800:1600]
    left, _, right, _ = extent(proof(film, conditions=MESH)[:, :1020], FRAME)
    assert left >= 20 + 800 / 2.4 - 130 and right <= 20 + 1600 / 2.4 + 130


def test_losses_are_shown_five_pixels_wide_and_others_in_gray() -> None:
    from filmhand.mesh.printing.losses import PrintedPiece

    share = np.full((20, 20), 0.5, np.float32)
    lost, filled = np.zeros((2, 160, 160), bool)
    lost[80, 40] = True  # in the block of row 10, column 5
    filled[40, 120] = True  # in that of row 5, column 15
    picture = np.asarray(detail(PrintedPiece(share, lost, filled, 1, 1), (20, 20)))
    expected = np.full((20, 20, 3), 188)  # light of one half is sRGB 188 (IEC 61966-2-1)
    expected[8:13, 3:8] = LOST
    expected[3:8, 13:18] = FILLED
    assert (picture == expected).all()
    assert (LOST, FILLED) == ((214, 40, 40), (30, 90, 220))


@pytest.mark.parametrize(("dpi", "shape"), [((300, 1200), (2400, 900)), ((1200, 300), (600, 3600))])
def test_one_direction_may_be_four_times_as_fine(proof: Proof, dpi, shape) -> None:
    """A sheet of 3 x 2 inches, black in its left third and its upper half."""
    film = np.zeros(shape, bool)
    film[: shape[0] // 2, : shape[1] // 3] = True
    picture = proof(film, Resolution(*dpi))
    assert picture.shape == (667, 1000)
    dark = picture < 128
    assert dark[:333, :333].all()
    assert not dark[335:].any() and not dark[:, 335:].any()


@pytest.mark.parametrize(
    ("blocks", "size"),
    [
        ((640, 640), (640, 640)),
        ((480, 300), (480, 300)),
        ((479, 240), (640, 320)),
        ((641, 320), (640, 319)),
        ((320, 1280), (160, 640)),
        ((1, 2000), (1, 640)),
    ],
)
def test_a_detail_shows_its_own_blocks_where_they_are_enough(blocks, size) -> None:
    piece = SimpleNamespace(share=np.zeros(blocks[::-1]))
    assert proofs._detail_size(piece) == size


@pytest.mark.parametrize(
    ("film", "dpi", "square"),
    [
        # 25 mm at 254 dpi are 250 pixels: 31 blocks of 8; at 508 dpi 500: 62.
        ((900, 900), (254, 508), (248, 496)),
        ((900, 100), (254, 254), (248, 96)),
        ((6, 900), (254, 254), (8, 248)),  # a block at least
    ],
)
def test_the_detail_is_of_whole_blocks_and_no_larger_than_the_film(film, dpi, square) -> None:
    bits = SimpleNamespace(width=film[0], height=film[1])
    found = proofs._square(bits, Resolution(*dpi))
    assert found == square


@pytest.mark.parametrize(
    ("first", "last", "most", "places"),
    [
        (10, 40, 100, [10, 20, 30, 40]),
        (10, 39, 100, [10, 20, 30]),
        (10, 5, 100, [10]),
        (10, 40, 25, [10, 20, 25, 25]),
        (10, 5, -3, [0]),
    ],
)
def test_the_detail_may_begin_each_step_within_the_art_and_the_film(
    first, last, most, places
) -> None:
    assert proofs._places(first, last, most, 10.0).tolist() == places


@pytest.mark.parametrize(
    ("film", "dpi", "size"),
    [
        ((3000, 1500), (300, 300), (1000, 500)),
        ((3000, 3000), (300, 600), (1000, 500)),
        ((10, 30_000), (300, 300), (1, 1000)),
    ],
)
def test_a_proof_is_a_thousand_pixels_long_in_the_sheets_proportions(film, dpi, size) -> None:
    bits = SimpleNamespace(width=film[0], height=film[1])
    assert proofs._proof_size(bits, Resolution(*dpi)) == size


@pytest.mark.parametrize(
    ("shape", "dpi", "box"),
    [
        ((600, 2400), (600, 300), (1, 1)),
        ((1500, 2200), (300, 300), (1, 1)),
        # Twice a thousand pixels at the least are averaged to: of 8000 each four are one.
        ((3000, 8000), (1200, 900), (4, 3)),
        ((7000, 3000), (300, 600), (2, 3)),
        ((6001, 4003), (600, 600), (3, 3)),
    ],
)
def test_the_light_of_a_film_is_averaged_and_then_filtered(proof: Proof, shape, dpi, box) -> None:
    film = np.zeros(shape, bool)
    film[100:-100, 100:-100] = (
        np.random.default_rng(2).random((shape[0] - 200, shape[1] - 200)) < 0.4
    )
    picture = proof(film, Resolution(*dpi))
    across, down = box
    cut = film[: shape[0] // down * down, : shape[1] // across * across]
    light = 1 - cut.reshape(shape[0] // down, down, -1, across).mean(axis=(1, 3), dtype=np.float32)
    size = picture.shape[1], picture.shape[0]
    wanted = np.asarray(Image.fromarray(light).resize(size, Image.Resampling.LANCZOS))
    codes = 255 * linear_to_srgb(np.clip(wanted, 0, 1))
    assert np.abs(picture - codes).max() < 1
