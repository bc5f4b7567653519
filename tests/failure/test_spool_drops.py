"""What people really drop: odd names, the same name twice, whole folders, growing files."""

from __future__ import annotations

import json
import os
import threading
import time
from pathlib import Path
from typing import Any

import job_harness
import pytest
from job_harness import assert_invariants, files_in, make_queue, work_through

from filmhand.queue.job_queue import JobQueue
from filmhand.queue.triage import ALONE_FOR, EMPTY_FOR

ODD_NAMES = [
    b"two words.png",
    b'it\'s "quoted" & <b>.png',
    "Größe – façade.png".encode(),
    "\U0001f469\u200d\U0001f3a8 \u2728.png".encode(),
    "漢字.png".encode(),
    b"caf\xe9 latin1.png",
    b"\xff\xfe\xfd",
    b"-rf.png",
    b"a\nnew\tline\x1b[31m.png",
    "\u202egnp.exe.png".encode(),
    b"CON.png",
    b"no suffix",
    b"x" * 236 + b".png",
    ("é" * 118).encode() + b".png",
    b"=1+1.png",
    b"rejections.jsonl",
    b"rejections.2025.jsonl",
    b"..png",
    b"$(reboot).png",
    b"100%.png",
]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / "small" / "drop").mkdir(parents=True)
    return tmp_path / "small"


