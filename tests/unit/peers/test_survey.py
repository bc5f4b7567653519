"""What is told of other hosts, of jobs that stand still, and of what was forgotten in drop."""

from __future__ import annotations

import errno
import json
import os
import re
import socket
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.peers import host, survey

ONE, TWO, THREE = (f"20260101T000000-0000000{number}" for number in (1, 2, 3))
NOTES = {
    "schema": "filmhand-job/1", "profile": "small", "snapshot": {}, "sub": ["class"],
    "art": "a.png", "state": "claiming",
}  # fmt: skip
NOW = 2_000_000_000.0


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    one = Folders(tmp_path / "small")
    one.make()
    return one


def aged(path: Beneath, seconds: float) -> None:
    os.utime(path.path, (NOW - seconds, NOW - seconds))


def job(folders: Folders, name: str, identity: str, *inside: str) -> Beneath:
    folder = (folders.hidden / name).joinpath(identity, *inside)
    folder.mkdir(parents=True)
    return folder


# --- hosts --------------------------------------------------------------------------------------


def test_each_host_with_its_last_sign_and_its_jobs(folders: Folders) -> None:
    assert survey.hosts_seen(folders, NOW) == []
    job(folders, "far-00000001", TWO)
    job(folders, "far-00000001", ONE)
    (folders.hidden / "far-00000001" / "no job").mkdir()
    (folders.hidden / "far-00000001" / THREE).touch()  # no folder
    job(folders, "mute-00000002", ONE)
    for name, seconds in (("far-00000001", 30), ("ahead-00000003", -5)):
        host.sign_of_life(folders.hidden, name)
        aged(folders.hidden / name / "alive", seconds)
    dead = json.loads(host.last_sign(folders.hidden, "far-00000001"))
    (folders.hidden / "dead-00000004").mkdir()
    dead_one = folders.hidden / "dead-00000004" / "alive"
    dead_one.path.write_text(json.dumps({**dead, "pid": 2**31}))
    aged(dead_one, 7)
    assert survey.hosts_seen(folders, NOW) == [
        survey.HostSeen("ahead-00000003", 0.0, False, ()),
        survey.HostSeen("dead-00000004", 7.0, True, ()),
        survey.HostSeen("far-00000001", 30.0, False, (ONE, TWO)),
        survey.HostSeen("mute-00000002", None, False, (ONE,)),
    ]


def test_the_time_is_that_of_the_file_system(folders: Folders) -> None:
    before = folders.hidden.names()
    told = survey.file_system_time(folders.hidden)
    assert folders.hidden.names() == before
    (folders.hidden / "now").touch()
    assert 0 <= (folders.hidden / "now").lstat().st_mtime - told < 60
    with pytest.raises(OSError, match="No such file"):
        survey.file_system_time(folders.hidden / "gone")


@pytest.mark.parametrize(
    ("name", "wanted"),
    [("x" * 50, "x" * 40), (" ..é.print shop..", "print-shop"), ("-", "host"), ("A_b-9", "A_b-9")],
)
def test_what_a_computer_is_called(monkeypatch: pytest.MonkeyPatch, name: str, wanted: str) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: name)
    one, two = host.fresh_id(), host.fresh_id()
    assert one != two
    assert re.fullmatch(re.escape(wanted) + "-[0-9a-f]{8}", one)


# --- signs of life ------------------------------------------------------------------------------


