"""Where each thing lies on a proof, to the pixel, before JPEG blurs it."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.mesh.printing.print_model import PrintConditions
from filmhand.mesh.table import read_mesh
from filmhand.page import proof as proofs
from filmhand.page.predicted_print import FILLED, LOST, detail
from filmhand.page.proof import write_proof
from filmhand.page.proof_page import Detail, ProofWords
from filmhand.sheet.layout import Box
from filmhand.tone import linear_to_srgb
from filmhand.units import Resolution, SheetSize

MESH = PrintConditions(mesh=read_mesh("43-80"))
MENDED, CIRCLE, FRAME = (50, 90, 210), (235, 120, 0), (0, 125, 125)
CLEARED, CLEARED_TINT = (20, 140, 40), (120, 205, 120)
# 4 x 2 in, so 1000 x 500 pixels of the proof: 2.4 device pixels across are one, and 1.2 down.
UNEQUAL = Resolution(600, 300)
SHAPE = (600, 2400)

Proof = Callable[..., np.ndarray[Any, Any]]


@pytest.fixture
def legend() -> list[str]:
    """What is said beside the detail of the last proof."""
    return []


@pytest.fixture
def proof(tmp_path, monkeypatch: pytest.MonkeyPatch, legend: list[str]) -> Proof:
    """proof(film, …): the film with its marks, (h, w, 3), 1000 pixels along its longer side.

    The real one is of a size whose pixels are harder to count.
    """
    kept: list[np.ndarray[Any, Any]] = []
    monkeypatch.setattr(proofs, "INSIDE", 1000)
    monkeypatch.setattr(proofs, "HIGHEST_FILM", 1000)

    class Page:
        def __init__(self, size: tuple[int, int], words: ProofWords) -> None:
            self.size = size

        def picture(self, film: Image.Image, detail: Detail) -> Image.Image:
            assert film.size == self.size  # for which room was left
            kept.append(np.asarray(film).astype(int))
            legend[:] = [told for _, told in detail.legend]
            return film

    def save(self: Image.Image, *_: object, **options: object) -> None:
        # Thin marks keep their color, and a proof is no larger than a mail takes (no source).
        assert (options["subsampling"], options["quality"]) == (0, 85)

    monkeypatch.setattr(proofs, "ProofPage", Page)
    monkeypatch.setattr(Image.Image, "save", save)

    def draw(film, resolution=UNEQUAL, *, framed=False, **more):
        if not framed:
            monkeypatch.setattr(proofs, "_frame", lambda *_: None)
        with BitSheet.create(tmp_path / "bits", width=film.shape[1], height=film.shape[0]) as bits:
            bits.write(0, np.packbits(film, axis=1))
            write_proof(bits, tmp_path / "p.jpg", resolution=resolution, **({"mended": []} | more))
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
        ({"circled": [(1200, 240)]}, CIRCLE, 16),
        ({"cleared": [(1200, 240)]}, CLEARED, 5),
    ],
)
@pytest.mark.parametrize("film", [False, True], ids=["bare", "solid"])
def test_marks_lie_about_their_places(proof: Proof, marks, color, reach, film) -> None:
    picture = proof(BARE | film, **marks)
    assert picture.shape == (500, 1000, 3)
    x, y = 500, 200
    assert extent(picture, color) == (x - reach, y - reach, x + reach, y + reach)
    assert tuple(picture[y, x]) == (color if color == MENDED else (255 * (not film),) * 3)
    thick = reach if color == MENDED else 3 if color == CIRCLE else 2
    across = (picture[y, x + 1 : x + 30] == color).all(axis=1)
    assert across.sum() == thick
    # On ink, whatever is not among thousands has a light edge.
    if film and reach > 1:
        assert (picture[y, x + reach + 1] == 255).all()


@pytest.mark.parametrize(("count", "shown"), [(7999, 7999), (8000, 4000), (12_000, 4000)])
@pytest.mark.parametrize(("marks", "color"), [("mended", MENDED), ("cleared", CLEARED)])
def test_very_many_marks_are_spread_over_the_sheet(
    tmp_path, monkeypatch: pytest.MonkeyPatch, proof: Proof, count, shown, marks, color
) -> None:
    drawn: list[tuple[float, ...]] = []

    monkeypatch.setattr(proofs, "_small_point", lambda draw, at: drawn.append(at))
    monkeypatch.setattr(proofs, "_square_mark", lambda draw, at: drawn.append(at))
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
    assert picture.shape == (500, 1000, 3)
    picture = picture[..., 0]
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
def test_the_frame_is_around_what_the_detail_shows(proof: Proof, place, box) -> None:
    picture = proof(BARE, conditions=MESH, detail_at=place, framed=True)
    left, top = box[0] / 2.4, box[1] / 1.2
    expected = np.array((left, top, left + 584 / 2.4 - 1, top + 288 / 1.2 - 1))
    assert np.abs(np.array(extent(picture, FRAME)) - expected).max() <= 1
    if place == (1200, 300):  # four pixels thick on either side
        assert (picture[round(top + 100)] == FRAME).all(axis=1).sum() == 8


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ({}, []),
        ({"mended": [(1, 1)]}, ["spotted out"]),
        ({"circled": [(1, 1)]}, ["weakest places"]),
        ({"cleared": [(1, 1)]}, ["small islands, cleared"]),
        ({"bared": [(Box(0, 0, 9, 9), np.ones((1, 1), bool))]}, ["background, cleared"]),
        ({"gone": [Box(0, 0, 9, 9)]}, ["of the art, but not on the film"]),
    ],
)
def test_only_marks_that_are_there_are_told(proof: Proof, legend, marks, words) -> None:
    proof(BARE, conditions=MESH, **marks)
    assert legend == [
        "25 x 25 mm of the expected print, enlarged", "At the busiest place.",
        "No dot is lost here, and no shadow dot fills.", *words,
    ]  # fmt: skip


def test_without_a_mesh_the_detail_is_of_the_film(proof: Proof, legend) -> None:
    proof(BARE, detail_at=(0, 0))
    assert legend == ["25 x 25 mm of the film, enlarged", "At the weakest place."]


@pytest.mark.parametrize(
    ("in_inches", "told"),
    [(True, "0.98 x 0.98 in (25 x 25 mm)"), (False, "25 x 25 mm (0.98 x 0.98 in)")],
)
def test_the_detail_is_told_in_the_unit_of_the_sheet(
    proof: Proof, legend: list[str], told: str, *, in_inches: bool
) -> None:
    proof(BARE, detail_at=(0, 0), sheet=SheetSize(21590, 27940, in_inches=in_inches))
    assert legend[0] == f"{told} of the film, enlarged"


def test_the_busiest_place_is_found_to_a_step_of_the_coarser_picture(proof: Proof) -> None:
    """All the change of this film lies in one spot, so the square that is shown holds it whole."""
    for column, row in ((200, 80), (1500, 420), (2250, 500)):
        film = BARE.copy()
        spot = film[row - 60 : row + 60, column - 120 : column + 120]
        spot[:] = np.indices(spot.shape).sum(axis=0) // 20 % 2
        picture = proof(film, conditions=MESH, framed=True)
        left, top, right, bottom = extent(picture, FRAME)
        x, y = column / 2.4, row / 1.2
        assert left - 3 <= x - 50 and x + 50 <= right + 3
        assert top - 3 <= y - 50 and y + 50 <= bottom + 3


def test_middle_tones_that_change_are_busier_than_flat_ones(proof: Proof) -> None:
    y, x = np.indices(SHAPE)
    fine = (x // 2 + y) % 2 == 0
    film = BARE.copy()
    film[:, :800] = fine[:, :800]  # a flat half tone
    film[:, 1600:] = fine[:, 1600:] & (x[:, 1600:] // 60 % 2 == 0)  # stripes of it
    left, _, right, _ = extent(proof(film, conditions=MESH, framed=True), FRAME)
    assert left >= 1600 / 2.4 - 10
    film[:, 1600:] = False
    film[:, :800] = True
    film[:, 800:1600] = fine[:, 800:1600]
    left, _, right, _ = extent(proof(film, conditions=MESH, framed=True), FRAME)
    assert left >= 800 / 2.4 - 130 and right <= 1600 / 2.4 + 130


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
    assert picture.shape == (667, 1000, 3)
    dark = picture[..., 0] < 128
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
    ("film", "dpi", "sideways", "size"),
    [
        ((3000, 1500), (300, 300), False, (1040, 520)),
        ((3000, 3000), (300, 600), False, (1040, 520)),
        ((2550, 3300), (300, 300), False, (1040, 1346)),
        # Turned, it is no wider than a page either.
        ((2550, 3300), (300, 300), True, (804, 1040)),
        ((10, 30_000), (300, 300), False, (1, 1400)),
    ],
)
def test_a_film_is_as_large_as_its_page_allows(film, dpi, sideways, size) -> None:
    bits = SimpleNamespace(width=film[0], height=film[1])
    assert proofs._film_size(bits, Resolution(*dpi), sideways=sideways) == size


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
    assert np.abs(picture - codes[..., None]).max() < 1
