"""Trial sheets: patches are cuttings of the films they stand for, and can be chosen by name."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from filmhand.errors import Reason, Refused
from filmhand.film.read import read_film
from filmhand.pipeline import job_limits
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

BASE = {
    "sheet": "5 x 7 in",
    "dpi": "200",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "none",
    "margin": "0.25 in",
    "angle": "22.5",
    "write": "tiff",
}
TONE = "art: {treat: tone}\n"


@dataclass
class Film:
    """One film: its record and its bits, True = ink."""

    record: dict[str, Any]
    bits: NDArray[np.bool_]


class Bench:
    """Makes films of one art in a folder of its own."""

    def __init__(self, folder: Path, tiles: Path) -> None:
        self.folder = folder
        self.tiles = tiles
        self.profile = BASE
        self.name = "art.png"

    def film(self, ticket: str = "", *, mask: Path | None = None, **keys: str) -> Film:
        text = "".join(f"{key}: {value}\n" for key, value in (self.profile | keys).items())
        for part in ("out", "scratch"):
            (self.folder / part).mkdir(exist_ok=True)
        path = None
        if ticket:
            path = self.folder / "art.ticket.yaml"
            path.write_text(ticket)
        request = JobRequest(
            art=self.folder / "art.png",
            name=self.name,
            profile=read_profile(text, name="tried", file="tried.yaml"),
            ticket=path,
            mask=mask,
            out=self.folder / "out",
            scratch=self.folder / "scratch",
            threads=2,
            tiles=self.tiles,
        )
        (film,) = make_films(request).films
        assert not list((self.folder / "scratch").iterdir())
        (path,) = film.files.values()
        sheet, _ = read_film(path, self.folder)
        with sheet:
            rows = np.unpackbits(sheet.read(0, sheet.height), axis=1)[:, : sheet.width]
        return Film(film.record, rows.view(np.bool_))


@pytest.fixture(scope="module")
def tiles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("tiles")


@pytest.fixture
def bench(tmp_path: Path, tiles: Path) -> Bench:
    y, x = np.mgrid[:500, :400] / 400
    waves = 0.5 + 0.3 * np.sin(25 * x * y + 9 * x) * (y > 0.5) + 0.15 * np.cos(7 * y)
    Image.fromarray((waves.clip(0, 1) * 255).astype(np.uint8)).save(tmp_path / "art.png")
    return Bench(tmp_path, tiles)


def patches(film: Film) -> dict[str, dict[str, Any]]:
    return {entry["patch"]: entry for entry in film.record["trial"]}


def cutting(bits: NDArray[np.bool_], patch: dict[str, Any], dpi: int = 200) -> NDArray[np.bool_]:
    left, top, width, height = (
        round(patch[key] / 25.4 * dpi) for key in ("x_mm", "y_mm", "width_mm", "height_mm")
    )
    return bits[top : top + height, left : left + width]


def place_of(piece: NDArray[np.bool_], film: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where the piece lies in the film, bit for bit."""
    height, width = piece.shape
    # The first row with the most change is looked for; few places have it.
    row = int((piece[:, 1:] != piece[:, :-1]).sum(axis=1).argmax())
    wanted = piece[row].tobytes()
    found = []
    for y in range(row, film.shape[0] - height + row + 1):
        line = film[y].tobytes()
        x = line.find(wanted)
        while x >= 0:
            if np.array_equal(film[y - row : y - row + height, x : x + width], piece):
                found.append((y - row, x))
            x = line.find(wanted, x + 1)
    return found


@pytest.mark.parametrize(("mirror", "turned"), [("false", True), ("true", False)])
def test_each_patch_is_a_cutting_of_its_own_film(bench, mirror, turned):
    if turned:
        picture = Image.open(bench.folder / "art.png").transpose(Image.Transpose.ROTATE_90)
        picture.save(bench.folder / "art.png")
    ticket = TONE + f"film: {{mirror: {mirror}}}\n"
    trial = bench.film(ticket + "trial: {lpi: [20, 30], contrast: [1, 1.5], detail: [60, 60]}\n")
    assert list(patches(trial)) == ["A1", "A2", "B1", "B2"]
    where = []
    for name in ("A1", "B2"):
        patch = patches(trial)[name]
        own = bench.film(ticket + f"lpi: {patch['lpi']}\ntone: {{contrast: {patch['contrast']}}}\n")
        assert own.record["art"]["turned"] == (90 if turned else 0)
        found = place_of(cutting(trial.bits, patch), own.bits)
        assert len(found) == 1
        where += found
    assert where[0] == where[1]


