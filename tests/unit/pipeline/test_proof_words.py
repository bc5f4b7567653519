"""What a proof and a label say of a film, from finished films."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.pipeline import finished
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

PROFILE = """
sheet: 150 x 200 mm
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 5 mm
write: png
"""


@pytest.fixture
def words_of(tmp_path, monkeypatch):
    """words_of(art, …): the words of the proof and the lines of the label."""
    said = {}
    real_label = finished.label_lines

    def proof(bits, path, **told):
        said["words"] = told["words"]
        path.touch()

    def label(*args, **more):
        said["label"] = real_label(*args, **more)
        return said["label"]

    monkeypatch.setattr(finished, "write_proof", proof)
    monkeypatch.setattr(finished, "label_lines", label)

    def make_film(art, more="", *, ticket=None, **asked):
        for part in ("out", "scratch"):
            (tmp_path / part).mkdir(exist_ok=True)
        Image.fromarray(art).save(tmp_path / "art.png", dpi=(100, 100))
        path = None
        if ticket is not None:
            path = tmp_path / "art.png.ticket.yaml"
            path.write_text(ticket)
        profile = read_profile(PROFILE + more, name="small", file="small.yaml")
        request = JobRequest(
            tmp_path / "art.png", "art.png", profile, tmp_path / "out", tmp_path / "scratch",
            ticket=path, **asked,
        )  # fmt: skip
        made = make_films(request)
        return said["words"], said["label"], made.films

    return make_film


def picture(height, width):
    y, x = np.mgrid[:height, :width]
    return np.uint8(40 + 90 * (1 + np.sin(x / 37) * np.cos(y / 41)))


def test_facts_are_in_words(words_of):
    words, label, _ = words_of(picture(600, 400), "art: {treat: tone, fit: width 100 mm}\n")
    assert words.title == "art.png" and words.turn == 0
    assert words.facts[:4] == (
        "The art is 100 x 150 mm (3.94 x 5.91 in) on a sheet of 150 x 200 mm (5.91 x 7.87 in).",
        "25 lines per inch at 45°, round dots.",
        "Mesh 110 per inch, which is 43 threads per cm of 80 µm (43-80).",
        "Profile small, 300 dpi, right-reading, image side up.",
    )
    assert label[0] == "art.png"


@pytest.mark.parametrize(("mirror", "turn", "side"), [(False, 270, "right"), (True, 90, "left")])
def test_art_on_its_side_is_shown_upright_and_measured_so(words_of, mirror, turn, side):
    more = f"art: {{treat: tone}}\nfilm: {{mirror: {str(mirror).lower()}}}\n"
    words, _, (film,) = words_of(picture(400, 700), more)
    assert film.record["art"]["turned"] == 90
    assert words.turn == turn
    (told,) = (fact for fact in words.facts if "upright" in fact)
    assert told.endswith(f"with the top of the sheet at the {side}.")
    across, down = film.record["art"]["height_mm"], film.record["art"]["width_mm"]
    told = [float(one) for one in words.facts[0].split(" mm")[0].split()[3::2]]
    assert told == pytest.approx([across, down], abs=0.06)
    assert ("MIRRORED" in words.facts[3]) is mirror


def test_the_turn_brings_the_arts_own_corner_up(words_of, tmp_path):
    """A wide art, dark at its top left alone: turned as told, the film is so too."""
    art = np.full((400, 700), 255, np.uint8)
    art[20:180, 20:330] = 0
    marks = "art: {treat: line}\nmarks: {label: false, ruler: false, solid: false}\n"
    for mirror in (False, True):
        words, _, (film,) = words_of(art, marks + f"film: {{mirror: {str(mirror).lower()}}}\n")
        (path,) = film.files.values()
        ink = np.asarray(Image.open(path).convert("L")) < 128
        upright = np.rot90(ink, words.turn // 90)
        rows, columns = np.nonzero(upright)
        assert rows.mean() < upright.shape[0] / 2
        assert (columns.mean() < upright.shape[1] / 2) is not mirror


def test_whose_and_where_from_stand_on_proof_and_label(words_of):
    ticket = "for: Ms Ito\n"
    art = picture(600, 400)
    words, label, _ = words_of(art, "art: {treat: tone}\n", ticket=ticket, sub="class 4/Tuesday")
    assert words.title == "class 4/Tuesday/art.png, for Ms Ito"
    assert label[0] == "for Ms Ito: class 4/Tuesday/art.png"
    _, label, _ = words_of(art, "art: {treat: tone}\n", sub="class 4")
    assert label[0] == "class 4/art.png"


def test_warnings_stand_first_and_are_those_of_the_record(words_of):
    more = "art: {treat: tone}\n"
    words, _, (film,) = words_of(picture(600, 400), more, ticket="lpi: 60\nanyway: true\n")
    assert words.warnings[0].startswith("Made anyway")
    assert words.warnings[1:5] == tuple(film.record["warnings"][:4])
    assert words.warnings[5:] == ("And 1 more; the record has all.",)
    assert len(film.record["warnings"]) == 5


def test_line_art_is_said(words_of):
    art = np.full((300, 300), 255, np.uint8)
    art[50:250, 50:250] = 0
    words, _, _ = words_of(art, "art: {treat: line, fit: width 1 in}\n")
    assert words.facts[1] == "Line art: solid where the tone is over 50 %."
    assert words.warnings == ()


def test_what_one_must_know_stands_on_the_proof(words_of):
    """Two flat colors come out as one ink; who opens no record reads it on the proof."""
    art = np.full((400, 600, 3), 255, np.uint8)
    art[50:350, 50:250] = (200, 30, 30)
    art[50:350, 300:550] = 0
    words, _, (film,) = words_of(art, "film: {negative: true}\n")
    told = words.facts[-2:]
    assert told[0].startswith(
        "This art has 2 colors beside its ground, and one film prints them as one ink: solid on"
    )
    assert told[1] == "Negative: beyond the art the film stays clear and wants covering."
    assert tuple(film.record["reminders"]) == told
    assert set(told) <= set(film.record["notes"]) - set(film.record["warnings"])


def test_the_same_sub_folder_gives_the_same_bits(words_of):
    art = picture(300, 200)
    bits = []
    for sub in ("class 4", "class 4", "class 5"):
        _, _, (film,) = words_of(art, "art: {treat: tone}\n", sub=sub)
        (path,) = film.files.values()
        bits.append(np.asarray(Image.open(path)).copy())
    assert np.array_equal(bits[0], bits[1]) and not np.array_equal(bits[0], bits[2])
