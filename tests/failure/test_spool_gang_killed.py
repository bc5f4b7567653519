"""A gang killed at every step, once and twice: the next start finishes everything, once."""

from __future__ import annotations

import signal
import time
from pathlib import Path

import job_harness
import pytest
import sleeping_host
import warm_start
from test_hosts_stopped import is_stopped
from test_spool_killed import drop_all

from filmhand.jobs.failpoints import FAILPOINTS_GANG
from filmhand.profile.ticket.gang import GangWishes

# Three find room, one is left for the next sheet; one is refused, one goes alone; in another
# folder nothing is left to share a sheet with.
FILES = {
    "a.png": b"art a",
    "b.png": b"refuse b",
    "c.png": b"art c",
    "c.png.ticket.yaml": b"for: class 4\n",
    "d.tif": b"pages d",
    "e.png": b"art e",
    "f.png": b"art f",
    "g.png": b"art g",
    "class 4/h.png": b"art h",
    "class 4/i.png": b"refuse i",
}
# The steps of members that a gang could disturb; those of a job alone have their own tests.
OF_MEMBERS = (
    "job folder made",
    "intent written",
    "art claimed",
    "companions claimed",
    "claim recorded",
    "refusal recorded",
    "record published",
    "proof published",
    "film published",
    "publishing recorded",
    "art put away",
    "job folder emptied",
)


def run(root: Path, state: Path, *, die_at: str = "", host: str = "here-00000000") -> int:
    return warm_start.run(job_harness.__file__, root, state, host, "0.3", FILMHAND_DIE_AT=die_at)


@pytest.mark.parametrize("step", [*FAILPOINTS_GANG, *OF_MEMBERS])
def test_killed_at_a_step_and_started_again(tmp_path: Path, step: str) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    dropped = drop_all(root, FILES)
    assert run(root, state, die_at=step) == -signal.SIGKILL
    job_harness.assert_invariants_in_hand(root, dropped)
    assert run(root, state) == 0
    job_harness.assert_invariants(root, dropped)


# Killed again in what the first death left behind, or later in the same kind of step.
@pytest.mark.parametrize(
    "step",
    ["gang noted", "gang complete", "member let go", "left for another sheet", "sheet named"],
)
def test_killed_at_a_later_time_and_again(tmp_path: Path, step: str) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    dropped = drop_all(root, FILES)
    for count in ("2", "1"):
        run(root, state, die_at=f"{step}:{count}")
        job_harness.assert_invariants_in_hand(root, dropped)
    assert run(root, state) == 0
    job_harness.assert_invariants(root, dropped)


@pytest.mark.parametrize(
    "step", ["gang noted", "art claimed", "left for another sheet", "film published", "gang parts"]
)
def test_killed_at_a_step_and_adopted_by_another_host(tmp_path: Path, step: str) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root, FILES)
    assert run(root, tmp_path / "a", die_at=step, host="one-00000001") == -signal.SIGKILL
    assert run(root, tmp_path / "b", host="two-00000002") == 0
    job_harness.assert_invariants(root, dropped)
    assert not (root / ".filmhand" / "one-00000001").exists()


@pytest.mark.parametrize(
    "step",
    [*FAILPOINTS_GANG, "job folder made", "intent written", "art claimed", "record published"],
)
def test_asleep_at_a_step_adopted_and_awake_again(tmp_path: Path, step: str) -> None:
    """As for single jobs: what the sleeper does when it wakes, it does to a folder that is gone."""
    root = tmp_path / "small"
    dropped = drop_all(root, FILES)
    words = [root, tmp_path / "a", "one-00000001", "0.3"]
    sleeper = warm_start.start(sleeping_host.__file__, *words, FILMHAND_DIE_AT=step)
    until = time.monotonic() + 30
    while not is_stopped(sleeper):
        assert sleeper.poll() is None
        assert time.monotonic() < until
        time.sleep(0.02)
    ahead = 0.0
    adopter = job_harness.make_queue(
        root,
        tmp_path / "b",
        host="two-00000002",
        clock=lambda: time.monotonic() + ahead,
        takeover=60,
        gang=GangWishes(0.1),
    )
    adopter.look()
    ahead = 100.0
    job_harness.work_through(adopter)
    job_harness.assert_invariants(root, dropped)
    sleeper.send_signal(signal.SIGCONT)
    assert sleeper.wait(timeout=60) == 0
    job_harness.assert_invariants(root, dropped)


def test_two_hosts_take_from_one_folder(tmp_path: Path) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root, FILES)
    for number in range(12):
        data = b"art of host test %d" % number
        (root / "drop" / f"more{number}.png").write_bytes(data)
        dropped.append(data)
    hosts = [
        warm_start.start(
            job_harness.__file__, root, tmp_path / name, f"{name}-0000000{number}", "0.3"
        )
        for number, name in enumerate(("one", "two"))
    ]
    until = time.monotonic() + 60
    for host in hosts:
        assert host.wait(timeout=max(1.0, until - time.monotonic())) == 0
    # A host that was done first may have left work that was given back.
    assert run(root, tmp_path / "three", host="three-00000003") == 0
    job_harness.assert_invariants(root, dropped)
