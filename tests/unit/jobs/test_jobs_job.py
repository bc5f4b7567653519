from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from filmhand.disk.folders import Folders, is_network
from filmhand.errors import EnvironmentTrouble, Quantity, Reason, Refused
from filmhand.jobs.job import Decision, GangPart, Item, Job, Publication, PutAway, State, TakenFiles
from filmhand.jobs.recover import RECOVERY
from filmhand.timing.backoff import Backoff
from filmhand.worker.wire import refusal_from_json, refusal_to_json


def test_every_state_has_a_row_in_the_recovery_table() -> None:
    assert set(RECOVERY) == set(State)
    for row in RECOVERY.values():
        assert row.on_disk
        assert row.then


def test_a_job_survives_its_file(tmp_path: Path) -> None:
    job = Job(
        tmp_path,
        "j",
        "small",
        {"text": "lpi: 25"},
        ("class 4", os.fsdecode(b"\xff")),
        TakenFiles(os.fsdecode(b"caf\xe9 \n\x1b.png"), ticket="t", seen={"t": [1, 2, 3]}),
        state=State.PUBLISHING,
        publication=Publication(items=[Item("0.pdf", "positives", "a.pdf", "x")]),
    )
    job.save()
    assert Job.load(tmp_path) == job


@pytest.mark.parametrize(
    "change",
    [
        ("filmhand-job/1", "filmhand-job/9"),
        ("claiming", "sleeping"),
        ('"art": "a.png"', '"art": "../a.png"'),
        ('"art": "a.png"', '"art": ".."'),
        ('"art": "a.png"', '"paint": "a.png"'),
        ("{", "["),
    ],
)
def test_a_spoiled_file_is_a_value_error(tmp_path: Path, change: tuple[str, str]) -> None:
    Job(tmp_path, "j", "small", {}, (), TakenFiles("a.png")).save()
    path = tmp_path / "job.json"
    path.write_text(path.read_text().replace(*change))
    with pytest.raises(ValueError):
        Job.load(tmp_path)


AS_WRITTEN_BEFORE = """\
{
 "schema": "filmhand-job/1",
 "id": "20260102T030405-0a1b2c3d",
 "profile": "small",
 "snapshot": {
  "text": "lpi: 25"
 },
 "sub": [
  "class 4",
  "\\udcff"
 ],
 "art": "caf\\udce9.png",
 "ticket": "t.ticket.yaml",
 "mask": null,
 "seen": {
  "a.png": [
   1,
   2,
   3
  ]
 },
 "state": "publishing",
 "strikes": 2,
 "sha256": "ab",
 "refusal": {
  "reason": "moire"
 },
 "at": "2026-01-02T03:04:05Z",
 "earlier": "cafe",
 "stem": "cafe-2",
 "films": [
  {
   "suffix": "",
   "files": {
    "pdf": [
     "0.pdf",
     "x"
    ]
   }
  }
 ],
 "items": [
  {
   "source": "0.pdf",
   "kind": "positives",
   "name": "a.pdf",
   "sha256": "x"
  }
 ],
 "kept": {
  "art": "b.png"
 },
 "logged": true,
 "company": [
  "m1",
  "m2"
 ],
 "sheet": "cafe-and-1-more"
}
"""


def test_a_job_in_hand_from_before_goes_on(tmp_path: Path) -> None:
    """Written by a version in which a job had no parts; it reads and writes the same bytes."""
    path = tmp_path / "job.json"
    path.write_text(AS_WRITTEN_BEFORE)
    job = Job.load(tmp_path)
    assert job == Job(
        tmp_path,
        "20260102T030405-0a1b2c3d",
        "small",
        {"text": "lpi: 25"},
        ("class 4", os.fsdecode(b"\xff")),
        TakenFiles(os.fsdecode(b"caf\xe9.png"), "t.ticket.yaml", None, {"a.png": [1, 2, 3]}),
        State.PUBLISHING,
        2,
        Decision("ab", {"reason": "moire"}, "2026-01-02T03:04:05Z", "cafe"),
        Publication(
            "cafe-2",
            [{"suffix": "", "files": {"pdf": ["0.pdf", "x"]}}],
            [Item("0.pdf", "positives", "a.pdf", "x")],
        ),
        PutAway({"art": "b.png"}, logged=True),
        GangPart(["m1", "m2"], "cafe-and-1-more"),
    )
    job.save()
    assert path.read_text() == AS_WRITTEN_BEFORE


