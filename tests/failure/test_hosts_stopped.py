"""Hosts that stop at the worst moment: one that sleeps through its own takeover, one that dies
while it takes over, one whose films are carried off under its hands.
"""

from __future__ import annotations

import random
import signal
import threading
import time
from collections import Counter
from pathlib import Path

import job_harness
import pytest
import sleeping_host
import warm_start
from job_harness import assert_invariants, assert_invariants_in_hand, make_queue, work_through
from test_spool_killed import drop_all, run

from filmhand.disk import atomic
from filmhand.jobs.failpoints import FAILPOINTS


def is_stopped(process: warm_start.Started) -> bool:
    state = Path(f"/proc/{process.pid}/stat").read_text().rpartition(")")[2].split()[0]
    return state == "T"


@pytest.mark.parametrize("step", FAILPOINTS)
def test_asleep_at_a_step_adopted_and_awake_again(tmp_path: Path, step: str) -> None:
    """Every effect is a rename out of a folder that the sleeper no longer has."""
    root = tmp_path / "small"
    dropped = drop_all(root)
    words = [root, tmp_path / "a", "one-00000001"]
    sleeper = warm_start.start(sleeping_host.__file__, *words, FILMHAND_DIE_AT=step)
    until = time.monotonic() + 30
    while not is_stopped(sleeper):
        assert sleeper.poll() is None
        assert time.monotonic() < until
        time.sleep(0.02)
    ahead = 0.0
    adopter = make_queue(
        root,
        tmp_path / "b",
        host="two-00000002",
        clock=lambda: time.monotonic() + ahead,
        takeover=60,
    )
    adopter.look()
    ahead = 100.0
    work_through(adopter)
    assert_invariants(root, dropped)
    sleeper.send_signal(signal.SIGCONT)
    assert sleeper.wait(timeout=60) == 0
    assert_invariants(root, dropped)


@pytest.mark.parametrize("step", FAILPOINTS)
@pytest.mark.parametrize("first", ["films staged", "film published", "refusal logged"])
def test_the_one_who_takes_over_is_killed_too(tmp_path: Path, first: str, step: str) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    assert run(root, tmp_path / "a", die_at=first, host="one-00000001") == -signal.SIGKILL
    run(root, tmp_path / "b", die_at=step, host="two-00000002")
    assert_invariants_in_hand(root, dropped)
    assert run(root, tmp_path / "c", host="three-00000003") == 0
    assert_invariants(root, dropped)
    renders = Counter(
        job for log in tmp_path.glob("?/scratch/renders") for job in log.read_text().split()
    )
    assert max(renders.values()) <= 3  # once for each death, at most


