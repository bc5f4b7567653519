"""Held films, killed at every step of theirs, once and twice, and taken over."""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path
from typing import Any

import held_harness
import job_harness
import pytest
import warm_start

from filmhand.disk.folders import Folders
from filmhand.jobs.failpoints import FAILPOINTS_HELD
from filmhand.jobs.job import Job, State
from filmhand.jobs.requests import Asked, ask
from filmhand.jobs.sheets import counted_since
from filmhand.peers.survey import job_folders

ART = {
    "anna/photo.jpg": b"art of anna",
    "anna/photo.jpg.ticket.yaml": b"ticket of anna",
    "anna/two.jpg": b"art two of anna",
    "ben/photo.jpg": b"pages of ben",
    "given up.jpg": b"art that is given up",
}
HOST = "here-00000000"
GANGS = ("gang given up",)
OF_ONE = tuple(step for step in FAILPOINTS_HELD if step not in GANGS)


def drop_all(root: Path) -> list[bytes]:
    for name, data in ART.items():
        path = root / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (1_700_000_000, 1_700_000_000))
    return list(ART.values())


def run(
    root: Path, state: Path, settings: dict[str, Any], *, die: str = "", host: str = HOST
) -> int:
    words = [root, state, host, json.dumps(settings)]
    return warm_start.run(held_harness.__file__, *words, FILMHAND_DIE_AT=die)


def decide(root: Path) -> None:
    """Let all go but one, which is given up; what has happened before changes nothing."""
    folders = Folders(root)
    for folder in job_folders(folders.hidden):
        job = Job.load(folder)
        if "given up" in job.taken.art and job.state is State.HELD:
            ask(folders, Asked.DISCARD, job.id, job_harness.datetime.now(job_harness.UTC))
    for proof in job_harness.files_in(root / "held"):
        if proof.suffix == ".jpg" and "given up" not in proof.name:
            to = root / "release" / proof.relative_to(root / "held")
            to.parent.mkdir(parents=True, exist_ok=True)
            proof.rename(to)


def assert_all_done(root: Path, dropped: list[bytes]) -> None:
    job_harness.assert_invariants_in_hand(root, dropped)
    assert job_harness.files_in(root / "held") == job_harness.files_in(root / "release") == []
    left = [path.relative_to(root / ".filmhand").parts[0] for path in
            job_harness.files_in(root / ".filmhand") if path.name != "alive"]  # fmt: skip
    assert set(left) == {"folder.json", "sheets"}
    films = {path.name for path in job_harness.files_in(root / "positives")}
    assert films == {
        "photo.pdf", "photo.tif", "two.pdf", "two.tif", "photo-p01.pdf", "photo-p01.tif",
        "photo-p02.pdf", "photo-p02.tif",
    }  # fmt: skip
    assert (root / "rejected/given up.jpg").read_bytes() == b"art that is given up"
    lines = (root / "rejected").glob("rejections*.jsonl")
    (line,) = (json.loads(line) for log in lines for line in log.read_bytes().splitlines())
    assert line["reason"] == "discarded"
    counted = [(one.person, one.film, one.sheets) for _, one in counted_since(Folders(root))]
    assert sorted(counted) == [
        ("anna", "anna/photo", 1), ("anna", "anna/two", 1), ("ben", "ben/photo", 2),
    ]  # fmt: skip


