"""How much notes, records and lines of the refusal log may say, and what they must not."""

from __future__ import annotations

import json
import stat
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.jobs import job_form, ledger

ID, OTHER = "20260102T030405-0a1b2c3d", "20260102T030405-0a1b2c3e"
SHA = "0a" * 32
FOLDER = Beneath(Path("/"), (ID,))
NOTES = {
    "schema": "filmhand-job/1", "id": ID, "profile": "small", "snapshot": {}, "sub": [],
    "art": "a.png", "state": "claimed",
}  # fmt: skip
FILM: dict[str, Any] = {"suffix": "", "files": {"pdf": ["a.pdf", SHA]}}
STAGED = {**FILM, "record": {}, "proof": ["a.jpg", SHA]}
SHARED = {
    **STAGED, "stem": "a", "member": OTHER, "art": "a.png", "sha256": SHA, "earlier": None,
}  # fmt: skip
ITEM = {"source": "a.pdf", "kind": "positives", "name": "a.pdf", "sha256": SHA}
REFUSAL = {"reason": "blank", "say": "It is bare.", "do": "Draw.", "found": None, "needed": None}
RETURNING = {"state": "returning", "kept": {"art": "a.png", "why": "a.png.why.txt"}}
GANG = {"company": [OTHER], "state": "gathering"}


def many(count: int, make: Any) -> dict[str, Any]:
    return {f"k{number}": make for number in range(count)}


FITTING: list[dict[str, Any]] = [
    {},
    {"profile": "x" * 255},
    {"sub": ["d"] * 40},
    {"seen": {"a.png": [0, 2**64, 1]}},
    {"seen": {"a.png": []}},
    {"seen": many(3, [1, 2, 3])},
    {"strikes": 1000},
    {"companions": many(2, SHA)},
    {"films": [{**FILM, "files": many(20, ["a", SHA])}]},
    {"films": [{**FILM, "companions": many(2, SHA), "suffix": "-p123456789-r1c123456789"}]},
    {"state": "publishing", "films": [FILM]},  # before anything is named
    {"state": "publishing", "films": [STAGED], "items": [ITEM]},
    {"state": "settling"},
    {"state": "settling", "films": [STAGED], "items": [ITEM]},
    {"state": "rejecting", "refusal": REFUSAL},
    RETURNING,
    {"ticket": "a.png.ticket.yaml", "mask": "A.png.clear.png"},
    GANG,
    {"state": "gathering", "company": [f"20260102T030405-{n:08x}" for n in range(10_000)]},
    {**GANG, "state": "parting", "films": [SHARED], "items": [ITEM]},
    {**GANG, "state": "parting"},
    {**GANG, "state": "ganged"},
    {**GANG, "state": "publishing", "films": [SHARED], "items": [ITEM]},
    {"films": [{**STAGED, "record": {"film": 3}}], "items": [ITEM]},  # not published
    {"state": "held", "films": [STAGED], "items": [ITEM], "hold": {}},
    {"state": "held", "films": [STAGED], "items": [ITEM],
     "hold": {"sheets": 10_000_000, "day": "2026-03-01", "person": "anna", "approve": True}},
    {**GANG, "state": "held", "films": [SHARED], "items": [ITEM], "hold": {"sheets": 1, "day": ""}},
]  # fmt: skip
OTHERS: list[dict[str, Any]] = [
    {"schema": "filmhand-job/2"},
    {"profile": "x" * 256},
    {"sub": ["d"] * 41},
    {"sub": ["class", "@eaDir"]},  # its system may remove what lies there
    {"sub": [".snapshot"]},
    {"seen": {"a.png": [0, 2**64 + 1, 1]}},
    {"seen": {"a.png": [-1, 0, 0]}},
    {"seen": {"a.png": [1, 2]}},
    {"seen": {"a.png": [1, 2, 3, 4]}},
    {"seen": many(4, [1, 2, 3])},
    {"strikes": 1001},
    {"strikes": -1},
    {"companions": many(3, SHA)},
    {"films": [{**FILM, "files": many(21, ["a", SHA])}]},
    {"films": [{**FILM, "companions": many(3, SHA)}]},
    {"films": [{**FILM, "suffix": "-p1234567890"}]},
    {"films": [{**FILM, "files": {"x" * 41: ["a", SHA]}}]},
    {"state": "publishing"},
    {"state": "publishing", "films": [FILM], "items": [ITEM]},  # named without its record
    {"state": "publishing", "films": [{**STAGED, "files": {}}], "items": [ITEM]},
    {"state": "publishing", "films": [{**STAGED, "record": {"film": 3}}], "items": [ITEM]},
    {"state": "publishing", "films": [{**STAGED, "record": {"gang": []}}], "items": [ITEM]},
    {"state": "settling", "items": [ITEM]},
    {"state": "rejecting"},
    {"state": "rejecting", "refusal": {**REFUSAL, "reason": "ugly"}},
    {"state": "returning", "kept": {"art": "a.png"}},
    {"state": "returning", "kept": {"why": "a.png.why.txt"}},
    {**RETURNING, "ticket": "a.png.ticket.yaml"},
    {"ticket": "a.png.ticket.yaml", "kept": {"art": "a.png"}},
    {"ticket": "a.png"},
    {"ticket": "a.png.clear.png"},
    {"mask": "a.png.ticket.yaml"},
    {"state": "gathering"},
    {"company": [OTHER]},  # claimed is no state of several
    {**GANG, "company": [OTHER, OTHER]},
    {"state": "gathering", "company": [f"20260102T030405-{n:08x}" for n in range(10_001)]},
    {**GANG, "state": "parting", "films": [STAGED], "items": [ITEM]},
    {**GANG, "state": "parting", "films": [{**SHARED, "member": ID}], "items": [ITEM]},
    {"items": [{**ITEM, "kind": "drop"}]},
    {"state": "held"},
    {"hold": {"sheets": -1}},
    {"hold": {"sheets": 10_000_001}},
    {"hold": {"day": "2026-02-30"}},
    {"hold": {"person": None}},
    {"hold": {"unknown": 1}},
    {"unknown": 1},
]


