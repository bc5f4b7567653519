from __future__ import annotations

import json
import os
import threading
from pathlib import Path

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, is_network
from filmhand.errors import EnvironmentTrouble, Quantity, Reason, Refused
from filmhand.jobs.job import (
    Decision,
    GangPart,
    Item,
    Job,
    Publication,
    PutAway,
    State,
    TakenFiles,
    whose_film,
)
from filmhand.jobs.recover import RECOVERY
from filmhand.timing.backoff import Backoff
from filmhand.worker.wire import refusal_from_json, refusal_to_json

ID = "20260102T030405-0a1b2c3d"
SHA = "ab" * 32
PROOF = ["0.jpg", SHA]
REFUSAL = {"reason": "moire", "say": "s", "do": "d", "found": None, "needed": None}

SHARED_FILM = {
    "suffix": "",
    "record": {},
    "files": {"pdf": ["0.pdf", SHA]},
    "proof": PROOF,
    "stem": "cafe",
    "member": ID[:-8] + "00000001",
    "art": "a.png",
    "sha256": SHA,
    "earlier": None,
}


def test_every_state_has_a_row_in_the_recovery_table() -> None:
    assert set(RECOVERY) == set(State)
    for row in RECOVERY.values():
        assert row.on_disk
        assert row.then


def test_a_job_survives_its_file(tmp_path: Path) -> None:
    job = Job(
        Beneath(tmp_path) / ID,
        ID,
        "small",
        {"text": "lpi: 25"},
        ("class 4", os.fsdecode(b"\xff")),
        TakenFiles(
            os.fsdecode(b"caf\xe9 \n\x1b.png"),
            ticket="t.ticket.yaml",
            seen={"t.ticket.yaml": [1, 2, 3]},
        ),
        state=State.PUBLISHING,
        publication=Publication(
            films=[{"suffix": "", "record": {}, "files": {"pdf": ["0.pdf", SHA]}, "proof": PROOF}],
            items=[Item("0.pdf", "positives", "a.pdf", SHA)],
        ),
    )
    job.folder.mkdir()
    job.save()
    assert Job.load(job.folder) == job


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
    folder = Beneath(tmp_path) / ID
    folder.mkdir()
    Job(folder, ID, "small", {}, (), TakenFiles("a.png")).save()
    path = folder.path / "job.json"
    path.write_text(path.read_text().replace(*change))
    with pytest.raises(ValueError):
        Job.load(folder)


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
 "sha256": "SHA",
 "refusal": {
  "reason": "moire",
  "say": "s",
  "do": "d",
  "found": null,
  "needed": null
 },
 "at": "2026-01-02T03:04:05Z",
 "earlier": "cafe",
 "stem": "cafe-2",
 "films": [
  {
   "suffix": "",
   "record": {},
   "files": {
    "pdf": [
     "0.pdf",
     "SHA"
    ]
   },
   "proof": [
    "0.jpg",
    "SHA"
   ],
   "stem": "cafe",
   "member": "20260102T030405-00000001",
   "art": "a.png",
   "sha256": "SHA",
   "earlier": null
  }
 ],
 "items": [
  {
   "source": "0.pdf",
   "kind": "positives",
   "name": "a.pdf",
   "sha256": "SHA"
  }
 ],
 "kept": {
  "art": "b.png",
  "ticket": "b.ticket.yaml"
 },
 "logged": true,
 "company": [
  "20260102T030405-00000001",
  "20260102T030405-00000002"
 ],
 "sheet": "cafe-and-1-more"
}
""".replace("SHA", SHA)


def test_a_job_in_hand_from_before_goes_on(tmp_path: Path) -> None:
    """Written by a version in which a job had no parts; all of it is read, and written again."""
    folder = Beneath(tmp_path) / ID
    folder.mkdir()
    path = folder.path / "job.json"
    path.write_text(AS_WRITTEN_BEFORE)
    job = Job.load(folder)
    assert job == Job(
        folder,
        ID,
        "small",
        {"text": "lpi: 25"},
        ("class 4", os.fsdecode(b"\xff")),
        TakenFiles(os.fsdecode(b"caf\xe9.png"), "t.ticket.yaml", None, {"a.png": [1, 2, 3]}),
        State.PUBLISHING,
        2,
        Decision(SHA, REFUSAL, "2026-01-02T03:04:05Z", "cafe"),
        Publication("cafe-2", [SHARED_FILM], [Item("0.pdf", "positives", "a.pdf", SHA)]),
        PutAway({"art": "b.png", "ticket": "b.ticket.yaml"}, logged=True),
        GangPart([ID[:-8] + "00000001", ID[:-8] + "00000002"], "cafe-and-1-more"),
    )
    job.save()
    # In one line, which is written sooner; otherwise to the byte.
    assert path.read_text() == json.dumps(json.loads(AS_WRITTEN_BEFORE)) + "\n"


def test_a_refusal_survives_json() -> None:
    refused = Refused(Reason.MOIRE, "say", "do", found=Quantity(2.5, "mm"))
    again = refusal_from_json(refusal_to_json(refused))
    assert (again.reason, again.say, again.do) == (Reason.MOIRE, "say", "do")
    assert (again.found, again.needed) == (Quantity(2.5, "mm"), None)


def test_folders_are_made_whole_with_the_marker_last(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.ensure(there=lambda: True)
    assert {path.name for path in folders.root.iterdir()} == {
        "drop", "positives", "proofs", "records", "originals", "rejected", ".filmhand",
    }  # fmt: skip
    folders.output("proofs").rmdir()
    with pytest.raises(EnvironmentTrouble, match="connect its disk"):
        folders.ensure(there=lambda: False)
    assert not folders.output("proofs").exists()
    folders.ensure(there=lambda: True)
    assert folders.output("proofs").is_dir()
    with pytest.raises(EnvironmentTrouble, match="--init"):
        Folders(tmp_path / "share", elsewhere=True).ensure(there=lambda: True)


def test_several_hosts_may_make_the_same_folder_at_once(tmp_path: Path) -> None:
    failed: list[BaseException] = []

    def make() -> None:
        try:
            Folders(tmp_path / "small").ensure(there=lambda: True)
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


@pytest.mark.parametrize(
    ("told", "sub", "whose"),
    [
        ("Anna", ("class 4",), "Anna"),
        ("Anna", (), "Anna"),
        ("", ("class 4", "b"), "class 4"),
        (None, ("class 4",), "class 4"),
        (7, (), None),
        (None, (), None),
        ("a\x1b", (), "a\ufffd"),
        ("x" * 300, (), "x" * 255),
    ],
)
def test_whose_a_film_is(told: object, sub: tuple[str, ...], whose: str | None) -> None:
    assert whose_film(told, sub) == whose