def test_a_chosen_patch_is_the_film_of_its_settings(bench):
    chosen = bench.film(TONE + "trial: {lpi: [20, 30], contrast: [1, 1.5]}\npatch: B2\n")
    own = bench.film(TONE + "lpi: 30\ntone: {contrast: 1.5}\n")
    assert np.array_equal(chosen.bits, own.bits)
    assert chosen.record["screen"] == own.record["screen"]
    assert "Made as patch B2 of the trial: 30 lpi, contrast 1.5." in chosen.record["notes"]


@pytest.mark.parametrize("turned", [False, True])
def test_the_detail_lies_where_it_was_asked_for(bench, turned):
    # A black square on white, its middle 40 % from the left and 60 % from the top.
    picture = Image.new("L", (400, 500), 255)
    ImageDraw.Draw(picture).rectangle((150, 290, 169, 309), fill=0)
    art = picture.transpose(Image.Transpose.ROTATE_90) if turned else picture
    art.save(bench.folder / "art.png")
    at = "[60, 60]" if turned else "[40, 60]"
    film = bench.film(f"trial: {{threshold: [40, 50, 60], detail: {at}}}\nart: {{treat: line}}\n")
    for patch in patches(film).values():
        ink = cutting(film.bits, patch)
        y, x = (where.mean() for where in np.nonzero(ink))
        assert abs(y - ink.shape[0] / 2) < 2 and abs(x - ink.shape[1] / 2) < 2


def test_the_program_chooses_lists_and_a_busy_place(bench):
    film = bench.film(TONE + "trial: true\n", sheet="8.5 x 11 in", dpi="150", mesh="43-80")
    found = patches(film)
    assert list(found) == [f"{row}{number}" for row in "ABCD" for number in (1, 2, 3)]
    # 25 lpi is the profile's own, and 28.3 lpi the mesh's best (the guide's page mesh).
    assert [patch["lpi"] for patch in found.values()][:3] == [19, 25, 28]
    assert {(patch["dot"], patch["contrast"]) for patch in found.values()} == {
        ("round", 1), ("round", 1.3), ("ellipse", 1), ("ellipse", 1.3),
    }  # fmt: skip
    assert all(min(patch["width_mm"], patch["height_mm"]) >= 25 for patch in found.values())
    assert all(patch["checks"] and patch["screen"] for patch in found.values())
    told = next(note for note in film.record["notes"] if note.startswith("A trial sheet"))
    assert "12 patches" in told
    # The waves are in the lower half, and so is what is shown.
    assert float(told.split(" from its left and ")[1].split(" %")[0]) > 55
    assert film.record["checks"] == []
    assert film.record["screen"] is None


def test_a_small_sheet_has_fewer_patches_and_still_the_same_names(bench):
    # 5 x 7 in has no room for twelve patches of 25 mm; contrasts go first.
    film = bench.film(TONE + "trial: true\n")
    assert set(patches(film)) == {"A1", "A2", "A3", "B1", "B2", "B3"}
    again = bench.film(TONE + "trial: true\n")
    assert again.record["film"]["sha256"] == film.record["film"]["sha256"]
    chosen = bench.film(TONE + "patch: b1\n")
    assert chosen.record["screen"]["dot"] == "ellipse"
    assert chosen.record["screen"]["lpi_asked"] == patches(film)["B1"]["lpi"]
    assert "trial" not in chosen.record
    assert "Made as patch B1 of the trial: 19 lpi, ellipse." in chosen.record["notes"]