@pytest.mark.parametrize("step", OF_ONE)
@pytest.mark.parametrize("deaths", [("1",), ("1", "1"), ("2", "1"), ("3",)])
def test_killed_at_a_step_and_started_again(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root, settings = tmp_path / "small", {"approve": True}
    dropped = drop_all(root)
    died = 0
    for rounds in range(2):
        for count in deaths:
            code = run(root, tmp_path / "state", settings, die=f"{step}:{count}")
            died += code == -signal.SIGKILL
            assert code in {0, -signal.SIGKILL}
            job_harness.assert_invariants_in_hand(root, dropped)
        assert run(root, tmp_path / "state", settings) == 0
        if rounds == 0:
            assert not job_harness.files_in(root / "positives")
            decide(root)
    assert died or (step == "giving up noted" and "1" not in deaths[0])  # that comes once
    assert_all_done(root, dropped)


@pytest.mark.parametrize("step", OF_ONE)
def test_killed_at_a_step_and_adopted_by_another_host(tmp_path: Path, step: str) -> None:
    root, settings = tmp_path / "small", {"approve": True}
    dropped = drop_all(root)
    hosts = ["one-00000001", "two-00000002", "six-00000006", "ten-0000000a"]
    died = []
    for number, host in enumerate(hosts):
        die = step if number % 2 == 0 else ""
        died.append(run(root, tmp_path / host, settings, die=die, host=host) == -signal.SIGKILL)
        if number == 1:
            decide(root)
    assert any(died)
    assert_all_done(root, dropped)


@pytest.mark.parametrize("step", ["letting go noted", "sheets counted", "proof taken from held"])
@pytest.mark.parametrize("deaths", [("1",), ("2", "1"), ("3",)])
def test_a_budget_over_midnight_counts_each_sheet_once(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    days = ["2026-03-01T23:59:59", "2026-03-02T00:00:01", "2026-03-01T23:59:00",
            "2026-03-02T00:01:00", "2026-03-03T00:00:01", "2026-03-04T00:00:01"]  # fmt: skip
    for day in days:
        settings = {"day": 2, "person": 1, "now": day}
        for count in deaths:
            assert run(root, tmp_path / "state", settings, die=f"{step}:{count}") in {0, -9}
            job_harness.assert_invariants_in_hand(root, dropped)
        assert run(root, tmp_path / "state", settings) == 0
        counted = [(on, one) for on, one in counted_since(Folders(root))]
        assert len({one.job for _, one in counted}) == len(counted)
        for on in {on for on, _ in counted}:
            of_day = [one for found, one in counted if found == on]
            assert sum(one.sheets for one in of_day) <= 2
            assert sum(one.sheets for one in of_day if one.person == "anna") <= 1
    # Two sheets of ben's pages are more than a person has a day, so only they wait.
    assert {one.film for _, one in counted if one.person == "anna"} == {"anna/photo", "anna/two"}
    assert sorted(path.name for path in job_harness.files_in(root / "held")) == [
        "photo-p01.jpg", "photo-p02.jpg", "photo.why.txt",
    ]  # fmt: skip


@pytest.mark.parametrize("step", FAILPOINTS_HELD)
@pytest.mark.parametrize("deaths", [("1",), ("1", "1"), ("2",)])
def test_a_shared_sheet_killed_at_a_step(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root, settings = tmp_path / "small", {"approve": True, "gang": 0.3}
    dropped = []
    for name in ("a.png", "b.png", "class/c.png", "class/d.png"):
        path = root / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(f"art {name}".encode())
        dropped.append(path.read_bytes())
    died = 0
    for rounds in range(2):
        for count in deaths:
            code = run(root, tmp_path / "state", settings, die=f"{step}:{count}")
            died += code == -signal.SIGKILL
            job_harness.assert_invariants_in_hand(root, dropped)
        assert run(root, tmp_path / "state", settings) == 0
        if rounds == 0:
            held = root / "held"
            assert (held / "a-and-1-more.jpg").is_file()
            folders = Folders(root)
            for folder in job_folders(folders.hidden):
                job = Job.load(folder)
                if job.gang.members and job.sub:
                    now = job_harness.datetime.now(job_harness.UTC)
                    ask(folders, Asked.DISCARD, job.id, now)
            (held / "a-and-1-more.jpg").rename(root / "release" / "a-and-1-more.jpg")
    assert died or deaths == ("2",)
    assert sorted(path.name for path in job_harness.files_in(root / "positives")) == [
        "a-and-1-more.pdf", "a-and-1-more.tif",
    ]  # fmt: skip
    rejected = [path.name for path in job_harness.files_in(root / "rejected/class")]
    assert rejected == ["c.png", "c.png.why.txt", "d.png", "d.png.why.txt"]
    assert job_harness.files_in(root / "held") == job_harness.files_in(root / "release") == []
    job_harness.assert_invariants_in_hand(root, dropped)
    assert [one.sheets for _, one in counted_since(Folders(root))] == [1]
