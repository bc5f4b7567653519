from __future__ import annotations

import json
import sys
from itertools import pairwise
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))

import job_harness

from filmhand.disk.beneath import Beneath, as_beneath
from filmhand.peers import learning
from filmhand.peers.learning import LEARNED_EVERY, PeerLearning
from filmhand.queue.job_queue import JobQueue


class Shop:
    """Two hosts on one folder, on one clock."""

    def __init__(self, folder: Path) -> None:
        self.now = 0.0
        self.root = folder / "small"
        self.here = self._new_queue(folder / "here", "here-00000000")
        self.there = self._new_queue(folder / "there", "there-11111111")
        for queue in (self.here, self.there):
            queue.look()

    def _new_queue(self, state: Path, host: str) -> JobQueue:
        return job_harness.make_queue(
            self.root, state, host, clock=lambda: self.now, settle=1.0, takeover=1e9
        )

    def work(self, queue: JobQueue, **drops: bytes) -> None:
        """Drop something, which this queue and no other works off."""
        for name, data in drops.items():
            (self.root / "drop" / f"{name}.png").write_bytes(data)
        for _ in range(20):
            self.now += 2.0
            queue.look()
            while (task := queue.take()) is not None:
                queue.do(task)
            queue.look()
            if queue.idle():
                return
        raise AssertionError(queue.status())

    def later(self, minutes: int = 1) -> None:
        for _ in range(minutes):
            self.now += LEARNED_EVERY + 1
            self.here.look()

    def known(self) -> dict[str, int]:
        return self.here.context.ledger.counts()


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def test_what_another_host_made_counts_and_is_the_earlier_film(shop: Shop) -> None:
    shop.work(shop.there, poster=b"art 1", small=b"refuse 2", book=b"pages 3")
    assert shop.known() == {"made": 0, "refused": 0}
    shop.later()
    assert shop.known() == {"made": 2, "refused": 1}
    shop.work(shop.here, again=b"art 1")
    record = json.loads((shop.root / "records" / "again.json").read_bytes())
    assert record["earlier"] == "poster"
    films = {entry.name: entry.about for entry in shop.here.context.ledger.history()}
    assert [film["stem"] for film in films["book.png"]["films"]] == ["book-p01", "book-p02"]


def test_it_goes_on_learning_and_counts_nothing_twice(shop: Shop) -> None:
    for number in range(3):
        shop.work(shop.there, **{f"a{number}": b"art %d" % number, f"b{number}": b"refuse"})
        shop.work(shop.here, **{f"c{number}": b"pages %d" % number})
        shop.later()
        assert shop.known() == {"made": 2 * (number + 1), "refused": number + 1}
    own = shop.there.context.ledger.counts()
    assert own["refused"] == 3  # and what it learned from the other


