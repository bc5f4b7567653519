"""How much of a very full folder is looked into at a time."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))

import job_harness

from filmhand.disk.beneath import Beneath, as_beneath
from filmhand.intake.scan import scan_drop_folder
from filmhand.queue import triage
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.task import ClaimOne
from filmhand.queue.triage import READY

FILES = 700


class Counter:
    """A queue over a full folder, and how many files each look opened."""

    def __init__(self, folder: Path) -> None:
        self.opened: list[Path] = []
        self.known: set[Path] = set()
        self.now = 0.0
        self.queue: JobQueue = job_harness.make_queue(
            folder / "small", folder / "state", clock=lambda: self.now, finished=self._finished
        )
        self.queue.look()
        for number in range(FILES):
            path = folder / "small" / "drop" / f"{number:03}.png"
            path.write_bytes(b"art %d" % number)
            os.utime(path, (1_700_000_000 + number,) * 2)
        self.look()

    def _finished(self, path: Path) -> job_harness.Ending:
        self.opened.append(path)
        return job_harness.Ending()

    def look(self) -> int:
        """How much was ready after a look."""
        self.now += 1
        self.opened = []
        self.queue.look()
        assert self.known.isdisjoint(self.opened)  # what was whole is not opened again
        self.known.update(self.opened)
        ready = [task.bundle.art.path for task in self.queue.view.ready]
        assert self.known.issuperset(ready)
        assert len(self.opened) <= len(ready)
        return len(self.queue.view.ready)

    def take(self, count: int) -> list[str]:
        """Take so many, and have them gone without being made."""
        taken = []
        for _ in range(count):
            task = self.queue.take()
            assert isinstance(task, ClaimOne)
            taken.append(task.bundle.shown)
            task.bundle.art.path.unlink()
            self.queue._put_down(task, self.queue._folder_of(task), None)
        return taken


def test_as_much_is_looked_into_as_is_worked_off(tmp_path: Path) -> None:
    counter = Counter(tmp_path)
    assert counter.look() == READY
    assert counter.take(10) == [f"{number:03}.png" for number in range(10)]
    assert counter.look() == READY  # a slow shop: no more than ever
    counter.take(READY)  # the list ran dry before the next look
    assert counter.look() == 2 * READY
    taken = counter.take(2 * READY)
    assert taken == [f"{number:03}.png" for number in range(10 + READY, 10 + 3 * READY)]
    assert counter.look() == 4 * READY
    assert counter.look() == READY  # nothing was taken since


def test_there_is_an_upper_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(triage, "READY_AT_MOST", 100)
    counter = Counter(tmp_path)
    assert counter.look() == READY
    counter.take(READY)
    assert counter.look() == 100


def test_all_that_waits_is_counted_though_few_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(triage, "NAMED", 50)
    counter = Counter(tmp_path)
    counter.look()
    assert len(counter.queue.view.waiting) == 50
    assert counter.queue.status()["waiting_count"] == FILES
    assert not counter.queue.idle()


def test_a_path_is_made_once(tmp_path: Path) -> None:
    (tmp_path / "class 4").mkdir()
    (tmp_path / "class 4" / "a.png").write_bytes(b"art")
    (tmp_path / "b.png").write_bytes(b"art")
    first = scan_drop_folder(as_beneath(tmp_path))
    second = scan_drop_folder(as_beneath(tmp_path), first.paths)
    assert second.paths == first.paths
    assert all(
        one.art.path is other.art.path
        for one, other in zip(first.bundles, second.bundles, strict=True)
    )
    (tmp_path / "b.png").unlink()
    assert list(scan_drop_folder(as_beneath(tmp_path), second.paths).paths) == [
        ("class 4", "a.png")
    ]


def test_what_was_made_during_a_look_is_not_handed_out_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A look at a full folder takes long; what it saw may be gone when it ends."""
    counter = Counter(tmp_path)
    counter.look()

    def slowly(drop: Beneath, known: object) -> object:
        seen = scan_drop_folder(drop)
        counter.take(30)
        return seen

    monkeypatch.setattr("filmhand.queue.job_queue.scan_drop_folder", slowly)
    counter.now += 1
    counter.queue.look()
    monkeypatch.undo()
    assert counter.take(5) == [f"{number:03}.png" for number in range(30, 35)]