def test_line_art_is_tried_at_thresholds(bench):
    y, x = np.mgrid[:500, :400]
    gray = 255 * (np.hypot(x % 40 - 20, y % 40 - 20) / 28)
    Image.fromarray(gray.clip(0, 255).astype(np.uint8)).save(bench.folder / "art.png")
    film = bench.film("trial: yes\nart: {treat: line}\n")
    found = patches(film)
    assert [patch["threshold"] for patch in found.values()] == [30, 40, 50, 60, 70]
    assert list(found) == ["A1", "A2", "A3", "A4", "A5"]
    ink = [cutting(film.bits, patch).mean() for patch in found.values()]
    assert ink == sorted(ink, reverse=True) and ink[0] > ink[-1] + 0.2
    chosen = bench.film("art: {treat: line}\npatch: A4\n")
    assert any("threshold 60 %" in note for note in chosen.record["notes"])


def test_patches_that_would_be_refused_are_shown_and_say_so(bench):
    ramp = np.tile(np.linspace(150, 255, 500).astype(np.uint8), (500, 1))
    Image.fromarray(ramp).save(bench.folder / "art.png")
    ticket = TONE + "trial: {lpi: [20, 60], detail: [99, 50]}\ntone: {hold: off, endpoints: off}\n"
    keys = {"sheet": "4 x 5 in", "dpi": "300", "mesh": "43-80"}
    film = bench.film(ticket, **keys)
    found = patches(film)
    assert found["A2"]["verdict"] == "too fine"
    assert "fail" in {check["verdict"] for check in found["A2"]["checks"]}
    assert any(note.endswith("would be refused.") for note in film.record["notes"])
    with pytest.raises(Refused) as refused:
        bench.film(ticket + "patch: A2\n", **keys)
    assert refused.value.reason is Reason.DOTS_TOO_FINE


def test_a_trial_that_takes_too_long_or_too_large_a_file_is_told_first(bench, monkeypatch):
    Image.new("L", (400, 500), 120).save(bench.folder / "art.png")
    monkeypatch.setattr(job_limits, "_ANY_COMPUTER", 1)
    monkeypatch.setattr(job_limits, "pixels_a_second", lambda: 10)
    with pytest.raises(Refused, match="take at least") as refused:
        bench.film(TONE + "trial: yes\n")
    assert refused.value.reason is Reason.TOO_BIG
    monkeypatch.setattr(job_limits, "LARGEST_FILE", 1000)
    with pytest.raises(Refused, match="GiB"):
        bench.film(TONE + "trial: yes\n")


def test_the_mask_keeps_patches_bare_as_well(bench):
    mask = bench.folder / "mask.png"
    dark_left = np.tile(np.where(np.arange(40) < 16, 0, 255).astype(np.uint8), (50, 1))
    Image.fromarray(dark_left).save(mask)
    Image.new("L", (400, 500), 0).save(bench.folder / "art.png")
    film = bench.film(
        "trial: {threshold: [40, 60], detail: [40, 50]}\nart: {treat: line}\n"
        "tone: {endpoints: off}\n",
        mask=mask,
    )
    for patch in patches(film).values():
        ink = cutting(film.bits, patch)
        middle = ink.shape[1] // 2
        assert not ink[:, : middle - 2].any()
        assert ink[:, middle + 2 :].all()


def test_a_blank_patch_refuses_nothing(bench):
    Image.new("L", (400, 500), 128).save(bench.folder / "art.png")
    film = bench.film("art: {treat: line}\ntone: {endpoints: off}\ntrial: {threshold: [20, 80]}\n")
    assert {patch["verdict"] for patch in patches(film).values()} == {"blank"}


@pytest.mark.parametrize(
    ("ticket", "says"),
    [
        ("patch: D9\n", "has no patch D9; its patches are A1 to A3, B1 to B3"),
        ("trial: {lpi: [20, 30]}\npatch: A3\n", "its patches are A1 to A2"),
        ("trial: {threshold: [20, 30]}\n", "none of what the trial varies (threshold)"),
        (
            "trial: {lpi: [10, 15, 20, 25, 30, 35, 40, 45]}\n",
            "asks for 8 patches, and this sheet has room for 4 of 2 in (51 mm)",
        ),
    ],
)
def test_what_cannot_be_is_said(bench, ticket, says):
    with pytest.raises(Refused) as refused:
        bench.film(TONE + ticket)
    assert refused.value.reason is Reason.BAD_TICKET
    assert says in refused.value.say
    assert refused.value.do.endswith(".")


