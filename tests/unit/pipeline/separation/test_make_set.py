"""Art to the finished films of its inks."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.ink.cielab import srgb_to_lab
from filmhand.pipeline import finished as pipeline_finished
from filmhand.pipeline.make import make_films
from filmhand.pipeline.separation.geometry import filled_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest, JobResult

BASE = """sheet: 80 x 90 mm
dpi: 254
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 2 mm
art: {fit: own, turn: never}
write: png
"""
RED, YELLOW, BLUE = "#b3261e", "#f2c418", "#1d3f9c"
THREE = f"""inks:
  - {{name: yellow, color: "{YELLOW}"}}
  - {{name: dark red, color: "{RED}", mesh: 77-55, lpi: 30}}
  - {{name: blue, color: "{BLUE}"}}
"""
PX = 10  # device pixels to a millimeter


def code(color):
    return list(bytes.fromhex(color[1:]))


@dataclass
class Made:
    """A job's films, and what is on them."""

    result: JobResult
    bits: list = field(default_factory=list)

    @property
    def records(self):
        return [film.record for film in self.result.films]


@pytest.fixture(scope="module")
def tiles(tmp_path_factory):
    return tmp_path_factory.mktemp("tiles")


@pytest.fixture
def make(tmp_path, tiles):
    """Makes a set of an array of codes, 10 pixels to a millimeter."""

    def made(codes, inks=THREE, *, ticket=None, mask=False, base=BASE, saved=None):
        count = len(list(tmp_path.glob("job*")))
        folder = tmp_path / f"job{count}"
        for name in ("out", "scratch"):
            (folder / name).mkdir(parents=True)
        art = folder / "art.png"
        if saved is None:
            Image.fromarray(codes).save(art, dpi=(254, 254))
        else:
            art = saved(folder)
        beside = {}
        if ticket is not None:
            beside["ticket"] = folder / "art.png.ticket.yaml"
            beside["ticket"].write_text(ticket)
        if mask:
            beside["mask"] = folder / "art.png.clear.png"
            Image.new("L", codes.shape[1::-1]).save(beside["mask"])
        profile = read_profile(base + inks, name="three", file="three.yaml")
        request = JobRequest(
            art=art,
            name=art.name,
            profile=profile,
            out=folder / "out",
            scratch=folder / "scratch",
            tiles=tiles,
            **beside,
        )
        result = make_films(request)
        assert not list((folder / "scratch").iterdir())
        bits = []
        for film in result.films:
            (file,) = film.files.values()
            bits.append(~np.asarray(Image.open(file).convert("1")))
        return Made(result, bits)

    return made


@pytest.fixture
def flag():
    """Yellow beside red, a blue square in the red, white all around."""
    codes = np.full((400, 500, 3), 255, np.uint8)
    codes[50:350, 50:250], codes[50:350, 250:450] = code(YELLOW), code(RED)
    codes[150:250, 300:400] = code(BLUE)
    return codes


