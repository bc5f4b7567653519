"""Counts, steps at which tests kill, and the scratch folders of one job."""

from __future__ import annotations

import errno
import os
import signal
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs import failpoints, scratch
from filmhand.jobs.context import MAX_STRIKES, JobCounts, LiveSettings
from filmhand.jobs.scratch import clear_shared, scratch_folder


def test_what_has_been_done_is_added_up() -> None:
    counts = JobCounts()
    assert counts == JobCounts(0, 0, 0.0, 0)
    counts.add(made=True, seconds=2.5)
    counts.add(refused=True, seconds=1.5, strikes=2)
    counts.add(made=True)
    assert (counts.made, counts.refused, counts.seconds, counts.strikes) == (2, 1, 4.0, 2)
    # The release of a held film takes no time to speak of, and tells nothing of the next art.
    assert counts.usual() is None
    counts.add_rendered(6.0)
    counts.add_rendered(7.0)
    counts.add(made=True, seconds=0.05)
    assert counts.usual() == 6.5
    assert LiveSettings().why_wait([]) == ""
    assert MAX_STRIKES == 3  # `crashed` is told so in the table of reasons


# --- steps --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("die_at", "passed", "dies"),
    [
        ("", ["film published"], 0),
        ("film published", ["record published", "film published"], 2),
        ("film published:2", ["film published", "record published", "film published"], 3),
        ("film published:1", ["film published", "film published"], 1),
    ],
)
def test_a_step_ends_the_process_where_a_test_says_so(
    monkeypatch: pytest.MonkeyPatch, die_at: str, passed: list[str], dies: int
) -> None:
    killed: list[tuple[int, int, int]] = []
    monkeypatch.setattr(failpoints, "_DIE_AT", die_at)
    monkeypatch.setattr(failpoints, "_passed", Counter())
    for number, step in enumerate(passed, 1):
        monkeypatch.setattr(
            failpoints.os, "kill", lambda pid, how, number=number: killed.append((number, pid, how))
        )
        failpoints.failpoint(step)
    assert killed == ([(dies, os.getpid(), signal.SIGKILL)] if dies else [])


def test_a_step_that_no_list_has_cannot_be_added(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(failpoints, "_DIE_AT", "film published")
    monkeypatch.setattr(failpoints, "_passed", Counter())
    for steps in ("", "_RETRY", "_CHANGED", "_GANG"):
        failpoints.failpoint(getattr(failpoints, f"FAILPOINTS{steps}")[0])
    with pytest.raises(ValueError, match="in no list"):
        failpoints.failpoint("dinner made")


# --- scratch ------------------------------------------------------------------------------------


@dataclass
class Bank:
    job: Any
    context: Any
    waits: list[float]


@pytest.fixture
def bank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bank:
    hidden = Beneath(tmp_path) / "hidden"
    (hidden / "job").mkdir(parents=True)
    waits: list[float] = []
    monkeypatch.setattr(scratch, "time", SimpleNamespace(sleep=waits.append))
    return Bank(
        SimpleNamespace(id="j1", shared=hidden / "job" / "shared"),
        SimpleNamespace(scratch=tmp_path / "s" / "scratch", folders=SimpleNamespace(hidden=hidden)),
        waits,
    )


def test_a_scratch_folder_is_empty_and_goes(bank: Bank) -> None:
    for shared in (False, True):
        (bank.context.scratch / "j1" / "old").mkdir(parents=True)
        (bank.job.shared / "old").mkdir(parents=True)
        with scratch_folder(bank.job, bank.context, shared=shared) as folder:
            assert sorted(folder.names()) == ["out", "work"]
            (folder / "out" / "film").touch()
            place = bank.job.shared if shared else Beneath(bank.context.scratch)
            assert folder.parent == place
            assert bank.job.shared.exists() is shared
            assert (bank.context.scratch / "j1").exists() is not shared
        assert not folder.exists()
    assert bank.waits == []


def test_a_job_that_was_taken_over_gets_no_folder(bank: Bank) -> None:
    bank.job.shared = bank.job.shared.parent.with_name("taken") / "shared"
    with pytest.raises(FileNotFoundError), scratch_folder(bank.job, bank.context, shared=True):
        pass


@pytest.mark.parametrize(("failures", "works"), [(0, True), (19, True), (20, False)])
def test_a_computer_that_still_writes_there_is_given_two_seconds(
    bank: Bank, monkeypatch: pytest.MonkeyPatch, failures: int, *, works: bool
) -> None:
    bank.job.shared.mkdir()
    truly, tried = Beneath.rmtree, [0]

    def sometimes(folder: Beneath, *, ignore_errors: bool = False) -> None:
        tried[0] += 1
        if tried[0] <= failures:
            raise OSError(errno.ENOTEMPTY, "somebody writes")
        truly(folder, ignore_errors=ignore_errors)

    monkeypatch.setattr(Beneath, "rmtree", sometimes)
    if works:
        clear_shared(bank.job, bank.context)
        assert not bank.job.shared.exists()
    else:
        with pytest.raises(EnvironmentTrouble, match="still works on a job"):
            clear_shared(bank.job, bank.context)
    assert bank.waits == [0.1] * failures


def test_what_is_no_folder_in_its_place_is_set_aside(bank: Bank) -> None:
    bank.job.shared.path.write_text("not ours")
    clear_shared(bank.job, bank.context)
    assert not bank.job.shared.exists()
    hidden = bank.context.folders.hidden
    assert (hidden / "set-aside" / "shared").read_bytes(100) == b"not ours"
    assert bank.waits == []