def test_wishes_in_the_name_reach_label_record_and_film(bench):
    plain = bench.film(TONE)
    bench.name = "art [60 mm, 30 lpi].png"
    film = bench.film(TONE)
    assert film.record["wishes"] == ["width 60 mm", "30 lpi"]
    assert film.record["art"]["width_mm"] == pytest.approx(60, abs=0.2)
    assert film.record["screen"]["lpi_asked"] == 30
    assert "The name asks for width 60 mm, 30 lpi." in film.record["notes"]
    assert plain.record["wishes"] == []
    foot = plain.bits.shape[0] - 150
    assert not np.array_equal(plain.bits[foot:], film.bits[foot:])
    overruled = bench.film(TONE + "lpi: 20\n")
    assert overruled.record["screen"]["lpi_asked"] == 20
    assert overruled.record["wishes"] == ["width 60 mm"]
    assert json.dumps(overruled.record["ticket"]) == '{"art": {"treat": "tone"}, "lpi": 20}'
    told = "The name asks for 30 lpi, which the ticket decides otherwise."
    assert told in overruled.record["notes"]


def test_a_trial_can_be_asked_for_by_name(bench):
    bench.name = "art [trial, tone].png"
    film = bench.film()
    assert film.record["wishes"] == ["trial", "tone"]
    assert len(film.record["trial"]) == 6
    assert film.record["notes"][-1] == (
        "To choose a patch, write it in the name in place of trial, as in “art [tone] [patch "
        "B3].png”, and leave the rest as it is."
    )
    assert "trial" not in bench.film("trial: false\n").record


def test_a_note_that_differs_in_figures_only_is_told_once(bench):
    """Each ruling leaves another part of the picture to sharp edges."""
    picture = np.tile(np.linspace(40, 210, 400), (500, 1))
    picture[60:200, 40:360] = 255
    for left in range(60, 340, 40):
        picture[80:180, left : left + 16] = 0
    Image.fromarray(picture.astype(np.uint8)).save(bench.folder / "art.png")
    film = bench.film(TONE + "trial: {lpi: [15, 20, 30], detail: [50, 30]}\n")
    (told,) = (note for note in film.record["notes"] if note.startswith("Line work inside"))
    assert told.endswith("The figures differ from patch to patch.")
    assert film.record["notes"][-1].endswith("and add a line such as patch: A3.")


@pytest.mark.parametrize("mirror", ["false", "true"])
def test_the_place_that_is_shown_is_none_that_a_mask_keeps_bare(bench, mirror):
    rows, columns = np.mgrid[:500, :400]
    picture = 128 + np.where(columns < 200, 100, 30) * np.sin(columns / 5 + rows / 9)
    Image.fromarray(picture.astype(np.uint8)).save(bench.folder / "art.png")
    mask = bench.folder / "mask.png"
    Image.fromarray(np.repeat([[0, 255]], [40, 40], axis=1).astype(np.uint8).repeat(100, 0)).save(
        mask
    )
    ticket = TONE + f"trial: {{lpi: [20, 30]}}\nfilm: {{mirror: {mirror}}}\n"
    for some, left in ((None, True), (mask, False)):
        film = bench.film(ticket, mask=some)
        (told,) = (note for note in film.record["notes"] if note.startswith("A trial sheet"))
        middle = float(told.split("about ")[1].split(" %")[0])
        assert (middle < 50) is left
        assert all(entry["verdict"] != "blank" for entry in film.record["trial"])


def test_a_patch_that_one_of_several_pages_lacks_is_told_with_its_page(bench):
    page = Image.open(bench.folder / "art.png")
    line = page.point(lambda code: 255 if code > 128 else 0)
    page.save(bench.folder / "pages.tif", save_all=True, append_images=[line])
    (bench.folder / "pages.tif").replace(bench.folder / "art.png")
    with pytest.raises(Refused, match="The trial of page 2 of this art has no patch B3"):
        bench.film("patch: B3\n")
