"""Where a film fails: told in the refusal, in the notes, to the proof, and by ``measure``."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.worst_places import WorstPlace
from filmhand.mesh.table import read_mesh
from filmhand.pipeline import finished
from filmhand.pipeline.make import make_films
from filmhand.pipeline.measure import measure_film
from filmhand.pipeline.verdict.judge import worst_places_phrase
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.units import Resolution, SheetSize

DPI = Resolution(300, 300)
PROFILE = """\
sheet: 4 x 4 in
dpi: 300
threshold: 50
lpi: 30
dot: round
mesh: 43-80
margin: 0.1 in
art: {treat: line, fit: own}
write: tiff
"""


def drawing(folder, *, hairs=True):
    """900 x 900 pixels: broad bars, and two bundles of one-pixel lines at known places."""
    ink = np.zeros((900, 900), bool)
    ink[30:130, 30:870] = ink[770:870, 30:870] = True
    if hairs:
        ink[300:400:10, 100:300] = True
        ink[550:600:10, 600:700] = True
    path = folder / "drawing.png"
    Image.fromarray(np.where(ink, 0, 255).astype(np.uint8)).save(path, dpi=(300, 300))
    return path


def film_of(art, folder, *, ticket=None, profile=PROFILE):
    out, scratch = folder / "out", folder / "scratch"
    out.mkdir()
    scratch.mkdir()
    beside = None
    if ticket:
        beside = folder / "drawing.png.ticket.yaml"
        beside.write_text(ticket)
    request = JobRequest(
        art,
        art.name,
        read_profile(profile, name="test", file="test.yaml"),
        out=out,
        scratch=scratch,
        ticket=beside,
    )
    return make_films(request).films[0]


def millimeters(text):
    """The places in a sentence."""
    return [
        (int(x), int(y))
        for x, y in re.findall(r"\((\d+) x (\d+) mm\)(?=,| and| from the sheet)", text)
    ]


def test_a_refusal_says_where_its_strokes_are(tmp_path):
    with pytest.raises(Refused) as refused:
        film_of(drawing(tmp_path), tmp_path)
    assert refused.value.reason is Reason.LINES_TOO_FINE
    say = refused.value.say
    assert say.endswith(" mm) from the sheet's top left corner.")
    found = millimeters(say[say.index("worst at") :])
    assert 2 <= len(found) <= 3
    # The art of 900 pixels lies in the middle of 1200, above or beside which the label may be.
    x, y = found[0]
    assert (150 + 100) / 300 * 25.4 - 1 <= x <= (150 + 300) / 300 * 25.4 + 1
    assert (300 / 300 * 25.4) - 1 <= y <= (400 + 300) / 300 * 25.4 + 1


def test_made_all_the_same_the_note_tells_and_the_proof_circles_them(tmp_path, monkeypatch):
    seen = {}
    real = finished.write_proof

    def proof(*args, **wishes):
        seen.update(wishes)
        return real(*args, **wishes)

    monkeypatch.setattr(finished, "write_proof", proof)
    film = film_of(drawing(tmp_path), tmp_path, ticket="anyway: true\n")
    note = next(note for note in film.record["notes"] if "worst at" in note)
    assert [(round(x / 300 * 25.4), round(y / 300 * 25.4)) for x, y in seen["circled"]][
        : len(millimeters(note))
    ] == millimeters(note)
    bits = np.asarray(Image.open(next(iter(film.files.values())))) == 0
    assert all(bits[y, x] for x, y in seen["circled"])


def test_a_drawing_that_passes_has_no_places(tmp_path):
    film = film_of(drawing(tmp_path, hairs=False), tmp_path)
    assert not any("worst at" in note for note in film.record["notes"])
    names = [check["name"] for check in film.record["checks"]]
    assert names[:4] == [
        "narrowest stroke",
        "narrowest gap",
        "stroke for the stencil",
        "gap for the stencil",
    ]


def test_dots_that_are_too_fine_are_placed_too(tmp_path):
    art = tmp_path / "light.png"
    pixels = np.full((900, 900), 255, np.uint8)
    pixels[450:700, 450:700] = 252
    pixels[0:5] = 0
    Image.fromarray(pixels).save(art, dpi=(300, 300))
    profile = PROFILE.replace("treat: line", "treat: tone") + "tone: {endpoints: off, hold: off}\n"
    with pytest.raises(Refused) as refused:
        film_of(art, tmp_path, profile=profile)
    assert refused.value.reason is Reason.DOTS_TOO_FINE
    found = millimeters(refused.value.say[refused.value.say.index("worst at") :])
    assert len(found) == 3
    # The light gray part of the art, which lies 150 pixels from the left, to a millimeter.
    assert all(150 + 450 - 12 <= x / 25.4 * 300 <= 150 + 700 + 12 for x, _ in found)


def test_places_are_put_into_words():
    spots = [
        WorstPlace(300, 600, 50.0, "stroke"),
        WorstPlace(12, 0, 50.0, "stroke"),
        WorstPlace(3, 3, 1.0, "gap"),
    ]
    profile = SimpleNamespace(acetate_dpi=DPI, sheet=SheetSize(21000, 29700))
    assert worst_places_phrase([], profile) == ""
    assert (
        worst_places_phrase(spots[:1], profile)
        == "; worst at 25 x 51 mm (1 x 2 in) from the sheet's top left corner"
    )
    assert worst_places_phrase(spots[:2], profile) == (
        "; worst at 25 x 51 mm (1 x 2 in) and 1 x 0 mm (0.04 x 0 in) "
        "from the sheet's top left corner"
    )
    assert worst_places_phrase(spots, profile).startswith(
        "; worst at 25 x 51 mm (1 x 2 in), 1 x 0 mm (0.04 x 0 in) and 0 x 0 mm (0.01 x 0.01 in) "
        "from"
    )


def sheet_of(bits, folder):
    sheet = BitSheet.create(folder / "bits", width=bits.shape[1], height=bits.shape[0])
    sheet.write(0, np.packbits(bits, axis=1))
    return sheet


def dots(*, lpi=30.0, size=900, radius=3.2):
    """Round dots on a square grid of 300 dpi at no angle."""
    pitch = 300 / lpi
    place = (np.arange(size) % pitch) - pitch / 2
    return np.hypot(place[:, None], place) < radius


def test_measuring_a_screened_film_against_a_mesh(tmp_path):
    bits = dots()
    bits[400, 390] = bits[450, 780] = True  # two lone pixels between dots
    with sheet_of(bits, tmp_path) as sheet:
        found = measure_film(sheet, DPI, mesh=read_mesh("43-80"))
    assert found["lpi"] == pytest.approx(30, rel=0.002)
    assert found["coverage_pct"] == pytest.approx(bits.mean() * 100, abs=1e-3)
    names = [check["name"] for check in found["checks"]]
    assert names == ["smallest dot", "smallest shadow dot", "mesh to lpi ratio", "moire"]
    assert found["dots"]["smallest_um"] == pytest.approx(25400 / 300 * (4 / np.pi) ** 0.5, abs=0.1)


@pytest.mark.parametrize("threads", [1, 2])
def test_the_smallest_dots_of_a_film_are_placed(tmp_path, threads):
    bits = dots(radius=1.2)  # every dot five pixels
    with sheet_of(bits, tmp_path) as sheet:
        found = measure_film(sheet, DPI, mesh=read_mesh("20-200"), threads=threads)
    assert found["checks"][0]["verdict"] == "fail"
    assert [spot["what"] for spot in found["worst"]] == ["dot"] * 3
    for spot in found["worst"]:
        assert bits[round(spot["y_mm"] / 25.4 * 300), round(spot["x_mm"] / 25.4 * 300)]


def test_measuring_line_art_tells_its_narrowest_places(tmp_path):
    bits = np.zeros((900, 901), bool)
    bits[100:300, 100:800] = True
    bits[500:502, 200:700] = True
    with sheet_of(bits, tmp_path) as sheet:
        found = measure_film(sheet, DPI, mesh=read_mesh("43-80"))
    assert found["lpi"] is None
    assert found["narrowest_stroke_um"] == pytest.approx(2 * 25400 / 300, abs=0.1)
    names = [check["name"] for check in found["checks"]]
    assert names[:2] == ["narrowest stroke", "narrowest gap"]
    assert [spot["what"] for spot in found["worst"]] == ["stroke"] * 3
    for spot in found["worst"]:
        assert spot["y_mm"] == pytest.approx(501 / 300 * 25.4, abs=0.2)
        assert 200 <= spot["x_mm"] / 25.4 * 300 <= 700


def test_thin_pieces_of_ink_are_told_of_on_a_screened_film(tmp_path):
    bits = dots(radius=1.9)
    bits[::10] = True  # every row of dots hangs on a one-pixel line
    bits[4:, 400:402] = False
    with sheet_of(bits, tmp_path) as sheet:
        found = measure_film(sheet, DPI, mesh=read_mesh("43-80"))
    assert found["lpi"] is not None
    assert any("ink is in pieces no wider than" in note for note in found["notes"])