def test_killed_in_the_middle_of_taking_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some jobs of the dead host are renamed to the second, some are not; a third has them all."""
    root = tmp_path / "small"
    contents = [b"art %d" % number for number in range(6)]
    dead = make_queue(root, tmp_path / "a", host="one-00000001")
    dead.context.folders.make()
    for number, data in enumerate(contents):
        (root / "drop" / f"{number}.png").write_bytes(data)
    for _ in range(2):
        dead.look()
        time.sleep(2 * job_harness.SETTLE)
    for _ in range(6):
        work = dead.take()
        assert work is not None
        job_harness.begun(dead, work)  # claimed, and then killed
    ahead = 0.0

    def adopter(name: str) -> job_harness.JobQueue:
        return make_queue(
            root, tmp_path / name, host=f"{name}-00000002", takeover=60,
            clock=lambda: time.monotonic() + ahead,
        )  # fmt: skip

    real, taken = atomic.rename_durably, []

    def adopt(source: Path, target: Path) -> None:
        if len(taken) == 3:
            raise KeyboardInterrupt
        real(source, target)
        taken.append(target)

    two, three = adopter("two"), adopter("three")
    for queue in (two, three):
        queue.look()
    (root / ".filmhand" / "one-00000001" / "alive").unlink()
    ahead += 50
    two.look()
    ahead += 100
    monkeypatch.setattr(atomic, "rename_durably", adopt)
    with pytest.raises(KeyboardInterrupt):
        two.look()
    monkeypatch.setattr(atomic, "rename_durably", real)
    ahead += 100
    assert_invariants_in_hand(root, contents)
    work_through(three)
    ahead += 100
    work_through(three)
    assert_invariants(root, contents)


class PrintQueue(threading.Thread):
    """Takes every film that shows, at once."""

    def __init__(self, positives: Path, printed: Path) -> None:
        super().__init__(daemon=True)
        self.positives, self.printed = positives, printed
        self.names: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.ended = False
        printed.mkdir()
        self.start()

    def run(self) -> None:
        while not self.ended:
            for film in list(self.positives.rglob("*")) if self.positives.is_dir() else []:
                if film.is_file():
                    name = str(film.relative_to(self.positives))
                    self.names[name] += 1
                    if not film.read_bytes().startswith(b"film of "):
                        self.wrong.append(name)
                    film.rename(self.printed / f"{sum(self.names.values())} {film.name}")
            time.sleep(0.001)


@pytest.mark.parametrize("seed", range(3))
def test_films_are_carried_off_at_once_while_hosts_are_killed(tmp_path: Path, seed: int) -> None:
    """Never a second copy, never a film that is not whole, whatever moment the kill meets."""
    chance = random.Random(seed)
    root = tmp_path / "small"
    dropped = drop_all(root)
    queue = PrintQueue(root / "positives", tmp_path / "printed")
    publishing = ["names recorded", "record published", "proof published", "film published",
                  "publishing recorded"]  # fmt: skip
    for _ in range(8):
        step = f"{chance.choice(publishing)}:{chance.randint(1, 4)}"
        run(root, tmp_path / "state", die_at=step)
    assert run(root, tmp_path / "state") == 0
    queue.ended = True
    queue.join(120)
    for film in [path for path in (root / "positives").rglob("*") if path.is_file()]:
        queue.names[str(film.relative_to(root / "positives"))] += 1
    assert queue.wrong == []
    wanted = {"poster.pdf", "poster.tif"}
    wanted |= {f"class 4/pages-p0{page}.{end}" for page in (1, 2) for end in ("pdf", "tif")}
    assert queue.names == Counter(dict.fromkeys(wanted, 1))
    kept = [path.read_bytes() for path in job_harness.files_in(root / "originals")]
    kept += [
        path.read_bytes()
        for path in job_harness.files_in(root / "rejected")
        if not job_harness.is_our_note(path.name)
    ]
    assert Counter(kept) == Counter(dropped)


def test_a_job_that_comes_back_while_its_sleeper_still_has_it_in_hand(tmp_path: Path) -> None:
    """Taken over, made half-way and given up: the first, just awake, must not go on from memory."""
    root = tmp_path / "small"
    dropped = [b"art 1"]
    (root / "drop").mkdir(parents=True)
    (root / "drop" / "a.png").write_bytes(dropped[0])
    one = make_queue(root, tmp_path / "a", host="one-00000001", takeover=0.0)
    for _ in range(2):
        one.look()
        time.sleep(2 * job_harness.SETTLE)
    work = one.take()
    assert work is not None
    job = job_harness.begun(one, work)  # and here it falls asleep, with the job in its memory
    hidden = root / ".filmhand"
    other = hidden / "two-00000002" / job.id
    other.parent.mkdir()
    atomic.rename_durably(job.folder, other)
    one._sign_at = float("-inf")
    one.look()  # the other is silent at once
    one._sign_at = float("-inf")
    one.look()
    assert other.is_dir()
    one._put_down(work, job.folder, job)
    one._sign_at = float("-inf")
    work_through(one)
    one._sign_at = float("-inf")
    work_through(one)
    assert_invariants(root, dropped)