def test_a_refusal_survives_json() -> None:
    refused = Refused(Reason.MOIRE, "say", "do", found=Quantity(2.5, "mm"))
    again = refusal_from_json(refusal_to_json(refused))
    assert (again.reason, again.say, again.do) == (Reason.MOIRE, "say", "do")
    assert (again.found, again.needed) == (Quantity(2.5, "mm"), None)


def test_folders_are_made_whole_with_the_marker_last(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.ensure(there=True)
    assert {path.name for path in folders.root.iterdir()} == {
        "drop", "positives", "proofs", "records", "originals", "rejected", ".filmhand",
    }  # fmt: skip
    folders.output("proofs").rmdir()
    with pytest.raises(EnvironmentTrouble, match="connect its disk"):
        folders.ensure(there=False)
    assert not folders.output("proofs").exists()
    folders.ensure(there=True)
    assert folders.output("proofs").is_dir()
    with pytest.raises(EnvironmentTrouble, match="--init"):
        Folders(tmp_path / "share", elsewhere=True).ensure(there=True)


def test_several_hosts_may_make_the_same_folder_at_once(tmp_path: Path) -> None:
    failed: list[BaseException] = []

    def make() -> None:
        try:
            Folders(tmp_path / "small").ensure(there=True)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=make) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []


@pytest.mark.parametrize(
    ("path", "network"),
    [("/mnt/nas/station", True), ("/mnt/nas2", False), ("/mnt/my disk/x", True), ("/home", False)],
)
def test_network_file_systems_by_the_mount_table(tmp_path: Path, path: str, network: bool) -> None:
    mounts = tmp_path / "mountinfo"
    mounts.write_text(
        "21 1 8:1 / / rw,relatime - ext4 /dev/sda1 rw\n"
        "40 21 0:50 / /mnt/nas rw shared:1 - cifs //nas/share rw\n"
        "41 21 0:51 / /mnt/nas2 rw - tmpfs tmpfs rw\n"
        "42 21 0:52 / /mnt/my\\040disk rw - fuse.sshfs host: rw\n"
    )
    assert is_network(Path(path), mounts) is network


@pytest.mark.parametrize(
    "name", ["B\u00fccher", "two\u00a0words", "lines\u2028apart", "caf\udce9", "a\\b"]
)
def test_network_file_systems_by_any_name(tmp_path: Path, name: str) -> None:
    """The table has the name's own bytes; a name that is no text must not end the looking."""
    mounts = tmp_path / "mountinfo"
    told = os.fsencode(name).replace(b"\\", rb"\134")
    mounts.write_bytes(
        b"21 1 8:1 / / rw,relatime - ext4 /dev/sda1 rw\n"
        b"40 21 0:50 / /mnt/%b rw - nfs4 nas:/ rw\n" % told
    )
    assert is_network(Path("/mnt", name, "station"), mounts)
    assert not is_network(Path("/home"), mounts)


def test_a_system_without_a_mount_table(tmp_path: Path) -> None:
    assert not is_network(tmp_path, tmp_path / "nothing")


def test_pauses_that_follow_each_other_get_longer() -> None:
    now = [0.0]
    pause = Backoff(lambda: now[0])
    pause.begin("full: a")
    pause.begin("full: b")  # at the same time: counts once
    now[0] = 4.9
    assert pause.holds()
    now[0] = 5.1
    assert not pause.holds()
    pause.begin("gone")
    now[0] = 15.0
    assert pause.holds()  # the second pause is ten seconds
    pause.end()
    pause.begin("full: a")
    now[0] = 20.1
    assert not pause.holds()
