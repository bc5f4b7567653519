"""What somebody who can write in a profile's folder leaves in `.filmhand/` for the service to find.

`tests/fuzz/forged_state.py` forges the same by structure, in great number.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import threading
import time
from pathlib import Path
from typing import Any

import job_harness
import pytest

from filmhand.queue.job_queue import JobQueue

HOST, ID = "here-00000000", "20260102T030405-0a1b2c3d"
SHA = job_harness.sha256(b"secret")


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    folder = tmp_path / "outside"
    (folder / "precious").mkdir(parents=True)
    (folder / "precious" / "file").write_bytes(b"precious")
    (folder / "secret").write_bytes(b"secret")
    return folder


def tree(folder: Path) -> dict[str, tuple[Any, ...]]:
    """All that could change below a folder, times and links included."""
    found = {}
    for path in (folder, *sorted(folder.rglob("*"))):
        seen = path.lstat()
        content = path.read_bytes() if path.is_file() else None
        found[str(path)] = (seen.st_mode, seen.st_mtime_ns, seen.st_ctime_ns, content)
    return found


def forged(root: Path, folder: str = ID, host: str = HOST, **told: Any) -> Path:
    """A job in hand with a customer's file, whose notes say what they should not."""
    job = root / ".filmhand" / host / folder
    (job / "held").mkdir(parents=True)
    (job / "out").mkdir()
    (job / "held" / "a.png").write_bytes(b"art of a customer")
    found = (job / "held" / "a.png").stat()
    notes = {
        "schema": "filmhand-job/1", "id": ID, "profile": "small", "snapshot": {"name": "small"},
        "sub": [], "art": "a.png", "ticket": None, "mask": None,
        "seen": {"a.png": [found.st_size, found.st_mtime_ns, found.st_ino]},
        "state": "claimed", "strikes": 0, "sha256": "", "refusal": None, "at": "",
        "earlier": None, "stem": "", "films": [], "items": [], "kept": {}, "logged": False,
        "company": [], "sheet": "",
    } | told  # fmt: skip
    (job / "job.json").write_text(json.dumps(notes))
    return job


FILM = {"suffix": "", "record": {}, "files": {"pdf": ["0.pdf", SHA]}, "proof": ["0.jpg", SHA]}
REFUSAL = {"reason": "blank", "say": "s", "do": "d", "found": None, "needed": None}
ATTACKS: dict[str, dict[str, Any]] = {
    # Its scratch folder is emptied before the job is worked on.
    "removes a folder": {"id": "../../outside/precious"},
    "removes a folder by its whole path": {"id": "{outside}/precious"},
    # The art goes there.
    "puts bytes anywhere": {"state": "retiring", "kept": {"art": "../../../outside/planted"}},
    "puts refused art anywhere": {
        "state": "rejecting", "refusal": REFUSAL, "kept": {"art": "{outside}/planted", "why": "w"},
    },
    # As a film, where everybody may read it.
    "publishes a secret": {
        "state": "publishing", "stem": "film", "films": [FILM],
        "items": [{"source": "{outside}/secret", "kind": "positives", "name": "film.pdf",
                   "sha256": SHA}],
    },
    "publishes anywhere": {
        "state": "publishing", "stem": "film", "films": [FILM],
        "items": [{"source": "0.pdf", "kind": "positives", "name": "../../../outside/planted",
                   "sha256": SHA}],
    },
    "publishes into no output": {
        "state": "publishing", "stem": "film", "films": [FILM],
        "items": [{"source": "0.pdf", "kind": "../../outside", "name": "planted", "sha256": SHA}],
    },
    "fetches from anywhere": {
        "state": "returning", "kept": {"art": "../../../outside/secret", "why": "w"},
        "art": "b.png", "seen": {},
    },
    "comes from elsewhere": {"sub": ["..", "..", "outside"]},
    "has somebody else's ticket": {"ticket": "../../../../../outside/secret"},
    "is two at once": {"state": "claimed", "company": [ID[:-1] + "e"]},
}  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_forged_notes_reach_nothing_outside_and_are_set_aside(
    tmp_path: Path, outside: Path, attack: str
) -> None:
    root, state = tmp_path / "station" / "small", tmp_path / "state"
    said: list[str] = []
    queue = job_harness.make_queue(root, state, say=lambda event, **facts: said.append(event))
    queue.look()
    text = json.dumps(ATTACKS[attack]).replace("{outside}", str(outside))
    job = forged(root, **json.loads(text))
    (job / "out" / "0.pdf").write_bytes(b"secret")
    (root / "drop" / "sound.png").write_bytes(b"art that is sound")
    before = tree(outside)
    queue = job_harness.make_queue(root, state, say=lambda event, **facts: said.append(event))
    job_harness.work_through(queue)
    assert tree(outside) == before
    assert not list((root / "positives").rglob("film.pdf"))
    assert (root / "originals" / "sound.png").read_bytes() == b"art that is sound"
    assert (root / "originals" / "a.png").read_bytes() == b"art of a customer"
    aside = root / ".filmhand" / "set-aside" / ID
    assert json.loads((aside / "job.json").read_bytes())["art"]
    assert said.count("set aside") == 1
    assert any(ID in worry and str(aside.parent) in worry for worry in queue.housekeeping.worries())