def drop(root: Path, name: str | bytes, data: bytes) -> Path:
    path = root / "drop" / os.fsdecode(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("word", [b"art", b"refuse"])
def test_odd_names_keep_their_bytes(root: Path, tmp_path: Path, word: bytes) -> None:
    dropped = {}
    for number, name in enumerate(name for name in ODD_NAMES if not name.startswith(b".")):
        dropped[name] = word + b" number %d" % number
        drop(root, name, dropped[name])
    work_through(make_queue(root, tmp_path / "state"))
    assert_invariants(root, list(dropped.values()))
    place = root / ("originals" if word == b"art" else "rejected")
    for name, data in dropped.items():
        reserved = word == b"refuse" and name.startswith(b"rejections.")
        kept = name.replace(b"rejections", b"rejections-art") if reserved else name
        assert (place / os.fsdecode(kept)).read_bytes() == data
    for path in (root / "positives").iterdir():
        path.name.encode("utf-8")
        assert path.name.isprintable() or "\u200d" in path.name


def test_a_name_of_255_bytes_is_refused_with_a_note(root: Path, tmp_path: Path) -> None:
    name = "y" * 251 + ".png"
    drop(root, name, b"refuse one")
    queue = make_queue(root, tmp_path / "state")
    work_through(queue)
    notes = [path for path in (root / "rejected").iterdir() if path.name.endswith(".why.txt")]
    assert (root / "rejected" / name).read_bytes() == b"refuse one"
    assert len(notes) == 1


def test_the_same_name_in_turn(root: Path, tmp_path: Path) -> None:
    queue = make_queue(root, tmp_path / "state")
    contents = [b"art one", b"art two", b"art one"]
    for data in contents:
        drop(root, "poster.jpg", data)
        work_through(queue)
    assert_invariants(root, contents)
    originals = ["poster-2.jpg", "poster-3.jpg", "poster.jpg"]
    assert [path.name for path in files_in(root / "originals")] == originals
    record = json.loads((root / "records" / "poster-3.json").read_bytes())
    assert record["earlier"] == "poster"
    assert record["film"]["files"] == {"pdf": "poster-3.pdf", "tiff": "poster-3.tif"}
    assert json.loads((root / "records" / "poster-2.json").read_bytes())["earlier"] is None


def test_a_refused_name_in_turn_keeps_ticket_mask_and_note_together(
    root: Path, tmp_path: Path
) -> None:
    queue = make_queue(root, tmp_path / "state")
    for number in (1, 2):
        drop(root, "a.jpg", b"refuse %d" % number)
        drop(root, "a.jpg.ticket.yaml", b"ticket %d" % number)
        drop(root, "a.jpg.clear.png", b"mask %d" % number)
        work_through(queue)
    assert {path.name for path in files_in(root / "rejected")} == {
        "a.jpg",
        "a.jpg.ticket.yaml",
        "a.jpg.clear.png",
        "a.jpg.why.txt",
        "a-2.jpg",
        "a-2.jpg.ticket.yaml",
        "a-2.jpg.clear.png",
        "a-2.jpg.why.txt",
        "rejections.jsonl",
    }
    assert (root / "rejected" / "a-2.jpg.ticket.yaml").read_bytes() == b"ticket 2"


def test_ticket_and_mask_reach_the_renderer(root: Path, tmp_path: Path) -> None:
    drop(root, "a.jpg.ticket.yaml", b"ticket of a")
    drop(root, "a.jpg.clear.png", b"mask of a")
    drop(root, "a.jpg", b"art a")
    work_through(make_queue(root, tmp_path / "state"))
    record = json.loads((root / "records" / "a.json").read_bytes())
    assert record["companions"] == {
        "ticket": job_harness.sha256(b"ticket of a"),
        "mask": job_harness.sha256(b"mask of a"),
    }


def test_names_that_differ_in_case_or_composition_get_films_of_their_own(
    root: Path, tmp_path: Path
) -> None:
    contents = {"A.png": b"art 1", "a.png": b"art 2", "e\u0301.png": b"art 3", "é.png": b"art 4"}
    for name, data in contents.items():
        drop(root, name, data)
    work_through(make_queue(root, tmp_path / "state"))
    assert_invariants(root, list(contents.values()))
    stems = {path.stem.casefold() for path in (root / "positives").iterdir()}
    assert len(stems) == 4


def test_a_folder_dropped_whole(root: Path, tmp_path: Path) -> None:
    contents = [b"art %d" % number for number in range(12)]
    for number, data in enumerate(contents):
        drop(root, f"class {number % 3}/week {number % 2}/poster.png", b"")
        drop(root, f"class {number % 3}/week {number % 2}/poster {number}.png", data)
    for path in files_in(root / "drop"):
        if path.stat().st_size == 0:
            path.unlink()
    work_through(make_queue(root, tmp_path / "state"))
    assert_invariants(root, contents)
    assert (root / "positives" / "class 1" / "week 1" / "poster 1.pdf").is_file()
    assert (root / "originals" / "class 1" / "week 1" / "poster 1.png").is_file()


def test_a_folder_whose_name_a_file_has(root: Path, tmp_path: Path) -> None:
    queue = make_queue(root, tmp_path / "state")
    drop(root, "class", b"art 1")
    work_through(queue)
    drop(root, "class/poster", b"art 2")
    work_through(queue)
    assert_invariants(root, [b"art 1", b"art 2"])
    assert (root / "originals" / "class-2" / "poster").read_bytes() == b"art 2"


def test_outputs_are_never_written_through_a_link(root: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    queue = make_queue(root, tmp_path / "state")
    queue.look()
    (root / "originals" / "class").symlink_to(outside)
    drop(root, "class/a.png", b"art")
    work_through(queue)
    assert list(outside.iterdir()) == []
    assert (root / "originals" / "class-2" / "a.png").read_bytes() == b"art"


def test_a_slow_writer_is_waited_for(root: Path, tmp_path: Path) -> None:
    queue = make_queue(root, tmp_path / "state", settle=0.3)
    whole = b"art " + bytes(range(256)) * 8

    def write() -> None:
        with (root / "drop" / "slow.png").open("wb") as file:
            for start in range(0, len(whole), 200):
                file.write(whole[start : start + 200])
                file.flush()
                time.sleep(0.06)

    writer = threading.Thread(target=write)
    writer.start()
    while writer.is_alive():
        queue.look()
        assert queue.take() is None or not writer.is_alive()
        time.sleep(0.02)
    work_through(make_queue(root, tmp_path / "state", settle=0.3))
    assert_invariants(root, [whole])


def test_written_under_another_name_and_renamed(root: Path, tmp_path: Path) -> None:
    queue = make_queue(root, tmp_path / "state")
    part = drop(root, "a.png.part", b"art whole")
    work_through(queue)
    assert part.exists()
    assert queue.status()["noise"] == 1
    part.rename(part.with_suffix(""))
    work_through(queue)
    assert_invariants(root, [b"art whole"])


def test_replaced_at_the_last_moment(root: Path, tmp_path: Path) -> None:
    """The file that settled is exchanged between the look and the claim: nothing is taken."""
    queue = make_queue(root, tmp_path / "state")
    path = drop(root, "a.png", b"art old")
    queue.look()
    time.sleep(2 * job_harness.SETTLE)
    queue.look()
    work = queue.take()
    assert work is not None
    path.unlink()
    path.write_bytes(b"art new, longer")
    assert queue.do(work) is None
    assert path.read_bytes() == b"art new, longer"
    work_through(queue)
    assert_invariants(root, [b"art new, longer"])


def test_exchanged_for_a_link_at_the_last_moment(root: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_bytes(b"art secret")
    queue = make_queue(root, tmp_path / "state")
    path = drop(root, "a.png", b"art")
    queue.look()
    time.sleep(2 * job_harness.SETTLE)
    queue.look()
    work = queue.take()
    assert work is not None
    path.unlink()
    path.symlink_to(secret)
    queue.do(work)
    work_through(queue)
    assert path.is_symlink()
    assert files_in(root / "positives") == []
    assert queue.status()["left_alone"][0]["name"] == "a.png"


def test_changed_while_it_is_read(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A writer that still has the file open writes into the claimed file: it goes back to drop."""
    path = drop(root, "a.png", b"art begun")
    queue = make_queue(root, tmp_path / "state")
    from filmhand.intake import settle

    monkeypatch.setattr(settle, "has_writer", lambda path: None)  # as on a share
    with path.open("ab") as writer:
        queue.look()
        time.sleep(2 * settle.UNSEEN_FACTOR * job_harness.SETTLE)
        queue.look()
        work = queue.take()
        assert work is not None
        real = os.fdopen

        def open_and_change(*arguments: Any, **options: Any) -> Any:
            writer.write(b" and ended")
            writer.flush()
            return real(*arguments, **options)

        monkeypatch.setattr(os, "fdopen", open_and_change)
        assert queue.do(work) is None
        monkeypatch.setattr(os, "fdopen", real)
    assert path.read_bytes() == b"art begun and ended"
    work_through(queue)
    assert_invariants(root, [b"art begun and ended"])


class Clock:
    """A clock that tests push on."""

    def __init__(self) -> None:
        self.ahead = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.ahead


def settle_down(queue: JobQueue) -> None:
    for _ in range(4):
        queue.look()
        while (work := queue.take()) is not None:
            queue.do(work)
        time.sleep(job_harness.SETTLE)


def test_empty_and_cut_files_are_refused_after_the_wait(root: Path, tmp_path: Path) -> None:
    clock = Clock()
    queue = make_queue(root, tmp_path / "state", clock=clock)
    drop(root, "empty.png", b"")
    drop(root, "half.png", b"cut off")
    settle_down(queue)
    assert {path.name for path in files_in(root / "drop")} == {"empty.png", "half.png"}
    clock.ahead += 6
    settle_down(queue)
    lines = (root / "rejected" / "rejections.jsonl").read_text().splitlines()
    refusals = {(line["name"], line["reason"]) for line in map(json.loads, lines)}
    assert refusals == {("empty.png", "damaged"), ("half.png", "damaged")}
    assert (root / "rejected" / "empty.png").read_bytes() == b""
    assert "last bytes are missing" in (root / "rejected" / "half.png.why.txt").read_text()


def test_a_ticket_alone_is_refused_after_ten_minutes(root: Path, tmp_path: Path) -> None:
    clock = Clock()
    queue = make_queue(root, tmp_path / "state", clock=clock)
    drop(root, "a.png.ticket.yaml", b"ticket")
    settle_down(queue)
    clock.ahead += ALONE_FOR - 10
    settle_down(queue)
    assert files_in(root / "rejected") == []
    assert queue.status()["waiting"][0]["why"] == "its art has not come yet"
    clock.ahead += 11
    settle_down(queue)
    line = json.loads((root / "rejected" / "rejections.jsonl").read_text())
    assert (line["reason"], line["name"]) == ("bad-ticket", "a.png.ticket.yaml")
    assert (root / "rejected" / "a.png.ticket.yaml").read_bytes() == b"ticket"


def test_art_waits_for_a_ticket_that_is_still_arriving(root: Path, tmp_path: Path) -> None:
    queue = make_queue(root, tmp_path / "state", settle=0.3)
    drop(root, "a.png", b"art")
    queue.look()
    time.sleep(0.2)
    drop(root, "a.png.ticket.yaml", b"ticket of a")
    queue.look()
    time.sleep(0.2)
    queue.look()
    assert queue.take() is None  # the art has settled, its ticket has not
    work_through(queue)
    record = json.loads((root / "records" / "a.json").read_bytes())
    assert record["companions"]["ticket"] == job_harness.sha256(b"ticket of a")


def test_empty_sub_folders_go_after_an_hour(root: Path, tmp_path: Path) -> None:
    clock = Clock()
    queue = make_queue(root, tmp_path / "state", clock=clock)
    (root / "drop" / "class" / "old").mkdir(parents=True)
    queue.look()
    clock.ahead += EMPTY_FOR - 10
    queue.look()
    assert (root / "drop" / "class" / "old").is_dir()
    clock.ahead += 11
    queue.look()
    assert not (root / "drop" / "class" / "old").exists()
    assert (root / "drop" / "class").is_dir()  # it has only now become empty


def test_links_and_pipes_stay(root: Path, tmp_path: Path) -> None:
    (root / "drop" / "link.png").symlink_to("/etc/passwd")
    os.mkfifo(root / "drop" / "pipe.png")
    queue = make_queue(root, tmp_path / "state")
    work_through(queue)
    assert {one["name"] for one in queue.status()["left_alone"]} == {"link.png", "pipe.png"}
    assert (root / "drop" / "link.png").is_symlink()


def test_too_many_bytes_are_refused_without_copying(root: Path, tmp_path: Path) -> None:
    queue = make_queue(root, tmp_path / "state")
    queue.change(type(queue.settings)(snapshot={}, settle=job_harness.SETTLE, max_bytes=1000))
    drop(root, "big.png", b"art" * 1000)
    work_through(queue)
    line = json.loads((root / "rejected" / "rejections.jsonl").read_text())
    assert line["reason"] == "too-big"
    assert line["sha256"] == job_harness.sha256(b"art" * 1000)
    assert not (tmp_path / "state" / "scratch" / "renders").exists()


def test_nothing_ever_removes_or_writes_a_customers_file(root: Path, tmp_path: Path) -> None:
    """Run under an audit hook that ends the process at the first such call."""
    import subprocess
    import sys

    contents = [b"art 1", b"refuse 2", b"pages 3", b"poison 4"]
    for number, data in enumerate(contents):
        drop(root, f"file {number}.png", data)
    command = [sys.executable, job_harness.__file__, str(root), str(tmp_path / "s"), "h-00000000"]
    done = subprocess.run(command, check=False, capture_output=True, timeout=60)
    assert (done.returncode, done.stderr) == (0, b"")
    assert_invariants(root, contents)