def test_a_part_is_bounded_and_the_round_comes_to_its_end(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(learning, "RECORDS", 4)
    monkeypatch.setattr(learning, "BYTES", 700)  # one line and a piece of the next
    shop.work(shop.there, **{f"a{number}": b"art %d" % number for number in range(10)})
    shop.work(shop.there, **{f"b{number}": b"refuse %d" % number for number in range(4)})
    steps = []
    for _ in range(7):
        shop.later()
        steps.append(tuple(shop.known().values()))
    made = [made for made, _ in steps]
    assert made[:4] == [4, 8, 10, 10]
    assert steps[-1] == (10, 4)
    assert all(0 <= late[1] - early[1] <= 3 for early, late in pairwise(steps))


def test_what_did_not_change_is_not_read_again(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "_MARGIN", -1.0)  # as if all had come long before the round
    shop.work(shop.there, **{f"a{number}": b"art %d" % number for number in range(5)})
    shop.later()
    read: list[Beneath] = []
    monkeypatch.setattr(learning, "of_record", lambda profile, path, top: read.append(path))
    shop.later(3)
    assert read == []


def test_a_host_that_is_alone_reads_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    queue = job_harness.make_queue(tmp_path / "small", tmp_path / "state")
    queue.look()
    monkeypatch.setattr(learning, "next_files", lambda *_: pytest.fail("it looked"))
    assert PeerLearning("small", queue.context, lambda: 0.0).look() == 0


def test_the_last_words_of_a_host_that_leaves_are_heard(shop: Shop) -> None:
    shop.later()
    shop.work(shop.there, poster=b"art 1")
    shop.there.close()
    assert not shop.here.context.shared()
    shop.later(2)
    assert shop.known()["made"] == 1


def test_a_log_is_read_by_whole_lines_and_pieces_are_skipped(shop: Shop) -> None:
    shop.work(shop.there, small=b"refuse 1")
    log = shop.root / "rejected" / "rejections.there-11111111.jsonl"
    line = log.read_bytes()
    log.write_bytes(line[:50])
    learner = PeerLearning("small", shop.here.context, lambda: shop.now)
    assert learner._refusals(as_beneath(log)) == 0
    log.write_bytes(line[:50] + b"\n" + line)
    assert learner._refusals(as_beneath(log)) == 1
    log.write_bytes(line.replace(b'"job": "2', b'"job": "3'))  # begun anew
    assert learner._refusals(as_beneath(log)) == 1
    assert learner._refusals(as_beneath(log)) == 0


def record(folder: Path, number: int) -> None:
    told = {
        "job": f"20260301T100000-{number:08x}",
        "at": "2026-03-01T10:00:00Z",
        "source": {"name": "a.png", "sha256": "0a" * 32},
        "film": {"files": {"pdf": "a.pdf"}},
    }
    (folder / f"a{number:03}.json").write_text(json.dumps(told))


def refusal(number: int, more: str = "") -> bytes:
    told = {
        "job": f"20260302T100000-{number:08x}", "at": "2026-03-02T10:00:00Z", "name": "b.png",
        "sha256": "", "reason": "blank", "say": "s", "do": "d", "found": None, "needed": None,
        "more": more,
    }  # fmt: skip
    return json.dumps(told).encode() + b"\n"


def test_two_hundred_records_and_a_quarter_of_a_megabyte_are_a_part(shop: Shop) -> None:
    for number in range(201):
        record(shop.root / "records", number)
    line = len(refusal(1))
    logs = refusal(1, "x" * (2**18 - line)) + refusal(2) + refusal(3)
    (shop.root / "rejected" / "rejections.there-11111111.jsonl").write_bytes(logs)
    one = PeerLearning("small", shop.here.context, lambda: shop.now)
    assert one.look() == 201  # 200 records, and the one line that fills the part
    assert shop.known() == {"made": 200, "refused": 1}
    shop.now += LEARNED_EVERY - 1
    assert one.look() == 0
    shop.now += 1
    assert one.look() == 3
    assert shop.known() == {"made": 201, "refused": 3}


def test_what_is_no_line_at_all_is_passed_over(shop: Shop) -> None:
    log = shop.root / "rejected" / "rejections.there-11111111.jsonl"
    log.write_bytes(b"x" * 2**18 + b"\n" + refusal(1) + refusal(2)[:50])
    one = PeerLearning("small", shop.here.context, lambda: shop.now)
    assert one.look() == 0
    shop.now += LEARNED_EVERY
    assert one.look() == 1
    with log.open("ab") as file:
        file.write(refusal(2)[50:])
    shop.now += LEARNED_EVERY
    assert one.look() == 1
    log.write_bytes(refusal(3))  # another log under the same name
    shop.now += LEARNED_EVERY
    assert one.look() == 1
    log.unlink()
    log.mkdir()
    shop.now += LEARNED_EVERY
    assert one.look() == 0


def test_after_the_last_host_left_one_more_round_is_made(shop: Shop) -> None:
    record(shop.root / "records", 1)
    one = PeerLearning("small", shop.here.context, lambda: shop.now)
    assert one.look() == 1
    shop.there.close()
    assert not shop.here.context.shared()
    record(shop.root / "records", 2)
    for news in (1, 0):
        shop.now += LEARNED_EVERY
        assert one.look() == news
    record(shop.root / "records", 3)
    shop.now += LEARNED_EVERY
    assert one.look() == 0  # alone, it reads nothing
    shop.there.look()
    shop.now += 20
    shop.there.look()
    shop.now += LEARNED_EVERY
    assert one.look() == 1
