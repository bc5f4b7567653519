"""Messages between the queue and a worker are read back whole; an answer is not trusted."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from filmhand.errors import Quantity, Reason, Refused
from filmhand.film.formats import Format
from filmhand.profile.read.load import read_profile
from filmhand.request import (
    FinishedFilm,
    FinishedSet,
    GangResult,
    JobRequest,
    JobResult,
    SheetSpace,
)
from filmhand.worker import wire

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"


def request(out: Path, **more: Any) -> JobRequest:
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    return JobRequest(out / "a.png", "a b.png", profile, out, out / "scratch", **more)


def film(out: Path, name: str = "film.pdf") -> FinishedFilm:
    for one in (name, "proof.jpg"):
        (out / one).touch()
    files = {Format.PDF: out / name}
    return FinishedFilm("-p02", files, out / "proof.jpg", {"schema": "filmhand-film/1"})


def through_json(data: Any) -> Any:
    return json.loads(json.dumps(data))


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"ticket": Path("/t/a.yaml"), "mask": Path("/t/m.png"), "tiles": Path("/t/tiles")},
        {"threads": 3, "job": "20260301T100000-00000001", "sub": "class 4/Ito"},
    ],
)
def test_a_request_is_read_back(tmp_path: Path, more: dict[str, Any]) -> None:
    asked = request(tmp_path, **more)
    assert wire.request_from_json(through_json(wire.request_to_json(asked))) == asked


def test_films_are_read_back(tmp_path: Path) -> None:
    made = JobResult([film(tmp_path), film(tmp_path, "film2.pdf")])
    made.sets.append(FinishedSet("-p01", made.films[0].proof))
    assert wire.result_from_json(through_json(wire.result_to_json(made)), tmp_path) == made


@pytest.mark.parametrize("which", ["link", "folder", "missing", "inside", "../outside", "/outside"])
@pytest.mark.parametrize("place", ["files", "proof"])
def test_only_regular_files_of_the_output_folder_are_taken(
    tmp_path: Path, which: str, place: str
) -> None:
    out = tmp_path / "out"
    (out / "folder").mkdir(parents=True)
    (out / "link").symlink_to(tmp_path / "outside")
    (tmp_path / "outside").touch()
    (out / "folder" / "file").touch()
    data = wire.film_to_json(film(out))
    name = {"inside": "folder/file", "/outside": str(tmp_path / "outside")}.get(which, which)
    data[place] = {"pdf": name} if place == "files" else name
    with pytest.raises(ValueError, match="not a file in the output folder"):
        wire.film_from_json(data, out)


def test_the_proof_of_a_set_lies_in_the_output_folder_too(tmp_path: Path) -> None:
    data = wire.result_to_json(JobResult([], [FinishedSet("", tmp_path / "proof.jpg")]))
    with pytest.raises(ValueError, match="not a file in the output folder"):
        wire.result_from_json(data, tmp_path)


@pytest.mark.parametrize("suffix", ["/../../etc/x", "-p01/", "-p01\0"])
def test_the_end_of_a_name_leads_to_no_other_folder(tmp_path: Path, suffix: str) -> None:
    data = wire.result_to_json(JobResult([film(tmp_path)]))
    data["sets"] = [{"suffix": suffix, "proof": "proof.jpg"}]
    with pytest.raises(ValueError, match="not the end of a name"):
        wire.result_from_json(data, tmp_path)
    with pytest.raises(ValueError, match="not the end of a name"):
        wire.film_from_json(data["films"][0] | {"suffix": suffix}, tmp_path)


def test_a_refusal_is_read_back_with_both_quantities() -> None:
    refused = Refused(
        Reason.TOO_SMALL, "say", "do", found=Quantity(19, "ppi"), needed=Quantity("25", "ppi")
    )
    again = wire.refusal_from_json(through_json(wire.refusal_to_json(refused)))
    assert (again.found, again.needed) == (Quantity(19, "ppi"), Quantity("25", "ppi"))
    bare = wire.refusal_from_json({"reason": "too-small", "say": "say", "do": "do"})
    assert (bare.found, bare.needed) == (None, None)


def test_a_gang_is_read_back(tmp_path: Path) -> None:
    made = GangResult(
        {2: film(tmp_path), 0: film(tmp_path)},
        {1: Refused(Reason.BLANK, "say", "do")},
        {4: "it has several pages"},
        [3],
    )
    data = through_json(wire.gang_to_json(made))
    again = wire.gang_from_json(data, [request(tmp_path)] * 5)
    assert (again.placed, again.alone, again.left) == (made.placed, made.alone, made.left)
    assert again.refused[1].reason is Reason.BLANK


@pytest.mark.parametrize(
    "change", [{"left": []}, {"left": [1, 1]}, {"left": [1, 2]}, {"alone": {"0": "twice"}}]
)
def test_a_gang_tells_of_each_art_once(tmp_path: Path, change: dict[str, Any]) -> None:
    data = through_json(wire.gang_to_json(GangResult({0: film(tmp_path)}, left=[1])))
    wire.gang_from_json(data, [request(tmp_path)] * 2)
    with pytest.raises(ValueError, match="told of once"):
        wire.gang_from_json(data | change, [request(tmp_path)] * 2)


def test_a_gang_has_one_sheet(tmp_path: Path) -> None:
    two = GangResult({0: film(tmp_path), 1: film(tmp_path, "other.pdf")})
    with pytest.raises(ValueError, match="several films"):
        wire.gang_from_json(through_json(wire.gang_to_json(two)), [request(tmp_path)] * 2)


def test_sizes_are_read_back() -> None:
    known = {3: (100, 200), 0: None, 11: (7, 5)}
    assert wire.sizes_from_json(through_json(wire.sizes_to_json(known))) == known


def test_the_space_on_a_sheet_is_read_back() -> None:
    space = SheetSpace([(10, 20), None, (30, 40)], [2, 0])
    data = through_json(wire.space_to_json(space))
    assert wire.space_from_json(data, 3) == space
    for count, chosen in ((2, [0]), (4, [0]), (3, [3]), (3, [-1])):
        with pytest.raises(ValueError, match="not every art"):
            wire.space_from_json(data | {"chosen": chosen}, count)


def test_a_sheet_is_full_once_somebody_finds_no_room() -> None:
    sizes = [(10, 20), None, (30, 40)]  # the second shares no sheet, and needs no room
    assert not SheetSpace(sizes, [0, 2]).full
    assert SheetSpace(sizes, [2]).full
