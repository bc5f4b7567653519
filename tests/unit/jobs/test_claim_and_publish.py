"""Art that is claimed, given back, published and withdrawn, step by step on one job."""

from __future__ import annotations

import errno
import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble
from filmhand.intake.scan import Bundle, Found
from filmhand.jobs import claim, publish, settling
from filmhand.jobs.claim import Gone, NotSettled, claim_art, give_back, new_job
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Item, Job, State
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.settling import ArtChanged, settle_anew
from filmhand.request import JobResult

ID = "20260102T030405-0a1b2c3d"
NAMES = ("a.png", "a.png.ticket.yaml", "a.png.clear.png")


class Bank:
    """A drop folder with a bundle in a sub-folder, and the job that is to take it."""

    def __init__(self, folder: Path) -> None:
        self.said: list[tuple[str, dict[str, Any]]] = []
        folders = Folders(folder / "small")
        folders.make()
        self.context = JobContext(
            folders=folders,
            host="here-00000000",
            ledger=Ledger(folder / "ledger.sqlite"),
            scratch=folder / "scratch",
            render=lambda request: JobResult(),
            why_note=lambda name, refused, is_scan: "",
            say=lambda event, **facts: self.said.append((event, facts)),
        )
        self.folders = folders
        self.drop = folders.drop / "class"
        self.drop.mkdir()
        self.context.own.mkdir()

    def bundle(self, *names: str) -> Bundle:
        found = []
        for name in names or NAMES:
            path = self.drop / name
            path.path.write_text(f"this is {name}")
            found.append(Found(path, ("class",), path.lstat()))
        return Bundle(*found)

    def job(self, *names: str) -> Job:
        return new_job(self.bundle(*names), self.context.own / ID, "small", {"name": "small"})

    def claimed(self) -> Job:
        return claim_art(self.job(), self.context)

    def published(self) -> Job:
        """A job whose record, proof and two films are staged and named."""
        job = self.claimed()
        job.out.mkdir()
        items = []
        for kind, source, name in (
            ("records", "0.record.json", "a.json"),
            ("proofs", "0.proof.jpg", "a.jpg"),
            ("positives", "0.pdf", "a.pdf"),
            ("positives", "0.tif", "a.tif"),
        ):
            data = json.dumps({"job": ID, "of": name}).encode()
            (job.out / source).path.write_bytes(data)
            items.append(Item(source, kind, name, hashlib.sha256(data).hexdigest()))
        job.publication.stem, job.publication.items = "a", items
        job.publication.films = [
            {"suffix": "", "record": {}, "proof": ["0.proof.jpg", items[1].sha256],
             "files": {"pdf": ["0.pdf", items[2].sha256], "tiff": ["0.tif", items[3].sha256]}},
        ]  # fmt: skip
        job.state = State.PUBLISHING
        job.save()
        return job

    def placed(self) -> set[str]:
        return {
            f"{kind}/{name}"
            for kind in ("records", "proofs", "positives")
            for folder in [self.folders.output(kind) / "class"]
            if folder.exists()
            for name in folder.names()
        }


ALL = {"records/a.json", "proofs/a.jpg", "positives/a.pdf", "positives/a.tif"}


@pytest.fixture
def bank(tmp_path: Path) -> Iterator[Bank]:
    one = Bank(tmp_path)
    yield one
    one.context.ledger.close()


# --- claiming -----------------------------------------------------------------------------------


def test_a_bundle_is_taken_whole(bank: Bank) -> None:
    job = bank.claimed()
    assert bank.drop.names() == []
    assert sorted(job.held.names()) == sorted(NAMES)
    assert (job.taken.art, job.taken.ticket, job.taken.mask) == NAMES
    assert (job.sub, job.profile, job.snapshot) == (("class",), "small", {"name": "small"})
    assert Job.load(job.folder).state is State.CLAIMED
    assert all(len(seen) == 3 for seen in job.taken.seen.values())


def test_a_ticket_that_was_taken_away_meanwhile_is_done_without(bank: Bank) -> None:
    job = bank.job()
    (bank.drop / NAMES[1]).unlink()
    claim_art(job, bank.context)
    assert (job.taken.ticket, job.taken.mask) == (None, NAMES[2])
    assert sorted(job.held.names()) == sorted([NAMES[0], NAMES[2]])


def test_art_that_is_gone_leaves_no_job(bank: Bank) -> None:
    job = bank.job()
    (bank.drop / "a.png").unlink()
    with pytest.raises(Gone):
        claim_art(job, bank.context)
    assert bank.context.own.names() == []
    assert sorted(bank.drop.names()) == sorted(NAMES[1:])


