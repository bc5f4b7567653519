"""The files that tell of a station: when they are written, and what a command makes of them."""

from __future__ import annotations

import hashlib
import json
import os
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk import atomic
from filmhand.disk.folders import Folders
from filmhand.jobs.job import Job, State, TakenFiles
from filmhand.page import status_page as page_module
from filmhand.peers.host import Lock, host_id
from filmhand.service import status as module
from filmhand.service.status import (
    StatusFiles,
    default_state,
    find_state,
    folders_told,
    for_person,
    leave_pointer,
    people_of,
    read_status,
)


class Bank:
    """A station's files on a clock of the test's; `writes` counts those of each name."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.station, self.state = folder / "station", folder / "state"
        (self.station / ".filmhand").mkdir(parents=True)
        self.now = 100.0
        self.there = True
        self.said: list[tuple[str, str]] = []
        self.writes: list[str] = []
        self.error: OSError | None = None
        write = atomic.write_atomic

        def counted(path: Any, data: bytes, **options: Any) -> None:
            self.writes.append(path.name)
            if self.error is not None:
                raise self.error
            assert options.pop("durable") is False
            write(path, data, durable=False, **options)

        monkeypatch.setattr(module.atomic, "write_atomic", counted)
        monkeypatch.setattr(page_module, "status_page", lambda told: f"page {told['n']}\ud800")
        self.files = StatusFiles(
            self.station, self.state, lambda: self.now,
            lambda event, **facts: self.said.append((event, facts["file"])),
            there=lambda: self.there,
        )  # fmt: skip

    def write(self, number: int, after: float = 1.0) -> list[str]:
        """Which files are written."""
        self.now += after
        self.writes.clear()
        self.files.write({"n": number, "at": self.now})
        self.files.finish(10)
        return sorted(self.writes)


@pytest.fixture
def bank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bank:
    return Bank(tmp_path, monkeypatch)


BOTH = ["status.html", "status.json"]


def test_files_are_written_when_something_changed_and_now_and_then(bank: Bank) -> None:
    assert bank.write(1) == BOTH
    assert json.loads((bank.state / "status.json").read_bytes()) == {"n": 1, "at": 101.0}
    assert (bank.station / "status.html").read_bytes() == b"page 1?"
    assert bank.write(1) == []
    assert bank.write(2) == BOTH
    assert bank.write(2, 11.9) == []
    assert bank.write(2, 0.1) == BOTH
    assert [one.name for one in (bank.station / ".filmhand").iterdir()] == []


def test_the_page_waits_for_the_station(bank: Bank) -> None:
    bank.there = False
    assert bank.write(1) == ["status.json"]
    assert bank.write(1) == []
    bank.there = True
    assert bank.write(1) == ["status.html"]
    assert bank.write(1) == []


def test_a_page_that_hangs_is_written_when_the_share_answers(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    free, write = threading.Event(), bank.files._write_page

    def slowly(told: dict[str, Any]) -> None:
        free.wait(600)
        write(told)

    monkeypatch.setattr(bank.files, "_write_page", slowly)
    monkeypatch.setattr(bank.files, "finish", lambda seconds: None)
    assert bank.write(1) == ["status.json"]
    assert bank.write(2) == ["status.json"]  # a second one waits for the first
    free.set()
    bank.files._page.wait(120)
    bank.files.write({"n": 2, "at": bank.now})
    bank.files._page.wait(120)
    assert (bank.station / "status.html").read_bytes() == b"page 2?"


def test_trouble_is_said_once_for_each_file_and_each_time(bank: Bank) -> None:
    bank.error = OSError(28, "full")
    for number in range(3):
        bank.write(number)
    assert sorted(bank.said) == [("status not written", name) for name in BOTH]
    bank.error = None
    bank.write(4)
    bank.error = OSError(28, "full")
    bank.write(5)
    assert len(bank.said) == 4


# --- what a command makes of them ---------------------------------------------------------------


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Path, Path]]:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "states"))
    station, state = tmp_path / "my station!", tmp_path / "state"
    (station / ".filmhand").mkdir(parents=True)
    state.mkdir()
    yield station, state


def status(station: Path, **more: Any) -> dict[str, Any]:
    profile = {"name": "small", "folder": str(station / "small"), "working": ["a"], "waiting": [],
               "waiting_count": 0, "state": "working"}  # fmt: skip
    return {
        "schema": "filmhand-status/1", "running": True, "profiles": [profile],
        "counts": {"waiting": 9, "working": 1, "made": 7, "refused": 2}, **more,
    }  # fmt: skip


def test_what_lies_in_drop_is_told_while_no_service_runs(places: tuple[Path, Path]) -> None:
    station, state = places
    (station / "small" / "drop" / "class").mkdir(parents=True)
    for name in ("b.png", "class/a.png"):
        (station / "small" / "drop" / name).touch()
    (state / "status.json").write_text(json.dumps(status(station)))
    told = read_status(station, state)
    assert told["running"] is False
    assert told["counts"] == {"waiting": 2, "working": 0, "made": 7, "refused": 2}
    (profile,) = told["profiles"]
    assert (profile["state"], profile["working"], profile["waiting_count"]) == (
        "not running",
        [],
        2,
    )
    assert {one["name"] for one in profile["waiting"]} == {"b.png", "class/a.png"}
    lock = Lock(state)
    told = read_status(station, state)
    lock.release()
    assert told == status(station)


def test_what_was_taken_before_the_service_was_killed_is_not_lost_sight_of(
    places: tuple[Path, Path],
) -> None:
    station, state = places
    folders = Folders(station / "small")
    folders.make()
    (station / "small" / "drop" / "b.png").touch()
    for art, how in (("a.png", State.CLAIMED), ("h.png", State.HELD)):
        own = f"20260301T100000-0000000{how is State.HELD:d}"
        folder = folders.hidden / "here-00000000" / own
        folder.mkdir(parents=True)
        job = Job(folder, own, "small", {}, ("class",), TakenFiles(art))
        job.held.mkdir()
        (job.held / art).touch()
        job.state = how
        job.save()
    before = status(station)
    before["profiles"][0]["held"] = [{"job": "20260301T100000-00000001"}]  # told of as held
    (state / "status.json").write_text(json.dumps(before))
    told = read_status(station, state)
    assert told["counts"]["waiting"] == 2
    (profile,) = told["profiles"]
    assert [one["name"] for one in profile["waiting"]] == ["class/a.png", "b.png"]
    assert "goes on with it when it runs" in profile["waiting"][0]["why"]


def test_five_hundred_names_that_wait_are_told(places: tuple[Path, Path]) -> None:
    station, state = places
    (station / "small" / "drop").mkdir(parents=True)
    for number in range(501):
        (station / "small" / "drop" / f"{number}.png").touch()
    (state / "status.json").write_text(json.dumps(status(station)))
    (profile,) = read_status(station, state)["profiles"]
    assert (len(profile["waiting"]), profile["waiting_count"]) == (500, 501)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"schema": "filmhand-status/2"}'])
def test_what_is_no_status_is_as_none(places: tuple[Path, Path], text: str) -> None:
    station, state = places
    (state / "status.json").write_text(text)
    told = read_status(station, state)
    assert told["schema"] == "filmhand-status/1"
    assert (told["profiles"], told["made"], told["refused"], told["faults"]) == ([], [], [], [])
    assert told["counts"] == {"waiting": 0, "working": 0, "made": 0, "refused": 0}
    assert (told["station"], told["station_name"]) == (str(station), "my station!")
    assert folders_told(state) == {}


def test_the_folders_that_profiles_had(places: tuple[Path, Path]) -> None:
    station, state = places
    (state / "status.json").write_text(json.dumps(status(station)))
    assert folders_told(state) == {"small": station / "small"}
    assert folders_told(state / "gone") == {}


def test_the_default_state_is_named_after_the_station(
    places: tuple[Path, Path], tmp_path: Path
) -> None:
    station, _ = places
    digest = hashlib.sha256(os.fsencode(station)).hexdigest()[:8]
    assert default_state(station) == tmp_path / "states" / "filmhand" / f"my-station-{digest}"
    assert default_state(Path("/")).name.startswith("station-")
    (tmp_path / "link").symlink_to(station)
    assert default_state(tmp_path / "link") == default_state(station)


def test_the_state_of_the_service_that_runs_or_ran_last(places: tuple[Path, Path]) -> None:
    station, state = places
    assert find_state(station) == default_state(station)
    leave_pointer(station, state, host_id(state))
    (state / "status.json").write_text("{}")
    assert find_state(station) == state  # the only one that ever wrote
    default = default_state(station)
    default.mkdir(parents=True)
    (default / "status.json").write_text("{}")
    os.utime(default / "status.json", (10**9, 10**9))
    assert find_state(station) == state
    lock = Lock(default)
    assert find_state(station) == default
    lock.release()
    os.utime(state / "status.json", (10**8, 10**8))
    assert find_state(station) == default


@pytest.mark.parametrize(
    ("told", "believed"),
    [
        ({}, True),
        ({"computer": "another"}, False),
        ({"state": "state"}, False),
        ({"state": "x" * 5000}, False),
        ({"more": 1}, False),
    ],
)
def test_which_pointers_are_believed(
    places: tuple[Path, Path], told: dict[str, Any], *, believed: bool
) -> None:
    station, state = places
    (state / "status.json").write_text("{}")
    pointer = station / ".filmhand" / f"{host_id(state)}.json"
    pointer.write_text(json.dumps({"state": str(state), "computer": socket.gethostname(), **told}))
    assert (find_state(station) == state) is believed


def test_a_pointer_into_the_station_or_of_another_host_is_not_believed(
    places: tuple[Path, Path],
) -> None:
    station, state = places
    inside = station / "state"
    inside.mkdir()
    for folder, name in ((inside, host_id(inside)), (state, "other-00000000")):
        (folder / "status.json").write_text("{}")
        leave_pointer(station, folder, name)
    host_id(state)
    assert find_state(station) == default_state(station)


def test_a_persons_own_part() -> None:
    def named(*names: str) -> list[dict[str, Any]]:
        return [{"name": name, "why": "it is next"} for name in names]

    told = {
        "running": True, "faults": ["f"], "counts": {"made": 90},
        "profiles": [{
            "name": "small", "waiting": named("Class 4/a.png", "b.png", "class 40/c.png"),
            "waiting_count": 3, "working": ["class 4/d/e.png", "class.png"],
            "in_work": named("class 4/d/e.png", "class.png"), "left_alone": [],
        }],
        "made": [
            {"name": "x.png", "for": "CLASS 4"}, {"name": "class 4/y.png", "for": "Ann"},
            {"name": "class 4/z.png", "for": "class 4"},
        ],
        "refused": [{"name": "class 4/r.png", "for": "class 4"}, {"name": "s.png", "for": None}],
    }  # fmt: skip
    mine = for_person(told, "class 4")
    assert mine["counts"] == {"waiting": 1, "working": 1, "made": 2, "refused": 1}
    (part,) = mine["profiles"]
    assert [one["name"] for one in part["waiting"]] == ["Class 4/a.png"]
    assert (part["waiting_count"], part["working"]) == (1, ["class 4/d/e.png"])
    assert [one["name"] for one in mine["made"]] == ["x.png", "class 4/z.png"]
    assert [one["name"] for one in mine["refused"]] == ["class 4/r.png"]
    assert mine["faults"] == ["f"]
    assert people_of(told) == ["Ann", "CLASS 4", "class 40"]
    assert for_person(told, "nobody")["counts"] == dict.fromkeys(mine["counts"], 0)