@pytest.mark.parametrize("more", FITTING, ids=lambda more: repr(more)[:40])
def test_notes_that_a_job_can_have(more: dict[str, Any]) -> None:
    assert job_form.fitting({**NOTES, **more}, FOLDER) == {**NOTES, **more}


@pytest.mark.parametrize("more", OTHERS, ids=lambda more: repr(more)[:40])
def test_notes_that_no_job_has(more: dict[str, Any]) -> None:
    with pytest.raises(ValueError):
        job_form.fitting({**NOTES, **more}, FOLDER)


# --- a job's folder -----------------------------------------------------------------------------


ORDER = "20260102T030405000000-0a1b2c3d-00001"


@pytest.fixture
def folder(tmp_path: Path) -> Beneath:
    one = Beneath(tmp_path) / ID
    for inside in ("held", "out"):
        (one / inside).mkdir(parents=True)
    (one / "held" / "a.png").touch()
    (one / "out" / "a.pdf").touch()
    (one / "out" / ORDER).mkdir()
    return one


def check(folder: Beneath, *, claimed: bool = True) -> None:
    job_form.check_folder(folder, ["a.png"], ["a.pdf"], [ORDER], claimed=claimed)


def test_a_whole_folder_and_one_that_has_just_begun(folder: Beneath) -> None:
    check(folder)
    (folder / "why.txt").touch()
    (folder / "place").touch()
    (folder / "shared").mkdir()
    check(folder)
    (folder / "held" / "a.png").unlink()
    check(folder, claimed=False)
    with pytest.raises(ValueError, match="held lacks a file that was claimed"):
        check(folder)
    for inside in ("held", "out"):
        (folder / inside).rmtree()
    check(folder, claimed=False)


@pytest.mark.parametrize(
    "name", ["held", "out", "held/a.png", "out/a.pdf", f"out/{ORDER}", "why.txt", "place"]
)
def test_a_link_in_the_place_of_something_of_the_jobs_own(folder: Beneath, name: str) -> None:
    path = folder.path / name
    if path.exists():
        path.rename(path.with_name("truly"))
        path.symlink_to("truly")
    else:
        path.symlink_to("held/a.png")
    with pytest.raises(ValueError):
        check(folder, claimed=False)


def test_a_file_in_the_place_of_a_shared_folder(folder: Beneath) -> None:
    (folder / "shared").touch()
    with pytest.raises(ValueError, match="shared is no folder"):
        check(folder)
    assert stat.S_ISREG((folder / "shared").lstat().st_mode)


# --- records and logs ---------------------------------------------------------------------------


RECORD: dict[str, Any] = {
    "job": ID, "at": "2026-01-02T03:04:05Z", "source": {"name": "a.png", "sha256": SHA},
    "film": {"files": {"pdf": "a.pdf"}},
}  # fmt: skip


@pytest.fixture
def records(tmp_path: Path) -> Beneath:
    top = Beneath(tmp_path) / "records"
    (top / "class").mkdir(parents=True)
    return top