@pytest.mark.parametrize("name", ["held", "held/a.png", "out", "shared", "why.txt", "place"])
@pytest.mark.parametrize("to", ["precious", "secret", "nothing"])
def test_a_link_in_a_jobs_folder_is_not_followed(
    tmp_path: Path, outside: Path, name: str, to: str
) -> None:
    root, state = tmp_path / "station" / "small", tmp_path / "state"
    job_harness.make_queue(root, state).look()
    job = forged(root)
    (job / name).rename(job / "was") if (job / name).exists() else None
    (job / name).symlink_to(outside / to)
    before = tree(outside)
    job_harness.work_through(job_harness.make_queue(root, state))
    assert tree(outside) == before
    assert (root / ".filmhand" / "set-aside" / ID).is_dir()
    assert b"secret" not in b"".join(everything(root))


def everything(root: Path) -> list[bytes]:
    return [
        path.read_bytes() for path in root.rglob("*") if path.is_file() and not path.is_symlink()
    ]


def test_one_bad_entry_stops_no_other(tmp_path: Path) -> None:
    """Pipes, folders, noise and odd names of jobs, hosts and signs of life; all else goes on."""
    root, state = tmp_path / "small", tmp_path / "state"
    job_harness.make_queue(root, state).look()
    own, other = root / ".filmhand" / HOST, root / ".filmhand" / "gone-00000001"
    for host in (own, other):
        for number, make in enumerate((os.mkfifo, Path.mkdir, Path.touch)):
            folder = host / f"20260102T030405-0000000{number}"
            folder.mkdir(parents=True)
            make(folder / "job.json")
        for name in ("no job", "20260102T030405-0000000G", "-rf", "\u202e", os.fsdecode(b"\xff")):
            (host / name).mkdir()
        forged(root, "20260102T030405-0000000a", host.name, strikes=10**30)
        os.mkfifo(host / ".alive.new")
    os.mkfifo(other / "alive")
    (root / "drop" / "sound.png").write_bytes(b"art that is sound")
    clock = [0.0]
    queue = job_harness.make_queue(root, state, clock=lambda: clock[0], settle=1.0)
    for _ in range(200):
        clock[0] += 11.0
        queue.look()
        while (task := queue.take()) is not None:
            queue.do(task)
    assert not queue.trouble.why
    assert (root / "originals" / "sound.png").exists()
    assert not other.exists()
    assert [path.name for path in own.iterdir()] == ["alive"]
    kept = sorted(path.name for path in (root / "originals").iterdir())
    assert kept == ["a-2.png", "a.png", "sound.png"]


def test_a_member_that_is_there_twice_is_set_aside(tmp_path: Path) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    job_harness.make_queue(root, state).look()
    gang = root / ".filmhand" / HOST / "20260102T030405-00000001"
    forged(root)
    shutil.copytree(gang.parent / ID, gang / ID)
    (gang / "job.json").write_text("{")
    queue = job_harness.make_queue(root, state)
    job_harness.work_through(queue)
    assert (root / "originals" / "a.png").exists()
    assert {path.name for path in (root / ".filmhand" / "set-aside").iterdir()} == {ID, gang.name}


def test_folders_exchanged_for_links_while_the_service_works(tmp_path: Path, outside: Path) -> None:
    """Somebody renames folders and links to and fro all the time; the art is not lost."""
    root, state = tmp_path / "station" / "small", tmp_path / "state"
    queue = job_harness.make_queue(root, state)
    queue.look()
    for kind in ("drop", "positives", "records", "originals"):
        (root / kind / "class").mkdir()
    art = {b"art %d" % number for number in range(12)}
    for number, data in enumerate(sorted(art)):
        (root / "drop" / ("class" if number % 2 else ".") / f"{number}.png").write_bytes(data)
    before, stop = tree(outside), threading.Event()
    thread = threading.Thread(target=exchange, args=(root, outside, stop))
    thread.start()
    try:
        busy(queue, 4.0)
    finally:
        stop.set()
        thread.join()
    assert tree(outside) == before
    assert b"precious" not in b"".join(everything(root))
    job_harness.work_through(job_harness.make_queue(root, state), seconds=300)
    assert tree(outside) == before
    there = everything(root)
    assert all(there.count(data) == 1 for data in art)


def exchange(root: Path, outside: Path, stop: threading.Event) -> None:
    """Each of these folders is a link to a folder outside for a moment, again and again."""
    trap, aside = root / "trap", root / "aside"
    trap.symlink_to(outside / "precious")
    own = root / ".filmhand" / HOST
    while not stop.is_set():
        jobs = [path / "held" for path in own.glob("2*")] if own.is_dir() else []
        places = [root / kind / "class" for kind in ("drop", "positives", "records", "originals")]
        for place in (*places, *jobs, *(path.parent for path in jobs), own, root / "positives"):
            with contextlib.suppress(OSError):
                place.rename(aside)
                try:
                    trap.rename(place)
                    time.sleep(0)
                    place.rename(trap)
                finally:
                    _back(aside, place)


def _back(aside: Path, place: Path) -> None:
    """The folder takes its name again; what was made there meanwhile is put into it."""
    if place.is_dir() and not place.is_symlink():
        for path in place.iterdir():
            path.rename(aside / f"{time.monotonic_ns()}-{path.name}")
        place.rmdir()
    aside.rename(place)


def busy(queue: JobQueue, seconds: float) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        queue.look()
        while (task := queue.take()) is not None:
            queue.do(task)
        queue.trouble.end()  # what it met is gone in a moment