def art_of(made, k):
    """The bits of a film where the art lies, which is in the middle of the room that it has."""
    whole = np.any(made.bits, axis=0)
    middle = whole[110:700, 150:650]
    rows, columns = np.flatnonzero(middle.any(axis=1)), np.flatnonzero(middle.any(axis=0))
    return made.bits[k][110:700, 150:650][rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def test_flat_art_gives_back_exactly_its_areas(make, flag):
    made = make(flag)
    assert [film.suffix for film in made.result.films] == ["-1-yellow", "-2-dark-red", "-3-blue"]
    yellow, red, blue = (art_of(made, k) for k in range(3))
    assert [int(ink.sum()) for ink in (yellow, red, blue)] == [60_000, 50_000, 10_000]
    total = yellow.astype(int) + red + blue
    assert total.shape == (300, 400)
    assert (total == 1).all()  # neither a gap nor a double


LINED = f"""separate: spot
inks:
  - {{name: yellow, color: "{YELLOW}"}}
  - {{name: red, color: "{RED}"}}
  - {{name: black, color: "#101010", OPTIONS}}
"""


@pytest.fixture
def lined(flag):
    """Lines and a spot of black over two colors."""
    flag[150:250, 300:400] = code(RED)
    flag[100:104, 30:470] = flag[200:208, 30:470] = flag[250:320, 200:300] = code("#101010")
    return flag


def test_an_opaque_ink_that_overprints_looks_the_same(make, lined):
    plain = make(lined, LINED.replace("OPTIONS", "overprint: false"))
    over = make(lined, LINED.replace("OPTIONS", "overprint: true"))
    assert over.records[0]["separation"] == plain.records[0]["separation"]
    assert (over.bits[2] == plain.bits[2]).all()
    assert [int(art_of(over, k).sum()) for k in (0, 1)] == [60_000, 60_000]
    assert int(art_of(plain, 0).sum()) < 55_000
    assert any("Inks that overprint: black" in note for note in over.records[0]["notes"])
    assert not any("prints over" in note for note in over.records[0]["notes"])


def test_an_ink_that_shows_what_is_beneath_is_told_with_the_color_it_becomes(make, lined):
    thin = LINED.replace("#101010", "#4a6b8a").replace("OPTIONS", "opacity: 0, overprint: OVER")
    lined[(lined == code("#101010")).all(axis=-1)] = code("#4a6b8a")
    plain, over = (make(lined, thin.replace("OVER", said)) for said in ("false", "true"))
    means = [made.records[0]["separation"]["mean_de00"] for made in (plain, over)]
    assert means[1] > means[0] + 0.5
    (said,) = (note for note in over.records[1]["notes"] if "prints over" in note)
    assert "Where black prints over " in said and "(CIEDE2000) from what it is alone" in said
    assert not any("prints over" in note for note in plain.records[1]["notes"])


def test_overprint_of_mixed_colors_is_left_aside_with_a_word(make, lined):
    made = make(lined, LINED.replace("spot", "process").replace("OPTIONS", "overprint: true"))
    assert any("overprint was left aside for black" in one for one in made.records[0]["notes"])
    assert not any("Inks that overprint" in note for note in made.records[0]["notes"])


@pytest.mark.parametrize(("mode", "told"), [("process", True), ("spot", False)])
def test_a_trap_that_does_nothing_is_told(make, lined, mode, told):
    text = LINED.replace("spot", mode).replace("OPTIONS", "overprint: false") + "\ntrap: 0.2 mm\n"
    notes = make(lined, text).records[0]["notes"]
    assert any("trap was left aside" in one for one in notes) is told


def test_records_tell_the_set_and_each_its_own_mesh(make, flag):
    made = make(flag)
    sets = [record["set"] for record in made.records]
    assert [(one["k"], one["of"], one["ink"]) for one in sets] == [
        (1, 3, "yellow"), (2, 3, "dark red"), (3, 3, "blue"),
    ]  # fmt: skip
    assert len({one["id"] for one in sets}) == 1
    lab = srgb_to_lab(np.array(code(BLUE)) / 255)
    assert sets[2]["color"] == pytest.approx(lab.tolist(), abs=0.01)
    assert [record["mesh"]["label"] for record in made.records] == [
        "110 (43-80)", "196 (77-55)", "110 (43-80)",
    ]  # fmt: skip
    assert {record["treated"] for record in made.records} == {"line"}
    (separation,) = {json.dumps(record["separation"]) for record in made.records}
    found = json.loads(separation)
    assert found["mode"] == "spot"
    assert found["mean_de00"] < 0.3
    (together,) = made.result.sets
    assert together.suffix == ""
    with Image.open(together.proof) as proof:
        assert proof.width == 1080


def test_the_same_art_makes_the_same_set(make, flag):
    first, again = make(flag), make(flag)
    assert first.records[0]["set"] == again.records[0]["set"]
    for one, other in zip(first.bits, again.bits, strict=True):
        assert (one == other).all()
    other = make(flag, THREE + "trap: 0.3 mm\n")
    assert other.records[0]["set"]["id"] != first.records[0]["set"]["id"]


def test_only_the_art_and_the_label_differ(make, flag):
    made = make(flag)
    differ = np.any([bits != made.bits[0] for bits in made.bits[1:]], axis=0)
    rows = np.flatnonzero(differ.any(axis=1))
    art = np.flatnonzero(np.any(made.bits, axis=0)[110:700, 150:650].any(axis=1)) + 110
    label = 900 - 20 - 100  # the strip of 10 mm at the foot, inside the margin
    beside = [row for row in rows.tolist() if not art[0] <= row <= art[-1]]
    assert beside
    assert min(beside) >= label


def test_one_of_the_marks_is_turned(make, flag):
    made = make(flag)
    bits = made.bits[0]
    # The room beside the ruler and above the label's strip, inside the margin.
    left, right, top, bottom = 20 + 50, 800 - 20, 20, 900 - 20 - 100
    middle = (top + bottom) // 2
    marks = [bits[middle - 30 : middle + 30, side : side + 60] for side in (left, right - 60)]
    assert all(mark.any() for mark in marks)
    assert not (marks[0] == marks[1]).all()
    plain = make(flag, THREE + "marks: {register: false}\n")
    assert not plain.bits[0][middle - 30 : middle + 30, right - 60 : right].any()


@pytest.mark.parametrize("film", ["mirror: true", "negative: true", "stack: 2"])
def test_films_are_mirrored_and_turned_as_others_are(make, flag, film):
    plain = make(flag, THREE + "marks: {register: true}\n")
    other = make(flag, f"{THREE}film: {{{film}}}\nmarks: {{register: true}}\n")
    for one, two in zip(plain.bits, other.bits, strict=True):
        whole = np.any(plain.bits, axis=0)
        rows = np.flatnonzero(whole[110:700, 150:650].any(axis=1)) + 110
        area = slice(rows[0], rows[-1] + 1), slice(200, 550)
        there = two[:, ::-1] if film.startswith("mirror") else two
        same = (one[area] == there[area]).mean()
        assert same == (0 if film.startswith("negative") else 1)
    assert other.records[0]["separation"] == plain.records[0]["separation"]


def test_an_ink_of_which_nothing_prints_has_no_film(make, flag):
    flag[(flag == code(BLUE)).all(axis=-1)] = code(RED)
    made = make(flag)
    assert [film.suffix for film in made.result.films] == ["-1-yellow", "-2-dark-red"]
    assert made.records[1]["set"]["of"] == 2
    assert any("Nothing of this art prints in blue" in note for note in made.records[0]["notes"])


def test_all_inks_that_print_nothing_are_found_at_once(make, flag, monkeypatch):
    laid = []
    fill = filled_films.fill_films

    def counted(films, source, **more):
        laid.append(len(films))
        fill(films, source, **more)

    monkeypatch.setattr(filled_films, "fill_films", counted)
    flag[(flag == code(BLUE)).all(axis=-1)] = code(YELLOW)
    flag[(flag == code(RED)).all(axis=-1)] = code(YELLOW)
    made = make(flag)
    assert laid == [3, 1] and [film.suffix for film in made.result.films] == ["-1-yellow"]
    assert any("prints in dark red and blue" in note for note in made.records[0]["notes"])


@pytest.mark.parametrize(
    "base",
    [
        BASE.replace("threshold: 50", "threshold: 30"),
        BASE.replace("threshold: 50\n", "").replace("never}", "never, treat: tone}"),
    ],
)
def test_inks_meet_at_half_whatever_threshold_a_profile_has(make, flag, monkeypatch, base):
    labels = []
    told = pipeline_finished.label_lines

    def noted(*args, **more):
        labels.append(" ".join(told(*args, **more)))
        return told(*args, **more)

    monkeypatch.setattr(pipeline_finished, "label_lines", noted)
    made = make(flag, base=base)
    assert [int(art_of(made, k).sum()) for k in range(3)] == [60_000, 50_000, 10_000]
    assert len(labels) == 3 and all("threshold 50 %" in label for label in labels)


def test_white_on_clear_is_printed_white(make, flag):
    codes = np.concatenate([np.full_like(flag, 255), np.zeros_like(flag[..., :1])], axis=-1)
    codes[50:350, 50:450, 3] = 255
    inks = 'cloth: "#141414"\nseparate: spot\ninks:\n  - {name: white, color: "#ffffff"}\n'
    made = make(codes, inks)
    assert [film.suffix for film in made.result.films] == ["-1-white"]
    assert not any("its shape was printed" in note for note in made.records[0]["notes"])


def test_an_ink_may_be_everywhere(make, flag):
    flag[(flag == 255).all(axis=-1)] = code(YELLOW)
    flag[(flag == code(RED)).all(axis=-1)] = code(YELLOW)
    flag[(flag == code(BLUE)).all(axis=-1)] = code(YELLOW)
    made = make(flag)
    assert [film.suffix for film in made.result.films] == ["-1-yellow"]
    assert made.bits[0].sum() > 500 * 400


def test_a_tint_becomes_dots_and_the_solid_beside_it_does_not(make, flag):
    # Half of the red light away, by code: a tint of red on white.
    tint = np.rint((np.array(code(RED)) + 255) / 2).astype(np.uint8)
    flag[50:350, 50:250] = tint
    made = make(flag)
    red = art_of(made, 0)
    assert made.records[0]["treated"] == "mixed"
    assert made.records[0]["screen"]["lpi_asked"] == 30
    assert 0.3 < red[:, :190].mean() < 0.7
    assert red[:90, 210:].all()


@pytest.mark.parametrize("tone", ["gain: 20", "dropout: 50"])
def test_a_negative_makes_up_for_the_press_as_others_do(make, flag, tone):
    flag[:] = np.rint((np.array(code(RED)) + 3 * 255) / 4).astype(np.uint8)
    flag[:20] = code(RED)  # so that it is not bare
    shares = [
        make(flag, f"{THREE}tone: {{{tone}}}\nfilm: {{negative: {word}}}\n").bits[0]
        [300:500, 300:500].mean()
        for word in ("false", "true")
    ]  # fmt: skip
    assert shares[0] < 0.45 and sum(shares) == pytest.approx(1, abs=0.03)


def test_art_without_any_ink_is_refused(make):
    with pytest.raises(Refused) as refused:
        make(np.full((100, 100, 3), 255, np.uint8))
    assert refused.value.reason is Reason.BLANK


def test_colors_that_no_ink_comes_near_are_told_or_refused(make, flag):
    flag[60:80, 60:80] = (30, 200, 40)
    records = make(flag).records
    (note,) = {note for record in records for note in record["warnings"] if "comes near" in note}
    assert all(record["notes"].count(note) == 1 for record in records)
    assert "0.2 % of the art" in note
    assert "green (#1ec828)" in note
    flag[60:260, 60:200] = (30, 200, 40)
    with pytest.raises(Refused, match=r"14 % of this art.*green.*at most 5 %") as refused:
        make(flag, THREE + "separate: spot\n")
    assert refused.value.reason is Reason.COLORS


def test_one_film_that_the_mesh_does_not_hold_refuses_all_and_is_named(make, flag):
    flag[150:250, 300:400] = code(RED)
    flag[150:250:4, 300:400] = code(BLUE)
    with pytest.raises(Refused, match=r"The film of blue \(3 of 3\):") as refused:
        make(flag)
    assert refused.value.reason is Reason.LINES_TOO_FINE
    made = make(flag, ticket="anyway: true\n")
    assert len(made.result.films) == 3


def test_what_would_pass_is_told_of_the_ink_that_was_refused(make, flag):
    flag[150:250, 300:400] = code(RED)
    flag[150:250:4, 300:400] = code(BLUE)
    with pytest.raises(Refused, match=r"The film of blue \(3 of 3\):") as refused:
        make(flag)
    assert "passes, tried with this art" in refused.value.do
    mesh = re.search(r"write mesh: (\S+) in the profile", refused.value.do)[1]
    assert len(make(flag, base=BASE.replace("43-80", mesh)).result.films) == 3
    # Of its own mesh it is told at the ink.
    own = THREE.replace("blue, ", "blue, mesh: 43-80, ")
    with pytest.raises(Refused, match="The film of blue") as refused:
        make(flag, own)
    assert f"(write mesh: {mesh} at the ink blue in the profile)" in refused.value.do


@pytest.mark.parametrize(("asked", "word"), [({"mask": True}, "mask"), ({}, "trial")])
def test_what_cannot_be_combined_yet_is_refused_in_words(make, flag, asked, word):
    with pytest.raises(Refused, match=word):
        make(flag, ticket=None if asked else "trial: true\n", **asked)


def test_a_ticket_makes_a_set_of_a_gray_profile(make, flag):
    made = make(flag, "", ticket=THREE.replace(", mesh: 77-55", ""))
    assert len(made.result.films) == 3
    assert made.result.films[0].record["ticket"]["inks"]


def test_dark_cloth_gets_white_below_all_inks(make, flag):
    dark = "#141414"
    flag[(flag == 255).all(axis=-1)] = code(dark)
    flag[150:250, 300:400] = 255
    inks = THREE.replace("inks:\n", f'cloth: "{dark}"\nunderbase: {{choke: 0.3 mm}}\ninks:\n')
    made = make(flag, inks)
    assert [film.suffix for film in made.result.films] == ["-1-white", "-2-yellow", "-3-dark-red"]
    base, yellow, red = (art_of(made, k) for k in range(3))
    # Three pixels less on every side; where the art is white it is printed for itself.
    assert int(base.sum()) == 394 * 294
    assert base[100:200, 250:350].all()
    assert not (yellow | red)[100:200, 250:350].any()


def test_pages_become_sets_of_their_own(make, flag):
    def saved(folder):
        pages = [Image.fromarray(flag), Image.fromarray(np.ascontiguousarray(flag[:, ::-1]))]
        pages[0].save(folder / "art.tif", save_all=True, append_images=pages[1:], dpi=(254, 254))
        return folder / "art.tif"

    made = make(None, saved=saved)
    assert [film.suffix for film in made.result.films][:2] == ["-p01-1-yellow", "-p01-2-dark-red"]
    assert [one.suffix for one in made.result.sets] == ["-p01", "-p02"]
    assert len({record["set"]["id"] for record in made.records}) == 2


def test_inks_are_found_in_the_art(make, flag):
    pytest.importorskip("scipy")
    made = make(flag, "inks: auto 3\n")
    assert [film.suffix for film in made.result.films] == ["-1-yellow", "-2-red", "-3-blue"]
    assert any("The inks were found in the art" in note for note in made.records[0]["notes"])
    assert [int(art_of(made, k).sum()) for k in range(3)] == [60_000, 50_000, 10_000]


def test_see_through_art_shows_the_cloth(make, flag):
    alpha = np.where((flag == 255).all(axis=-1, keepdims=True), np.uint8(0), np.uint8(255))
    made = make(np.concatenate([flag, alpha], axis=-1), f'cloth: "#203020"\n{THREE}')
    assert [int(art_of(made, k).sum()) for k in range(3)] == [60_000, 50_000, 10_000]


def test_screens_that_show_bands_with_each_other_are_refused_by_the_inks_names(make):
    codes = np.full((400, 500, 3), 0, np.uint8)
    codes[:] = (200, 140, 160)
    inks = """separate: process
limits: {moire: refuse}
verdict: {moire: {warn: 0.001, fail: 0.002}}
inks:
  - {name: pink, color: [65, 50, 5], angle: 30, lpi: 25, opacity: 0}
  - {name: teal, color: [60, -40, -15], angle: 34, lpi: 25, opacity: 0}
"""
    with pytest.raises(Refused, match="of pink and teal") as refused:
        make(codes, inks, base=BASE.replace("mesh: 43-80", "mesh: none"))
    assert refused.value.reason is Reason.MOIRE