def entry_of(records: Beneath, told: Any, more: str = "") -> ledger.Entry | None:
    path = records / "class" / "a.json"
    path.path.write_text(json.dumps(told) + more)
    return ledger.of_record("small", path, records)


def test_a_record_is_read_back(records: Beneath) -> None:
    found = entry_of(records, {**RECORD, "more": 1})
    assert found is not None
    assert (found.job, found.at, found.profile, found.outcome) == (
        ID, RECORD["at"], "small", "made",
    )  # fmt: skip
    assert (found.name, found.sha256, found.stem) == ("class/a.png", SHA, "class/a")
    assert found.about == {"films": [ledger.film_about(("class",), "a", ["a.pdf"], {})]}


@pytest.mark.parametrize(
    ("files", "fits"),
    [
        (many(20, "a.pdf"), True),
        (many(21, "a.pdf"), False),
        ({"x" * 40: "a.pdf"}, True),
        ({"x" * 41: "a.pdf"}, False),
        ({"pdf": "../a.pdf"}, False),
    ],
)
def test_how_many_files_a_record_may_name(
    records: Beneath, files: dict[str, str], *, fits: bool
) -> None:
    assert (entry_of(records, {**RECORD, "film": {"files": files}}) is not None) is fits


@pytest.mark.parametrize(("size", "fits"), [(4 << 20, True), ((4 << 20) + 1, False)])
def test_how_long_a_record_may_be(records: Beneath, size: int, *, fits: bool) -> None:
    blanks = " " * (size - len(json.dumps(RECORD)))
    assert (entry_of(records, RECORD, blanks) is not None) is fits


LINE: dict[str, Any] = {
    **REFUSAL, "job": ID, "at": "2026-01-02T03:04:05Z", "name": "a.png", "sha256": SHA,
}  # fmt: skip


@pytest.mark.parametrize(
    ("more", "fits"),
    [
        ({}, True),
        ({"kept": "a.png", "else": 1}, True),
        ({"sha256": ""}, True),
        ({"sha256": "0a"}, False),
        ({"name": "x" * 20_000}, True),
        ({"name": "x" * 20_001}, False),
        ({"kept": "x" * 20_000}, True),
        ({"kept": "x" * 20_001}, False),
        ({"found": {"value": 3, "unit": "ppi"}, "needed": {"value": "x", "unit": ""}}, True),
        ({"found": {"value": [], "unit": "ppi"}}, False),
        ({"found": 3}, False),
    ],
)
def test_what_a_line_of_the_refusal_log_may_say(more: dict[str, Any], *, fits: bool) -> None:
    found = ledger.of_refusal("small", json.dumps({**LINE, **more}).encode())
    assert (found is not None) is fits
    if found is not None:
        assert (found.job, found.outcome, found.profile) == (ID, "refused", "small")
        assert found.about["say"] == "It is bare."


@pytest.mark.parametrize(("size", "read"), [(1 << 18, True), ((1 << 18) + 1, False)])
def test_how_long_a_line_may_be(tmp_path: Path, size: int, *, read: bool) -> None:
    log = Beneath(tmp_path) / "rejections.jsonl"
    whole = json.dumps(LINE).encode()
    empty = json.dumps({**LINE, "else": ""}).encode()
    long = json.dumps({**LINE, "else": "x" * (size - len(empty))}).encode() + b"\n"
    log.path.write_bytes(long + whole + b"\n")
    found = [ledger.of_refusal("small", line) for line in ledger.lines_of(log)]
    assert sum(one is not None for one in found) == (2 if read else 1)


@pytest.mark.parametrize(
    ("pages", "size", "told"),
    [
        ([1, 10_000], 2000, 2),
        ([0], 1, 0),
        ([10_001], 1, 0),
        ([1], 2001, 0),
        ([1] * 20, 1, 20),
        ([1] * 21, 1, 21),  # the last says how many more
        ([1] * 10_000, 1, 21),
        ([1] * 10_001, 1, 0),
    ],
    ids=lambda value: str(value)[:12],
)
def test_how_many_pages_may_be_told_as_left_out(pages: list[int], size: int, told: int) -> None:
    record = {"left_out": [{"page": page, "reason": "blank", "say": "x" * size} for page in pages]}
    about = ledger.film_about((), "a", ["a.pdf"], record)
    found = about.get("left_out", [])
    assert len(found) == told
    if told > 20:
        more = len(pages) - 20
        assert found[-1] == ("And 1 more page." if more == 1 else f"And {more} more pages.")
