"""Sets of films, killed at any step: whole or not there, printed in one run, approved as one."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from itertools import groupby
from pathlib import Path
from threading import Thread

import held_harness
import job_harness
import print_harness
import pytest
import warm_start
from print_harness import FolderPrinter, orders
from test_spool_killed import drop_all, run

from filmhand.disk.folders import Folders
from filmhand.jobs.failpoints import FAILPOINTS_HELD, FAILPOINTS_PRINT
from filmhand.jobs.job import Job, State
from filmhand.jobs.requests import Asked, ask
from filmhand.jobs.sheets import counted_since
from filmhand.peers.survey import job_folders
from filmhand.queue.job_queue import JobQueue

FILES = {
    "a first.png": b"art that comes first",
    "class/poster.png": b"set of three inks",
    "class/poster.tif": b"sets on two pages",
    "z last.png": b"art that comes last",
}
OF_SETS = ["films staged", "names recorded", "record published", "proof published",
           "film published", "publishing recorded", "art put away"]  # fmt: skip
TO_PRINT = {name: data + b" to the printer" for name, data in FILES.items()} | {
    "a first.png": b"print this first to the printer",
    "z last.png": b"print this last to the printer",
}
SET = ["-1-red", "-2-blue", "-3-black"]


def assert_whole_or_nothing(root: Path) -> None:
    """No film of a set without records and proofs of all of it."""
    for film in job_harness.files_in(root / "positives" / "class"):
        stem = next(film.stem.removesuffix(end) for end in SET if film.stem.endswith(end))
        for end in SET:
            assert (root / "records/class" / f"{stem}{end}.json").is_file()
            assert (root / "proofs/class" / f"{stem}{end}.jpg").is_file()
        whole = root / "proofs/class" / f"{stem}.jpg"
        assert whole.read_bytes() == b"proof of the set"


def in_order(root: Path) -> list[str]:
    """The jobs of the films in positives/ in the order in which they came there, each run once."""
    films = sorted(
        job_harness.files_in(root / "positives"), key=lambda one: one.lstat().st_ctime_ns
    )
    jobs = []
    for film in films:
        record = root / "records" / film.relative_to(root / "positives").with_suffix(".json")
        jobs.append(json.loads(record.read_bytes())["job"])
    return [job for job, _ in groupby(jobs)]


@pytest.mark.parametrize("step", OF_SETS)
@pytest.mark.parametrize("deaths", [("2", "1"), ("6", "3")])
def test_a_set_appears_whole_and_nothing_comes_between(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    dropped = drop_all(root, FILES)
    for count in deaths:
        run(root, state, die_at=f"{step}:{count}")
        job_harness.assert_invariants_in_hand(root, dropped)
        assert_whole_or_nothing(root)
    assert run(root, state) == 0
    job_harness.assert_invariants(root, dropped)
    assert_whole_or_nothing(root)
    assert len(in_order(root)) == len(FILES)
    # Two sets of one name: both have one stem for all their films.
    stems = {path.stem for path in job_harness.files_in(root / "proofs/class")}
    one = {"poster" + end for end in ("", *SET)}
    pages = {f"{page}{end}" for page in ("poster-p01", "poster-p02") for end in ("", *SET)}
    assert stems == one | pages


@pytest.mark.parametrize("count", [1, 3, 5])
def test_a_half_published_set_is_completed_before_older_jobs(tmp_path: Path, count: int) -> None:
    other, root = tmp_path / "other", tmp_path / "small"
    dropped = drop_all(other, {"old.png": b"art that was taken earlier"})
    assert run(other, tmp_path / "a", die_at="art copied", host="one-00000001") == -signal.SIGKILL
    dropped += drop_all(root, {"poster.png": b"set of three inks"})
    died = run(root, tmp_path / "a", die_at=f"film published:{count}", host="one-00000001")
    assert died == -signal.SIGKILL
    (older,) = (other / ".filmhand/one-00000001").glob("2*")
    older.rename(root / ".filmhand/one-00000001" / older.name)
    dropped += drop_all(root, {"a.png": b"art that waits"})
    assert run(root, tmp_path / "b", host="two-00000002") == 0
    job_harness.assert_invariants(root, dropped)
    first, *others = in_order(root)
    assert len(others) == 2
    assert json.loads((root / "records/poster-1-red.json").read_bytes())["job"] == first


def look_until(queue: JobQueue, count: int) -> None:
    until = time.monotonic() + 20
    while len(queue.view.ready) < count and time.monotonic() < until:
        queue.look()


def test_nothing_else_is_taken_while_a_half_published_set_is_in_hand(tmp_path: Path) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    drop_all(root, {"poster.png": b"set of three inks"})
    assert run(root, state, die_at="film published:3") == -signal.SIGKILL
    drop_all(root, {"a.png": b"art that waits"})
    queue = job_harness.make_queue(root, state)
    look_until(queue, 1)
    completes = queue.take()
    assert completes is not None and queue.take() is None
    queue.do(completes)
    assert len(job_harness.files_in(root / "positives")) == 6
    assert queue.take() is not None


def test_no_other_film_is_published_while_a_set_is(tmp_path: Path) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    drop_all(root, {"a.png": b"art", "poster.png": b"set of three inks"})
    queue = job_harness.make_queue(root, state)
    look_until(queue, 2)
    hidden, until = queue.context.folders.hidden, time.monotonic() + 20
    with queue.context.publishing:
        threads = [Thread(target=queue.do, args=(queue.take(),)) for _ in range(2)]
        for thread in threads:
            thread.start()
        states: list[State] = []
        while states != [State.PUBLISHING] * 2 and time.monotonic() < until:
            with contextlib.suppress(ValueError, OSError):  # while one is being written
                states = [Job.load(folder).state for folder in job_folders(hidden)]
        assert not job_harness.files_in(root / "positives")
    for thread in threads:
        thread.join(120)
    assert len(in_order(root)) == 2


def test_the_number_behind_a_taken_name_is_the_sets(tmp_path: Path) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    for _ in range(2):
        drop_all(root, {"poster.png": b"set of three inks"})
        assert run(root, state) == 0
    # One film of a third set is in the way of nothing but its own number.
    (root / "positives/poster-3-2-blue.pdf").write_bytes(b"somebody's")
    drop_all(root, {"poster.png": b"set of three inks"})
    assert run(root, state) == 0
    proofs = {path.stem for path in job_harness.files_in(root / "proofs")}
    assert proofs == {f"{s}{end}" for s in ("poster", "poster-2", "poster-4") for end in ("", *SET)}
    (record,) = (root / "records").glob("poster-4-2-blue.json")
    assert json.loads(record.read_bytes())["film"]["files"]["pdf"] == "poster-4-2-blue.pdf"


# --- printed in one run --------------------------------------------------------------------------


def print_run(folder: Path, *, die_at: str = "", host: str = "here-00000000") -> int:
    words = [folder / "small", folder / f"state-{host}", host, folder / "printer"]
    return warm_start.run(print_harness.__file__, *words, FILMHAND_DIE_AT=die_at)


def wanted(files: dict[str, bytes]) -> list[str]:
    return [
        f"document of {job_harness.sha256(data)}{suffix}"
        for data in files.values()
        for suffix in job_harness.suffixes_of(data)
    ]


def assert_in_one_run(sheets: list[str]) -> None:
    """Sheets of one set lie together, in print order."""
    for first, sheet in enumerate(sheets):
        if sheet.endswith("-1-red"):
            stem = sheet.removesuffix("-1-red")
            assert sheets[first : first + 3] == [stem + end for end in SET]


@pytest.mark.parametrize("step", [
    "names recorded", "proof published", "order published", "film published",
    *(step for step in FAILPOINTS_PRINT if step != "doubt noted"),
])  # fmt: skip
@pytest.mark.parametrize("deaths", [("2", "1"), ("5", "3")])
def test_each_sheet_of_a_set_is_printed_once_and_in_one_run(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root, printer = tmp_path / "small", FolderPrinter(tmp_path / "printer")
    drop_all(root, TO_PRINT)
    for count in deaths:
        print_run(tmp_path, die_at=f"{step}:{count}")
        assert max(Counter(printer.sheets()).values(), default=1) == 1
    drop_all(root, {"late.png": b"print this too to the printer"})
    assert print_run(tmp_path) == 0
    late = wanted({"late": b"print this too to the printer"})
    assert sorted(printer.sheets()) == sorted(wanted(TO_PRINT) + late)
    assert_in_one_run(printer.sheets())
    assert orders(root) == []


# --- approved as one -----------------------------------------------------------------------------


def held_run(root: Path, state: Path, *, die: str = "") -> int:
    words = [root, state, "here-00000000", json.dumps({"approve": True})]
    return warm_start.run(held_harness.__file__, *words, FILMHAND_DIE_AT=die)


@pytest.mark.parametrize("step", [step for step in FAILPOINTS_HELD if step != "gang given up"])
@pytest.mark.parametrize("deaths", [("1",)])
def test_a_set_is_held_and_approved_as_one(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    dropped = drop_all(root, {
        "class/poster.png": b"set of three inks",
        "given up.png": b"set that nobody wants",
    })  # fmt: skip
    for rounds in range(2):
        for count in deaths:
            assert held_run(root, state, die=f"{step}:{count}") in {0, -signal.SIGKILL}
            job_harness.assert_invariants_in_hand(root, dropped)
        assert held_run(root, state) == 0
        if rounds:
            break
        held = [
            str(path.relative_to(root / "held")) for path in job_harness.files_in(root / "held")
        ]
        assert held == ["class/poster.jpg", "class/poster.why.txt", "given up.jpg",
                        "given up.why.txt"]  # fmt: skip
        assert (root / "held/class/poster.jpg").read_bytes() == b"proof of the set"
        note = (root / "held/class/poster.why.txt").read_text()
        assert "as one set: 1 red, 2 blue," in " ".join(note.split())
        assert not job_harness.files_in(root / "positives")
        folders = Folders(root)
        for folder in job_folders(folders.hidden):
            if not Job.load(folder).sub:
                now = job_harness.datetime.now(job_harness.UTC)
                ask(folders, Asked.DISCARD, folder.name, now)
        (root / "release/class").mkdir(exist_ok=True)
        (root / "held/class/poster.jpg").rename(root / "release/class/poster.jpg")
    assert job_harness.files_in(root / "held") == job_harness.files_in(root / "release") == []
    films = {path.stem for path in job_harness.files_in(root / "positives")}
    assert films == {"poster" + end for end in SET}
    rejected = [path.name for path in job_harness.files_in(root / "rejected")]
    assert rejected == ["given up.png", "given up.png.why.txt", "rejections.jsonl"]
    counted = [(one.person, one.film, one.sheets) for _, one in counted_since(Folders(root))]
    assert counted == [("class", "class/poster", 3)]


def test_a_set_and_pages_of_one_name_are_held_beside_each_other(tmp_path: Path) -> None:
    root = tmp_path / "small"
    drop_all(root, {"poster.png": b"set of three inks", "poster.tif": b"sets on two pages"})
    assert held_run(root, tmp_path / "state") == 0
    held = [path.name for path in job_harness.files_in(root / "held")]
    assert held == ["poster-2-p01.jpg", "poster-2-p02.jpg", "poster-2.why.txt", "poster.jpg",
                    "poster.why.txt"]  # fmt: skip


def test_hosts_killed_at_random_moments() -> None:
    script = Path(__file__).parents[1] / "soak" / "sets_killed.py"
    done = subprocess.run(
        [sys.executable, script, "--kills", "6", "--seed", "5"],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 stations that did not pass" in done.stdout