def test_trouble_of_the_disk_is_no_silence(
    folders: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever cannot be read for now has not fallen silent."""

    def fail(path: Beneath, most: int) -> bytes:
        raise OSError(errno.EIO, "broken")

    assert host.last_sign(folders.hidden, "far-00000001") == b""
    (folders.hidden / "far-00000001").mkdir()
    (folders.hidden / "far-00000001" / "alive").path.symlink_to("/etc/passwd")
    assert host.last_sign(folders.hidden, "far-00000001") == b""
    monkeypatch.setattr(Beneath, "read_bytes", fail)
    with pytest.raises(OSError, match="broken"):
        host.last_sign(folders.hidden, "far-00000001")


@pytest.mark.parametrize(("size", "read"), [(4096, True), (4097, False)])
def test_how_long_a_sign_may_be(folders: Folders, size: int, *, read: bool) -> None:
    (folders.hidden / "far-00000001").mkdir()
    (folders.hidden / "far-00000001" / "alive").path.write_bytes(b"x" * size)
    assert bool(host.last_sign(folders.hidden, "far-00000001")) is read


def sign(**more: Any) -> bytes:
    """A sign of a process of this boot that never was."""
    data = {"nonce": "0" * 16, "pid": 2**31, "started": "1", "where": host._where()}
    return json.dumps({**data, **more}).encode()


@pytest.mark.parametrize(
    ("more", "dead"),
    [
        ({}, True),
        ({"pid": 2**32, "started": "1" * 20, "else": 1}, True),
        ({"pid": 2**32 + 1}, False),
        ({"pid": 0}, False),
        ({"pid": os.getpid(), "started": host._started(os.getpid())}, False),
        ({"pid": os.getpid(), "started": "1"}, True),  # the number is another process's now
        ({"started": "1" * 21}, False),
        ({"started": None}, False),
        ({"where": None}, False),
        ({"where": "another boot"}, False),
        ({"where": "x" * 201}, False),
        ({"nonce": "0" * 15}, False),
    ],
)
def test_who_is_certainly_dead(more: dict[str, Any], *, dead: bool) -> None:
    if host._where() is None:
        pytest.skip("this system does not tell its boot")
    assert host.certainly_dead(sign(**more)) is dead


def test_where_a_process_is_cannot_be_told_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> str:
        raise OSError

    monkeypatch.setattr(host.Path, "read_text", fail)
    assert (host._where(), host._started(os.getpid())) == (None, None)
    monkeypatch.setattr(host.Path, "read_text", lambda *_, **__: "1 (a b) S")
    assert host._started(1) is None


# --- jobs ---------------------------------------------------------------------------------------


def test_jobs_that_nothing_was_noted_of_for_an_hour(folders: Folders) -> None:
    for identity, folder_age, notes_age in ((ONE, 7200, 3600), (TWO, 7200, 3599), (THREE, 3600, 0)):
        folder = job(folders, "far-00000001", identity)
        if identity != THREE:
            (folder / "job.json").path.write_text(json.dumps({**NOTES, "id": identity}))
            aged(folder / "job.json", notes_age)
        aged(folder, folder_age)
    assert survey.stuck_jobs(folders, NOW) == [
        ("class/a.png", "claiming", 3600.0),
        (THREE, "without notes", 3600.0),
    ]


def test_all_jobs_in_hand_also_those_in_gangs_of_gangs(folders: Folders) -> None:
    """Members lie in a gang's folder, and those without room in that of the next one in it."""
    job(folders, "far-00000001", ONE, TWO, THREE)
    four, five = ONE[:-1] + "4", ONE[:-1] + "5"
    job(folders, "near-00000002", four, "held")
    job(folders, "far-00000001", ONE, TWO, THREE, five)
    assert survey.jobs_in_hand(folders) == {ONE, TWO, THREE, four}
    found = [folder.name for folder in survey.job_folders(folders.hidden)]
    assert found == [ONE, TWO, THREE, four]


# --- noise --------------------------------------------------------------------------------------


def test_downloads_that_were_forgotten_in_drop(folders: Folders) -> None:
    (folders.drop / "sub").mkdir()
    (folders.drop / "@eaDir").mkdir()
    for name, seconds in (
        ("a.png.part", 86_400),
        ("b.png.part", 86_399),
        ("sub/c.crdownload", 10**6),
        ("@eaDir/d.part", 10**6),
        (".e.part", 10**6),
        ("f.png", 10**6),
    ):
        path = folders.drop.joinpath(*name.split("/"))
        path.touch()
        aged(path, seconds)
    assert survey.old_noise(folders, NOW) == ["a.png.part", "sub/c.crdownload"]
    for number in range(25):
        path = folders.drop / f"{number}.part"
        path.touch()
        aged(path, 10**6)
    assert len(survey.old_noise(folders, NOW)) == 20
