"""Tidying: what goes, what stays whatever happens, and when the clock is not believed."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from filmhand.disk.folders import OUTPUTS, Folders
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import utc_text
from filmhand.jobs.ledger import Entry, Ledger
from filmhand.peers import host
from filmhand.profile.model import Keep
from filmhand.queue import retention
from filmhand.queue.retention import Retention
from filmhand.request import JobResult

DAY = 86400.0
START = datetime(2026, 3, 1, tzinfo=UTC)


@dataclass
class Clocks:
    wall: datetime = START
    steady: float = 0.0

    def pass_(self, **time: float) -> None:
        self.wall += timedelta(**time)
        self.steady += timedelta(**time).total_seconds()


@dataclass
class Shop:
    folders: Folders
    clocks: Clocks
    context: JobContext
    pruner: Retention
    jobs: int = field(default=0)
    same_clock: bool = True  # of the file system and of this computer

    def made(self, stem: str, sub: str = "", job: str = "") -> None:
        """A finished job as it lies in the folders now."""
        self.jobs += 1
        for kind, name, data in (
            ("positives", f"{stem}.pdf", b"film"),
            ("proofs", f"{stem}.jpg", b"proof"),
            ("originals", f"{stem}.png", b"art"),
        ):
            place = self.folders.output(kind).path / sub / name
            place.parent.mkdir(exist_ok=True)
            place.write_bytes(data)
            os.utime(place, (self.clocks.wall.timestamp(),) * 2)
        record = {
            "job": job or f"20260301T100000-{self.jobs:08x}",
            "at": utc_text(self.clocks.wall),
            "film": {"files": {"pdf": f"{stem}.pdf"}},
            "source": {"name": f"{stem}.png", "sha256": "ab" * 32},
        }
        place = self.folders.output("records").path / sub / f"{stem}.json"
        place.parent.mkdir(exist_ok=True)
        place.write_text(json.dumps(record))
        os.utime(place, (self.clocks.wall.timestamp(),) * 2)

    def left(self) -> list[str]:
        return sorted(
            str(path.relative_to(self.folders.root))
            for kind in OUTPUTS
            for path in self.folders.output(kind).path.rglob("*")
            if path.is_file()
        )

    def tidy(self, **keep: float) -> dict[str, int]:
        if self.same_clock:
            alive = self.folders.hidden.path / self.context.host / "alive"
            os.utime(alive, (self.clocks.wall.timestamp(),) * 2)
        return dict(self.pruner.tidy(Keep(**{key: days * DAY for key, days in keep.items()})))


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    monkeypatch.setattr(retention, "SELDOM", retention.OFTEN)
    folders, clocks = Folders(tmp_path / "small"), Clocks()
    folders.make()
    host.sign_of_life(folders.hidden, "here-00000000")
    context = JobContext(
        folders=folders,
        host="here-00000000",
        ledger=Ledger(tmp_path / "ledger.sqlite"),
        scratch=tmp_path,
        render=lambda request: JobResult(),
        why_note=lambda name, refused, is_scan: "",
        now=lambda: clocks.wall,
    )
    return Shop(folders, clocks, context, Retention(context, lambda: clocks.steady))


def test_by_default_everything_stays_for_ever(shop: Shop) -> None:
    shop.made("a")
    before = shop.left()
    shop.clocks.pass_(days=36500)
    assert shop.tidy() == {}
    assert shop.left() == before


def test_films_and_proofs_go_after_their_time_and_no_sooner(shop: Shop) -> None:
    shop.made("a", "class")
    shop.clocks.pass_(days=29, hours=23)
    shop.made("b")
    assert shop.tidy(films=30, proofs=60) == {}
    shop.clocks.pass_(hours=1)
    assert shop.tidy(films=30, proofs=60) == {"positives": 1}
    assert shop.left() == [
        "originals/b.png",
        "originals/class/a.png",
        "positives/b.pdf",
        "proofs/b.jpg",
        "proofs/class/a.jpg",
        "records/b.json",
        "records/class/a.json",
    ]
    shop.clocks.pass_(days=31)
    assert shop.tidy(films=30, proofs=60) == {"positives": 1, "proofs": 1}


def test_a_record_stays_while_its_film_may_still_have_to_go(shop: Shop) -> None:
    shop.made("a")
    shop.clocks.pass_(days=10)
    assert shop.tidy(films=20, records=5) == {}
    shop.clocks.pass_(days=10)
    assert shop.tidy(films=20, records=5) == {"positives": 1, "records": 1}
    assert shop.left() == ["originals/a.png", "proofs/a.jpg"]


def test_a_record_goes_though_its_film_stays_for_ever(shop: Shop) -> None:
    shop.made("a")
    shop.clocks.pass_(days=10)
    assert shop.tidy(records=5) == {"records": 1}
    assert "positives/a.pdf" in shop.left()


def of_set(shop: Shop, stem: str, k: int, ink: str) -> None:
    shop.made(f"{stem}-{k}-{ink}")
    place = shop.folders.output("records").path / f"{stem}-{k}-{ink}.json"
    part = {"id": "ab", "k": k, "of": 2, "ink": ink, "color": [50.0, 0.0, 0.0]}
    place.write_text(json.dumps(json.loads(place.read_text()) | {"set": part}))
    os.utime(place, (shop.clocks.wall.timestamp(),) * 2)


def proof_of_set(shop: Shop, stem: str) -> None:
    path = shop.folders.output("proofs").path / f"{stem}.jpg"
    path.write_bytes(b"proof")
    os.utime(path, (shop.clocks.wall.timestamp(),) * 2)


def test_the_proof_of_a_set_goes_with_those_of_its_films(shop: Shop) -> None:
    of_set(shop, "a", 1, "red")
    of_set(shop, "a", 2, "blue")
    proof_of_set(shop, "a")
    shop.clocks.pass_(days=9)
    assert shop.tidy(proofs=10) == {}
    shop.clocks.pass_(days=1)
    assert shop.tidy(proofs=10) == {"proofs": 3}
    assert not [name for name in shop.left() if name.startswith("proofs/")]


def test_the_proof_of_a_set_is_never_left_alone(shop: Shop) -> None:
    of_set(shop, "a", 1, "red")
    proof_of_set(shop, "a")
    later = shop.clocks.wall.timestamp() + 3600
    os.utime(shop.folders.output("proofs").path / "a.jpg", (later, later))
    shop.clocks.pass_(days=10)
    assert shop.tidy(proofs=10) == {}
    shop.clocks.pass_(days=1)
    assert shop.tidy(proofs=10) == {"proofs": 2}


def test_the_proof_of_another_film_stays_though_it_is_called_like_a_set(shop: Shop) -> None:
    of_set(shop, "a", 1, "red")
    shop.clocks.pass_(days=9)
    shop.made("a")
    shop.clocks.pass_(days=1)
    assert shop.tidy(proofs=10) == {"proofs": 1}
    assert "proofs/a.jpg" in shop.left()


def test_what_is_not_filmhands_is_left_alone(shop: Shop) -> None:
    shop.made("a")
    (shop.folders.output("positives").path / "a.txt").write_text("somebody's notes on a")
    (shop.folders.output("positives").path / "mine.pdf").write_text("somebody's own film")
    (shop.folders.output("records").path / "odd.json").write_text("[1]")
    (shop.folders.output("records").path / "older.json").write_text('{"at": "yesterday"}')
    shop.clocks.pass_(days=100)
    assert shop.tidy(films=1, proofs=1, records=1) == {"positives": 1, "proofs": 1, "records": 1}
    assert shop.left() == [
        "originals/a.png",
        "positives/a.txt",
        "positives/mine.pdf",
        "records/odd.json",
        "records/older.json",
    ]


def test_refused_art_is_never_touched(shop: Shop) -> None:
    for name in ("b.gif", "b.gif.why.txt", "rejections.jsonl"):
        (shop.folders.rejected.path / name).write_text("x")
    shop.clocks.pass_(days=3650)
    shop.tidy(films=1, proofs=1, records=1, originals=1)
    assert len(list(shop.folders.rejected.iterdir())) == 3


def test_a_job_that_is_not_finished_keeps_everything(shop: Shop) -> None:
    shop.made("a", job="20260301T100000-00000001")
    (shop.folders.hidden.path / "other-0000000a" / "20260301T100000-00000001").mkdir(parents=True)
    shop.clocks.pass_(days=100)
    assert shop.tidy(films=1, proofs=1, records=1) == {}


def test_originals_go_only_if_asked_and_by_both_clocks(shop: Shop) -> None:
    shop.made("a")
    alive = shop.folders.hidden.path / shop.context.host / "alive"
    real = (shop.folders.output("originals").path / "a.png").stat().st_ctime
    later = datetime.fromtimestamp(real, UTC) + timedelta(days=40)
    shop.clocks.wall = later
    shop.pruner = Retention(shop.context, lambda: shop.clocks.steady)
    shop.same_clock = False
    assert shop.tidy(originals=30) == {}  # only this computer's clock says that it is time
    os.utime(alive, (later.timestamp(),) * 2)
    shop.clocks.pass_(hours=2)
    assert shop.tidy(films=1) == {"positives": 1}
    shop.clocks.pass_(hours=2)
    assert shop.tidy(originals=30) == {"originals": 1}
    assert shop.left() == ["proofs/a.jpg", "records/a.json"]


def test_a_link_among_the_originals_is_left_alone(shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "theirs.png").write_bytes(b"x")
    link = shop.folders.output("originals").path / "link.png"
    link.symlink_to(tmp_path / "theirs.png")
    later = datetime.now(UTC) + timedelta(days=400)
    shop.clocks.wall = later
    os.utime(shop.folders.hidden.path / shop.context.host / "alive", (later.timestamp(),) * 2)
    shop.pruner = Retention(shop.context, lambda: shop.clocks.steady)
    assert shop.tidy(originals=30) == {}
    assert link.is_symlink() and (tmp_path / "theirs.png").exists()


def test_a_clock_behind_the_newest_job_stops_the_tidying(shop: Shop) -> None:
    shop.made("a")
    shop.clocks.pass_(days=100)
    ahead = utc_text(shop.clocks.wall + timedelta(minutes=10))
    shop.context.ledger.note(Entry("j", ahead, "small", "made", "b.png", "", "b", {}))
    assert shop.tidy(films=1) == {}
    assert "lies behind" in shop.pruner.why_not
    shop.clocks.pass_(hours=2)
    assert shop.tidy(films=1) == {"positives": 1}
    assert shop.pruner.why_not == ""


def test_another_hosts_clock_that_is_a_minute_ahead_stops_nothing(shop: Shop) -> None:
    shop.made("a")
    shop.clocks.pass_(days=100)
    ahead = utc_text(shop.clocks.wall + timedelta(minutes=1))
    shop.context.ledger.note(Entry("j", ahead, "small", "made", "b.png", "", "b", {}))
    assert shop.tidy(films=1) == {"positives": 1}


@pytest.mark.parametrize("kind", ["films", "proofs", "records"])
def test_what_a_host_made_whose_clock_lay_behind_is_not_old(shop: Shop, kind: str) -> None:
    """Its record tells of another day; the file system knows better, and tidying starts anew."""
    shop.clocks.wall -= timedelta(days=100)
    shop.made("a")
    shop.clocks.wall += timedelta(days=100)
    for place in ("positives/a.pdf", "proofs/a.jpg", "records/a.json"):
        os.utime(shop.folders.root / place, (shop.clocks.wall.timestamp(),) * 2)
    shop.pruner = Retention(shop.context, lambda: shop.clocks.steady)
    assert shop.tidy(**{kind: 30}) == {}
    shop.clocks.pass_(days=29)
    assert shop.tidy(**{kind: 30}) == {}
    shop.clocks.pass_(days=2)
    assert sum(shop.tidy(**{kind: 30}).values()) == 1


@pytest.mark.parametrize("days", [400, -400])
def test_a_clock_that_jumps_is_not_believed_for_a_day(shop: Shop, days: int) -> None:
    shop.made("a")
    shop.clocks.pass_(hours=2)
    assert shop.tidy(films=30) == {}
    shop.clocks.wall += timedelta(days=days)  # while the steady clock goes on as ever
    shop.clocks.pass_(hours=2)
    assert shop.tidy(films=30) == {}
    assert "jumped" in shop.pruner.why_not
    shop.clocks.wall -= timedelta(days=days)  # put right again
    shop.clocks.pass_(hours=2)
    assert shop.tidy(films=30) == {}
    shop.clocks.pass_(days=2)
    assert shop.tidy(films=30) == {}
    assert shop.pruner.why_not == ""
    assert "positives/a.pdf" in shop.left()


@pytest.mark.parametrize(
    ("days", "gap"), [(0.05, 3600), (1, 3600), (3, 3 * 2880), (30, DAY), (3650, DAY)]
)
def test_rounds_come_the_seldomer_the_longer_things_are_kept(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, days: float, gap: float
) -> None:
    monkeypatch.setattr(retention, "SELDOM", DAY)
    shop.made("a")
    assert shop.tidy(films=days, proofs=days * 2) == {}
    shop.clocks.pass_(seconds=days * DAY)
    shop.pruner._next = shop.clocks.steady + gap  # as the first round has set it now
    assert retention._gap(Keep(films=days * DAY, proofs=days * 2 * DAY)) == gap
    shop.clocks.pass_(seconds=gap - 1)
    assert shop.tidy(films=days, proofs=days * 2) == {}
    shop.clocks.pass_(seconds=1)
    assert shop.tidy(films=days, proofs=days * 2)["positives"] == 1


def test_rounds_are_bounded(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(retention, "LOOKED_AT", 3)
    for number in range(8):
        shop.made(f"{number}")
    shop.clocks.pass_(days=2)
    assert shop.tidy(films=1) == {"positives": 3}
    assert shop.tidy(films=1) == {}  # not due
    removed = []
    for _ in range(3):
        shop.clocks.pass_(hours=1)
        removed.append(shop.tidy(films=1).get("positives", 0))
    assert removed == [3, 2, 0]


def test_young_films_do_not_keep_later_ones_from_being_looked_at(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(retention, "LOOKED_AT", 3)
    shop.made("z-old")
    shop.clocks.pass_(days=2)
    for number in range(7):
        shop.made(f"{number}")
    total = 0
    for _ in range(4):
        total += shop.tidy(films=1).get("positives", 0)
        shop.clocks.pass_(hours=1)
    assert total == 1


def test_a_film_that_several_share_goes_once_and_then_all_their_records(shop: Shop) -> None:
    # The film has the stem of the first record; the second only names it.
    shop.made("a-and-1-more")
    shop.made("b")
    (shop.folders.output("positives").path / "b.pdf").unlink()
    second = shop.folders.output("records").path / "b.json"
    told = json.loads(second.read_bytes())
    told["film"]["files"] = {"pdf": "a-and-1-more.pdf"}
    second.write_text(json.dumps(told))
    os.utime(second, (shop.clocks.wall.timestamp(),) * 2)
    shop.clocks.pass_(days=10)
    assert shop.tidy(films=20, records=5) == {}
    shop.clocks.pass_(days=10)
    assert shop.tidy(films=20, records=5) == {"positives": 1, "records": 2}


def test_nothing_goes_while_its_job_is_in_hand_inside_a_gang(shop: Shop) -> None:
    shop.made("a", job="20260301T100000-00000001")
    gang = shop.folders.hidden.path / "there-00000001" / "20260301T100000-0000000a"
    member = gang / "20260301T100000-00000001"
    (member / "held").mkdir(parents=True)
    for place in (gang, member, member / "held"):  # a customer may call a file so
        (place / "job.json").write_text("{}")
    shop.clocks.pass_(days=60)
    assert shop.tidy(films=30) == {}
    shutil.rmtree(gang)
    shop.clocks.pass_(days=1)
    assert shop.tidy(films=30) == {"positives": 1}


@pytest.fixture
def rounds(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """One number for each part of a round."""
    seen: list[float] = []

    def noted(folders: Folders) -> set[str]:
        seen.append(len(seen))
        return set()

    monkeypatch.setattr(retention, "jobs_in_hand", noted)
    return seen


def test_between_two_rounds_nothing_is_looked_at(shop: Shop, rounds: list[float]) -> None:
    shop.made("a")
    for seconds, count in ((0, 1), (0, 1), (3599, 1), (1, 2), (3600, 3)):
        shop.clocks.pass_(seconds=seconds)
        shop.tidy(films=1)
        assert len(rounds) == count
    assert shop.tidy() == {}
    assert len(rounds) == 3


def test_a_round_goes_on_after_a_minute(
    shop: Shop, rounds: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(retention, "LOOKED_AT", 3)
    for number in range(8):
        shop.made(f"{number}")
    for seconds, count in ((0, 1), (59, 1), (1, 2), (60, 3), (60, 3), (3539, 3), (1, 4)):
        shop.clocks.pass_(seconds=seconds)
        shop.tidy(films=1)
        assert len(rounds) == count


def test_five_hundred_files_of_a_kind_are_looked_at_in_a_part(shop: Shop) -> None:
    for number in range(501):
        (shop.folders.output("originals").path / f"{number}.png").touch()
    shop.clocks.wall = datetime.now(UTC) + timedelta(days=3)
    shop.pruner = Retention(shop.context, lambda: shop.clocks.steady)
    assert shop.tidy(originals=1) == {"originals": 500}
    shop.clocks.pass_(minutes=1)
    assert shop.tidy(originals=1) == {"originals": 1}


@pytest.mark.parametrize(("seconds", "behind"), [(300, False), (301, True)])
def test_how_far_a_clock_may_lie_behind(shop: Shop, seconds: int, *, behind: bool) -> None:
    ahead = utc_text(shop.clocks.wall + timedelta(seconds=seconds))
    shop.context.ledger.note(Entry("j", ahead, "small", "made", "b.png", "", "b", {}))
    shop.tidy(films=1)
    assert bool(shop.pruner.why_not) is behind


@pytest.mark.parametrize("seconds", [3600, -3600, 3601, -3601])
def test_how_far_the_clocks_may_part(shop: Shop, seconds: int) -> None:
    shop.clocks.wall += timedelta(seconds=seconds)
    shop.tidy(films=1)
    assert ("jumped" in shop.pruner.why_not) is (abs(seconds) > 3600)
    shop.clocks.pass_(seconds=86_399)
    shop.tidy(films=1)
    assert ("jumped" in shop.pruner.why_not) is (abs(seconds) > 3600)
    shop.clocks.pass_(seconds=3600)
    shop.tidy(films=1)
    assert shop.pruner.why_not == ""


@pytest.mark.parametrize("suffix", [".jpg", ".png"])
def test_a_record_stays_while_a_proof_of_either_kind_may_still_have_to_go(
    shop: Shop, suffix: str
) -> None:
    shop.made("a")
    proofs = shop.folders.output("proofs").path
    (proofs / "a.jpg").rename(proofs / f"a{suffix}")
    shop.clocks.pass_(days=2)
    assert shop.tidy(records=1, proofs=30) == {}
    (proofs / f"a{suffix}").unlink()
    shop.clocks.pass_(days=2)
    assert shop.tidy(records=1, proofs=30) == {"records": 1}
