"""Putting away costs the same whatever lies there already."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))

import job_harness

from filmhand.disk.beneath import Beneath
from filmhand.disk.file_names import is_refusal_log
from filmhand.jobs import put_away
from filmhand.jobs.job import Job, TakenFiles


def fill(folder: Path, count: int, *, end: str = "") -> None:
    folder.mkdir(parents=True)
    for number in range(1, count + 1):
        name = "poster.png" if number == 1 else f"poster-{number}.png"
        (folder / f"{name}{end}").write_bytes(b"kept")


@pytest.mark.parametrize("end", ["", ".why.txt", ".ticket.yaml"])
def test_a_name_that_came_some_hundred_times(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: str
) -> None:
    fill(tmp_path / "rejected", 300, end=end)
    asked: list[str] = []
    truly = os.path.lexists

    def counted(path: Path) -> bool:
        asked.append(path.name)
        return truly(path)

    monkeypatch.setattr(os.path, "lexists", counted)
    job = Job(tmp_path, "j", "small", {}, (), TakenFiles("poster.png", "poster.png.ticket.yaml"))
    kept = put_away._free_names(job, tmp_path / "rejected", True)
    assert kept == {
        "art": "poster-301.png",
        "ticket": "poster-301.png.ticket.yaml",
        "why": "poster-301.png.why.txt",
    }
    assert len(asked) < 90


def test_the_hundredth_of_a_name_is_put_beside_the_others(tmp_path: Path) -> None:
    root = tmp_path / "small"
    fill(root / "originals", 100)
    fill(root / "rejected", 100)
    before = {path: path.read_bytes() for path in job_harness.files_in(root)}
    queue = job_harness.make_queue(root, tmp_path / "state")
    for data in (b"art", b"refuse"):
        queue.look()
        (root / "drop" / "poster.png").write_bytes(data)
        job_harness.work_through(queue)
    assert (root / "originals" / "poster-101.png").read_bytes() == b"art"
    assert (root / "rejected" / "poster-101.png").read_bytes() == b"refuse"
    assert all(path.read_bytes() == data for path, data in before.items())


def test_a_refusal_does_not_list_what_was_refused_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only after an interruption is the log searched for a line that may be there."""
    searched: list[Path] = []
    truly = Path.glob

    def counted(self: Path, pattern: str) -> object:
        searched.append(self)
        return truly(self, pattern)

    root = tmp_path / "small"
    queue = job_harness.make_queue(root, tmp_path / "state")
    queue.look()
    monkeypatch.setattr(Path, "glob", counted)
    (root / "drop" / "poster.png").write_bytes(b"refuse")
    job_harness.work_through(queue)
    assert searched == []
    monkeypatch.undo()
    job_harness.assert_invariants(root, [b"refuse"])


@pytest.mark.parametrize(("data", "kind"), [(b"art", "originals"), (b"refuse", "rejected")])
def test_a_ticket_in_other_capitals_goes_with_its_art_under_the_name_it_came_with(
    tmp_path: Path, data: bytes, kind: str
) -> None:
    root = tmp_path / "small"
    queue = job_harness.make_queue(root, tmp_path / "state")
    queue.look()
    art, ticket = "caf\u00e9.png", "CAFE\u0301.png.Ticket.yaml"
    for number in (1, 2):
        (root / "drop" / ticket).write_bytes(b"lpi: 30")
        (root / "drop" / art).write_bytes(data + b" %d" % number)
        job_harness.work_through(queue)
    kept = {path.name for path in job_harness.files_in(root / kind)}
    numbered = {"caf\u00e9-2.png", "CAFE\u0301-2.png.Ticket.yaml"}
    assert {art, ticket} | numbered <= kept
    assert job_harness.files_in(root / "drop") == []


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("rejections.jsonl", "rejections-art.jsonl"),
        ("Rejections.2025.JSONL", "Rejections-art.2025.JSONL"),
        ("rejections..jsonl", "rejections-art..jsonl"),
    ],
)
def test_refused_art_never_takes_the_name_of_a_log(tmp_path: Path, name: str, kept: str) -> None:
    """Nor one with so high a number that there is no room for its name."""
    folder = Beneath(tmp_path) / "rejected"
    folder.mkdir()
    job = Job(Beneath(tmp_path) / "j", "j", "small", {}, (), TakenFiles(name))
    job.taken.ticket = f"{name.upper()}.ticket.yaml"
    found = put_away._free_names(job, folder, True)
    own = kept.partition("-art")[2]
    assert found == {
        "art": kept,
        "ticket": f"REJECTIONS-art{own.upper()}.ticket.yaml",
        "why": f"{kept}.why.txt",
    }
    assert not is_refusal_log(kept)
    assert put_away._free_names(job, folder, False) == {"art": name, "ticket": job.taken.ticket}
    (folder / f"{kept}.why.txt").touch()
    again = put_away._free_names(job, folder, True)["art"]
    assert "-2" in again and not is_refusal_log(again)