@pytest.mark.parametrize("name", ["a.png", "a.png.ticket.yaml"])
@pytest.mark.parametrize(
    ("code", "held"),
    [
        (errno.EBUSY, True),
        (errno.EACCES, True),
        (errno.ETXTBSY, True),
        (errno.EAGAIN, True),
        (errno.EPERM, True),
        (errno.ENOSPC, False),
    ],
)
def test_what_the_system_holds_is_not_settled(
    bank: Bank, monkeypatch: pytest.MonkeyPatch, name: str, code: int, *, held: bool
) -> None:
    """Some systems move no file that somebody has open."""
    job, truly = bank.job(), atomic.claim_by_rename

    def refuse(source: Beneath, target: Beneath) -> None:
        if source.name == name:
            raise OSError(code, "it is held")
        truly(source, target)

    monkeypatch.setattr(atomic, "claim_by_rename", refuse)
    if held:
        with pytest.raises(NotSettled, match="does not let filmhand move") as caught:
            claim_art(job, bank.context)
        assert caught.value.immovable
    else:
        with pytest.raises(OSError, match="it is held"):
            claim_art(job, bank.context)
        monkeypatch.undo()
        if job.folder.exists():
            give_back(job, bank.context)
    assert sorted(bank.drop.names()) == sorted(NAMES)
    assert not job.folder.exists()


@pytest.mark.parametrize("name", NAMES)
def test_what_changed_since_it_settled_goes_back(bank: Bank, name: str) -> None:
    job = bank.job()
    (bank.drop / name).path.write_text("something longer than it was")
    with pytest.raises(NotSettled) as caught:
        claim_art(job, bank.context)
    assert not caught.value.immovable
    assert sorted(bank.drop.names()) == sorted(NAMES)
    assert (bank.drop / name).read_bytes(100) == b"something longer than it was"
    assert bank.context.own.names() == []


def test_another_file_of_the_name_is_not_what_settled(bank: Bank) -> None:
    job = bank.job("a.png")
    seen = job.taken.seen["a.png"]
    job.taken.seen["a.png"] = [*seen[:2], seen[2] + 1]
    with pytest.raises(NotSettled):
        claim_art(job, bank.context)
    assert bank.drop.names() == ["a.png"]


def test_what_goes_back_never_replaces_what_came_since(bank: Bank) -> None:
    job = bank.claimed()
    bank.bundle("a.png")
    give_back(job, bank.context)
    assert not job.folder.exists()
    names = bank.drop.names()
    assert len(names) == 4 and "a.png" in names and "a-2.png" in names


def test_a_folder_that_is_gone_is_made_again_for_what_goes_back(bank: Bank) -> None:
    job = bank.claimed()
    bank.drop.rmdir()
    give_back(job, bank.context)
    assert sorted(bank.drop.names()) == sorted(NAMES)
    job = claim_art(bank.job("a.png"), bank.context)
    for name in bank.drop.names():
        (bank.drop / name).unlink()
    bank.drop.rmdir()
    bank.drop.touch()  # somebody's file has the folder's name
    give_back(job, bank.context)
    assert (bank.folders.drop / "a.png").exists()


# --- publishing ---------------------------------------------------------------------------------


def test_records_come_first_and_films_last(bank: Bank, monkeypatch: pytest.MonkeyPatch) -> None:
    job, order = bank.published(), []
    truly = atomic.publish_no_replace

    def noted(source: Beneath, target: Beneath, *, reserving: bool) -> None:
        order.append((target.name, reserving))
        truly(source, target, reserving=reserving)

    monkeypatch.setattr(atomic, "publish_no_replace", noted)
    publish.publish(job, bank.context)
    assert order == [("a.json", True), ("a.jpg", False), ("a.pdf", False), ("a.tif", False)]
    assert bank.placed() == ALL
    assert job.out.names() == []
    assert Job.load(job.folder).state is State.RETIRING


def test_what_a_queue_took_at_once_is_not_published_again(bank: Bank) -> None:
    job = bank.published()
    publish.publish(job, bank.context)
    (bank.folders.output("positives") / "class" / "a.pdf").unlink()
    job.state = State.PUBLISHING
    publish.publish(job, bank.context)
    assert bank.placed() == ALL - {"positives/a.pdf"}


def test_staged_files_that_were_spoiled_are_made_again(bank: Bank) -> None:
    job = bank.published()
    publish.publish(job, bank.context)
    job.state = State.PUBLISHING
    (job.out / "0.tif").path.write_bytes(b"spoiled")
    publish.publish(job, bank.context)
    assert bank.placed() == {"positives/a.pdf", "positives/a.tif"}  # films are never withdrawn here
    assert (job.state, job.publication.items) == (State.CLAIMED, [])
    assert bank.said[-1][0] == "staged files were spoiled; the films are made again"


def test_a_name_that_somebody_took_is_chosen_anew(bank: Bank) -> None:
    job = bank.published()
    for kind in ("records", "positives"):
        bank.folders.place(kind, ("class",))
    (bank.folders.output("positives") / "class" / "a.pdf").touch()
    publish.publish(job, bank.context)
    assert job.state is State.PUBLISHING
    assert job.publication.stem == "a-2"
    publish.publish(job, bank.context)
    assert bank.placed() == {
        "positives/a.pdf", "records/a-2.json", "proofs/a-2.jpg", "positives/a-2.pdf",
        "positives/a-2.tif",
    }  # fmt: skip


