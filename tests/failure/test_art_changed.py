"""Art that somebody goes on writing after it was taken, unseen: the film is made of the whole."""

from __future__ import annotations

import json
import os
import signal
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import job_harness
import pytest
import warm_start
from job_harness import assert_invariants, assert_invariants_in_hand, files_in, sha256

from filmhand.intake import settle
from filmhand.jobs.failpoints import FAILPOINTS_CHANGED
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue

HALF, WHOLE = b"art of a poster, half", b"art of a poster, half and the other half"
OLD = (1_700_000_000, 1_700_000_000)


def write_held(root: Path, data: bytes, name: str = "poster.png", *, unseen: bool = True) -> None:
    """What a program does that kept the file open; `unseen`: times do not tell."""
    (held,) = (root / ".filmhand").rglob(f"held/{name}")
    before = held.stat()
    with held.open("r+b") as file:
        file.write(data)
        file.truncate()
    if unseen:
        os.utime(held, ns=(before.st_atime_ns, before.st_mtime_ns))


class Steps:
    """Does something at a step of a job, once each, and counts how often each is passed."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._do: dict[str, Callable[[], object]] = {}
        self.passed: Counter[str] = Counter()
        for module in ("publish", "put_away", "settling", "render_job", "gang", "recover"):
            monkeypatch.setattr(f"filmhand.jobs.{module}.failpoint", self)

    def at(self, step: str, do: Callable[[], object]) -> None:
        self._do[step] = do

    def __call__(self, step: str) -> None:
        self.passed[step] += 1
        self._do.pop(step, lambda: None)()


@pytest.fixture
def steps(monkeypatch: pytest.MonkeyPatch) -> Steps:
    # A system that cannot tell who writes.
    monkeypatch.setattr(settle, "has_writer", lambda path: None)
    return Steps(monkeypatch)


class Shop:
    """A folder, its queue and a clock that moves when told."""

    def __init__(self, folder: Path, **options: Any) -> None:
        self.root, self.now = folder / "small", 0.0
        self.said: list[tuple[str, dict[str, Any]]] = []
        self.queue: JobQueue = job_harness.make_queue(
            self.root,
            folder / "state",
            clock=lambda: self.now,
            say=lambda event, **facts: self.said.append((event, facts)),
            **options,
        )
        self.queue.look()

    def drop(self, name: str, data: bytes) -> None:
        (self.root / "drop" / name).write_bytes(data)

    def work(self, looks: int = 3) -> None:
        for _ in range(looks):
            self.queue.look()
            while (task := self.queue.take()) is not None:
                self.queue.do(task)
            self.now += 1
        self.queue.look()

    def finish(self) -> None:
        for _ in range(60):
            self.work(1)
            if self.queue.idle() and not self.queue.status()["waiting"]:
                return
            self.now += 300
        raise AssertionError(self.queue.status())

    def record(self, stem: str) -> dict[str, Any]:
        return dict(json.loads((self.root / "records" / f"{stem}.json").read_bytes()))


def test_a_film_of_half_a_file_is_withdrawn_and_made_of_the_whole(
    tmp_path: Path, steps: Steps
) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)
    shop.drop("poster.png.ticket.yaml", b"ticket")
    steps.at("publishing recorded", lambda: write_held(shop.root, WHOLE))
    shop.work()
    assert files_in(shop.root / "positives") == []
    assert files_in(shop.root / "records") == files_in(shop.root / "proofs") == []
    (waits,) = shop.queue.status()["waiting"]
    assert waits["name"] == "poster.png"
    assert "changed after it was taken" in waits["why"] and "again within" in waits["why"]
    shop.finish()
    assert_invariants(shop.root, [WHOLE, b"ticket"])
    assert shop.record("poster").get("unfinished") is None
    (told,) = [facts for event, facts in shop.said if event == "changed after it was taken"]
    assert told["withdrawn"] == ["poster.pdf", "poster.tif"] and told["gone"] == []


def test_while_it_goes_on_changing_it_waits_and_holds_up_nobody(
    tmp_path: Path, steps: Steps
) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)
    steps.at("publishing recorded", lambda: write_held(shop.root, b"art 0"))
    for count in range(1, 5):
        shop.work()
        write_held(shop.root, b"art %d" % count)
        shop.now += 300
    shop.drop("other.png", b"art of another")
    shop.work()
    assert (shop.root / "originals" / "other.png").exists()
    write_held(shop.root, b"cut off for now")
    for _ in range(3):
        shop.now += 1
        shop.work(1)
    assert not (shop.root / "rejected" / "poster.png").exists()
    write_held(shop.root, WHOLE)
    shop.finish()
    assert_invariants(shop.root, [WHOLE, b"art of another"])


def test_a_film_that_a_print_queue_took_is_told_of(tmp_path: Path, steps: Steps) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)

    def print_and_write() -> None:
        (shop.root / "positives" / "poster.tif").unlink()
        write_held(shop.root, WHOLE)

    steps.at("publishing recorded", print_and_write)
    shop.work()
    (waits,) = shop.queue.status()["waiting"]
    assert "poster.tif was made before it was whole, do not use it" in waits["why"]
    # Before it is read it changes once more: what is known of the first film stays known.
    shop.now += 300
    steps.at("settled again", lambda: write_held(shop.root, WHOLE + b"!", unseen=False))
    shop.finish()
    assert [path.name for path in files_in(shop.root / "positives")] == [
        "poster-2.pdf",
        "poster-2.tif",
    ]
    assert shop.record("poster")["unfinished_art"] is True
    record = shop.record("poster-2")
    assert record["unfinished"] == ["poster.tif"] and "poster.tif" in record["notes"][-1]
    assert record["source"]["sha256"] == sha256(WHOLE + b"!")
    (made,) = [facts for event, facts in shop.said if event == "made"]
    assert made["unfinished"] == ["poster.tif"]
    assert [path.read_bytes() for path in files_in(shop.root / "originals")] == [WHOLE + b"!"]


def test_a_film_of_that_name_that_is_not_ours_stays(tmp_path: Path, steps: Steps) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)
    film = shop.root / "positives" / "poster.tif"
    steps.at(
        "publishing recorded", lambda: (film.write_bytes(b"other"), write_held(shop.root, WHOLE))
    )
    shop.finish()
    assert film.read_bytes() == b"other"
    assert shop.record("poster-2")["unfinished"] == ["poster.tif"]


@pytest.mark.parametrize(("unseen", "published"), [(True, 4), (False, 2)])
def test_what_visibly_changes_before_any_film_is_out_leaves_no_film(
    tmp_path: Path, steps: Steps, *, unseen: bool, published: int
) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)
    other = HALF.upper().replace(b"ART", b"art") if unseen else WHOLE  # of the same size, or not
    steps.at("names recorded", lambda: write_held(shop.root, other, unseen=unseen))
    shop.finish()
    assert_invariants(shop.root, [other])
    assert steps.passed["film published"] == published


def test_a_ticket_that_changed_makes_it_again(tmp_path: Path, steps: Steps) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)
    shop.drop("poster.png.ticket.yaml", b"ticket 1")
    steps.at(
        "publishing recorded", lambda: write_held(shop.root, b"ticket 2", "poster.png.ticket.yaml")
    )
    shop.finish()
    assert_invariants(shop.root, [HALF, b"ticket 2"])
    assert shop.record("poster")["companions"]["ticket"] == sha256(b"ticket 2")


def test_a_time_alone_is_no_change(tmp_path: Path, steps: Steps) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", HALF)
    steps.at("publishing recorded", lambda: write_held(shop.root, HALF, unseen=False))
    shop.finish()
    assert_invariants(shop.root, [HALF])
    assert not [event for event, _ in shop.said if event.startswith("changed")]


@pytest.mark.parametrize("step", ["refusal recorded", "refusal logged", "companions put away"])
def test_refused_art_that_changed_is_judged_again(tmp_path: Path, steps: Steps, step: str) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", b"refuse half")
    shop.drop("poster.png.ticket.yaml", b"ticket")

    def die() -> None:
        write_held(shop.root, WHOLE)
        if step != "refusal recorded":
            raise OSError(5, "as if it ended here")

    steps.at(step, die)
    shop.finish()
    assert {path.name for path in files_in(shop.root / "originals")} == {
        "poster.png",
        "poster.png.ticket.yaml",
    }
    job_harness._assert_films(shop.root, [WHOLE])
    assert [p.name for p in files_in(shop.root / "rejected") if p.suffix != ".jsonl"] == []


def test_the_log_of_refusals_has_the_hash_of_what_was_put_away(
    tmp_path: Path, steps: Steps
) -> None:
    shop = Shop(tmp_path)
    shop.drop("poster.png", b"refuse half")
    steps.at("refusal recorded", lambda: write_held(shop.root, b"refuse the whole"))
    shop.finish()
    assert_invariants(shop.root, [b"refuse the whole"])


def gang_of_two(tmp_path: Path) -> Shop:
    shop = Shop(tmp_path, gang=GangWishes(0.1), room=None)
    shop.drop("poster.png", HALF)
    shop.drop("two.png", b"art two")
    return shop


def test_art_of_a_gang_that_changed_before_the_sheet_is_out(tmp_path: Path, steps: Steps) -> None:
    shop = gang_of_two(tmp_path)
    steps.at("sheet named", lambda: write_held(shop.root, WHOLE, unseen=False))
    shop.finish()
    assert_invariants(shop.root, [WHOLE, b"art two"])


def test_art_of_a_gang_that_changed_later_is_made_alone(tmp_path: Path, steps: Steps) -> None:
    shop = gang_of_two(tmp_path)
    steps.at("publishing recorded", lambda: write_held(shop.root, WHOLE))
    shop.finish()
    records = [json.loads(path.read_bytes()) for path in files_in(shop.root / "records")]
    (alone,) = [one for one in records if one["source"]["sha256"] == sha256(WHOLE)]
    sheet = next(one for one in records if one["source"]["sha256"] == sha256(HALF))
    assert sheet["unfinished_art"] is True
    assert alone["unfinished"] == sorted(sheet["film"]["files"].values())
    assert {path.read_bytes() for path in files_in(shop.root / "originals")} == {WHOLE, b"art two"}


# --- killed at the new steps ----------------------------------------------------------------------


def run(root: Path, state: Path, die_at: str, host: str = "here-00000000") -> int:
    return warm_start.run(__file__, root, state, host, FILMHAND_DIE_AT=die_at)


@pytest.mark.parametrize("step", FAILPOINTS_CHANGED)
@pytest.mark.parametrize("deaths", [("1",), ("1", "1"), ("2", "1")])
def test_killed_at_a_step_of_it(tmp_path: Path, step: str, deaths: tuple[str, ...]) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    (root / "drop").mkdir(parents=True)
    contents = {"poster.png": HALF, "poster.png.ticket.yaml": b"ticket"}
    for name, data in contents.items():
        (root / "drop" / name).write_bytes(data)
        os.utime(root / "drop" / name, OLD)
    assert run(root, state, "publishing recorded") == -signal.SIGKILL
    write_held(root, WHOLE)
    for number, count in enumerate(deaths):
        died = run(root, state, f"{step}:{count}")
        # Most steps come once in a job; only films are withdrawn one after the other.
        assert died == -signal.SIGKILL or number > 0 or (count == "2" and step != "film withdrawn")
        assert_invariants_in_hand(root, [WHOLE, b"ticket"])
    assert run(root, state, "") == 0
    assert_invariants(root, [WHOLE, b"ticket"])
    renders = Counter((state / "scratch" / "renders").read_text().split())
    assert max(renders.values()) <= 2 + len(deaths)


@pytest.mark.parametrize("step", FAILPOINTS_CHANGED)
def test_killed_at_a_step_of_it_and_adopted_by_another_host(tmp_path: Path, step: str) -> None:
    root = tmp_path / "small"
    (root / "drop").mkdir(parents=True)
    (root / "drop" / "poster.png").write_bytes(HALF)
    assert run(root, tmp_path / "a", "publishing recorded", "one-00000001") == -signal.SIGKILL
    write_held(root, WHOLE)
    assert run(root, tmp_path / "a", step, "one-00000001") == -signal.SIGKILL
    assert run(root, tmp_path / "b", "", "two-00000002") == 0
    assert_invariants(root, [WHOLE])


if __name__ == "__main__":
    from filmhand.timing import backoff

    backoff.FIRST = 0.1
    job_harness.forbid_removing(Path(sys.argv[1]))
    job_harness.work_through(
        job_harness.make_queue(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
    )