def test_a_name_that_is_taken_after_a_film_is_out_stops(bank: Bank) -> None:
    job = bank.published()
    bank.folders.place("positives", ("class",))
    (bank.folders.output("positives") / "class" / "a.tif").touch()
    with pytest.raises(EnvironmentTrouble, match="in the way of a film of the same job"):
        publish.publish(job, bank.context)
    assert "positives/a.pdf" in bank.placed()


def test_art_that_changed_before_any_film_is_out_settles_anew(bank: Bank) -> None:
    job = bank.published()
    (job.held / "a.png").path.write_text("another picture, longer")
    publish.publish(job, bank.context)
    assert (job.state, job.publication.films) == (State.SETTLING, [])
    assert bank.placed() == set()
    assert bank.said[-1][0] == "changed after it was taken"


def test_art_that_changed_after_a_film_is_out_is_found_when_it_is_put_away(bank: Bank) -> None:
    job = bank.published()
    publish.publish(job, bank.context)
    job.state = State.PUBLISHING
    (job.held / "a.png").path.write_text("another picture, longer")
    publish.publish(job, bank.context)
    assert job.state is State.RETIRING


# --- settling anew ------------------------------------------------------------------------------


def test_only_what_was_read_and_differs_has_changed(bank: Bank) -> None:
    job = bank.claimed()
    digest = hashlib.sha256(b"this is a.png").hexdigest()
    assert not settling.changed(job)  # nothing was read yet
    job.decision.sha256 = digest
    assert not settling.changed(job)
    job.decision.companions = {NAMES[1]: "0a" * 32}
    assert settling.changed(job)
    (job.held / NAMES[1]).unlink()
    assert not settling.changed(job)
    job.decision.sha256 = "0a" * 32
    assert settling.changed(job)


def test_films_are_withdrawn_and_the_art_is_made_again_once_it_rests(bank: Bank) -> None:
    job = bank.published()
    publish.publish(job, bank.context)
    bank.context.live.why_wait = lambda paths: "it is settling"
    settling.begin_settling(job)
    with pytest.raises(ArtChanged, match=r"is made again: it is settling$"):
        settle_anew(job, bank.context)
    assert bank.placed() == set()
    assert sorted(job.out.names()) == ["0.pdf", "0.proof.jpg", "0.record.json", "0.tif"]
    assert bank.said[-1][1]["withdrawn"] == ["a.pdf", "a.tif"]
    assert bank.said[-1][1]["gone"] == []
    bank.context.live.why_wait = lambda paths: ""
    (job.held / "a.png").path.write_text("whole now, and longer")
    settle_anew(job, bank.context)
    assert Job.load(job.folder).state is State.CLAIMED
    assert claim.unchanged(job, "a.png")
    assert job.decision.unfinished == []


def test_a_film_that_is_gone_or_another_is_told(bank: Bank) -> None:
    job = bank.published()
    publish.publish(job, bank.context)
    films = bank.folders.output("positives") / "class"
    (films / "a.pdf").unlink()
    (films / "a.tif").path.write_bytes(b"somebody's own")
    bank.context.live.why_wait = lambda paths: "it is settling"
    settling.begin_settling(job)
    with pytest.raises(ArtChanged, match=r"a\.pdf and a\.tif were made before it was whole"):
        settle_anew(job, bank.context)
    assert job.decision.unfinished == ["a.pdf", "a.tif"]
    assert bank.placed() == {"positives/a.tif", "records/a.json", "proofs/a.jpg"}
    record = json.loads((bank.folders.output("records") / ["class", "a.json"][0] / "a.json")
                        .read_bytes(10_000))  # fmt: skip
    assert record["unfinished_art"] is True and record["job"] == ID


def test_a_record_of_another_job_is_not_marked(bank: Bank) -> None:
    job = bank.claimed()
    place = bank.folders.place("records", ("class",)) / "a.json"
    for text in ('{"job": "other"}', "[]", "{"):
        place.path.write_text(text)
        settling._mark(place, job)
        assert place.path.read_text() == text
    place.unlink()
    settling._mark(place, job)
    assert not place.exists()


def test_a_ticket_that_went_ahead_comes_back_to_its_art(bank: Bank) -> None:
    job = bank.published()
    publish.publish(job, bank.context)
    originals = bank.folders.place("originals", ("class",))
    atomic.move_no_replace(job.held / NAMES[1], originals / "kept.yaml")
    (job.held / NAMES[2]).unlink()
    job.put_away.kept = {"art": "a.png", "ticket": "kept.yaml", "mask": "gone.png"}
    settling.begin_settling(job)
    settle_anew(job, bank.context)
    assert sorted(job.held.names()) == sorted(NAMES[:2])
    assert (job.taken.ticket, job.taken.mask, job.put_away.kept) == (NAMES[1], None, {})
    assert originals.names() == []
