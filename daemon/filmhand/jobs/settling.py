"""Art that changed after it was taken: what was made of it is withdrawn, and it rests once more.

Whoever had a file open for writing before it was taken can go on writing it in `held/`, and there
are systems that cannot tell of that. So what is put away is compared with what was read. Where the
two differ the art stays in the job's hands until it has come to rest, and is made from its whole
form. A film that a print queue took meanwhile cannot be had back: its record, and that of the film
that comes after it, say that it was made of an unfinished file.

What can be half-done when we die here: some films and records are back in `out/` and some still in
their place, or all are back and job.json still names them. Each is looked for again.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Any

from filmhand.digest import sha256_of
from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import IRREGULAR
from filmhand.errors import FilmhandError
from filmhand.jobs.claim import give_back, identity
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import Decision, Item, Job, Publication, State
from filmhand.jobs.job_words import JobCount, JobWord
from filmhand.jobs.ledger import LARGEST_RECORD
from filmhand.jobs.print_order import ORDERS
from filmhand.jobs.publish import place_of, take_back
from filmhand.language import and_list

UNFINISHED_MARK = {"unfinished_art": True}  # in the record of a film that could not be withdrawn


class ArtChanged(FilmhandError):
    """The art changed after it was taken, and has not come to rest again yet."""


def changed(job: Job) -> bool:
    """True if the job holds other bytes than those that were read."""
    read = {**job.decision.companions, job.taken.art: job.decision.sha256}
    return any(digest and _differs(job, name, digest) for name, digest in read.items())


def _differs(job: Job, name: str, digest: str) -> bool:
    try:
        return job.has(name) and sha256_of(job.held / name) != digest
    except PermissionError:
        return False  # whoever took the right to read it away did not write it on


def judge_again(job: Job, context: JobContext) -> bool:
    """Let refused art that changed since go back to drop; True if nothing of it was put away."""
    context.say("changed after it was taken", job=job.id, name=job.shown)
    if job.put_away.kept:
        job.state = State.RETURNING  # note, ticket and mask may have gone ahead
        job.save()
        failpoint("change noted")
        return False
    give_back(job, context)
    return True


def begin_settling(job: Job) -> None:
    """From here what was made counts as made of an unfinished file."""
    job.state = State.SETTLING
    job.save()
    failpoint("change noted")


def settle_anew(job: Job, context: JobContext) -> None:
    """Take the job from SETTLING to CLAIMED; ArtChanged while its files have not come to rest."""
    if job.publication.items or job.publication.films:
        _take_back(job, context)
    paths = [job.held / name for _, name in job.files()]
    why = context.live.why_wait(paths)
    if why:
        films = [*map(file_names.shown, job.decision.unfinished)]
        if not films:
            raise ArtChanged(JobWord.CHANGED_AFTER.say(why=why))
        row = JobCount.CHANGED_AFTER_FILMS
        raise ArtChanged(row.say(len(films), why=why, films=and_list(films)))
    job.taken.seen = {path.name: identity(path.lstat()) for path in paths}
    job.state = State.CLAIMED
    job.save()
    failpoint("settled again")


def _take_back(job: Job, context: JobContext) -> None:
    gone = _withdraw_films(job, context)
    _fetch_companions(job, context)
    context.say(
        "changed after it was taken",
        job=job.id,
        name=job.shown,
        withdrawn=[i.name for i in job.publication.items if i.kind == "positives"],
        gone=gone,
    )
    unfinished = sorted({*job.decision.unfinished, *gone})
    job.decision, job.publication = Decision(unfinished=unfinished), Publication()
    job.put_away.kept, job.gang.sheet = {}, ""
    job.save()
    failpoint("films withdrawn")


def _withdraw_films(job: Job, context: JobContext) -> list[str]:
    """Bring films, then proofs and records back into out/; the names of films that are gone.

    A sheet stays where it is, for the sake of the other art on it, and counts as gone.
    """
    if job.gang.sheet:
        place = context.folders.place("records", job.sub) / f"{job.publication.stem}.json"
        _mark(place, job)
        return [name for film in job.publication.films for name in _sheet_files(job, film)]
    items = job.publication.items
    printed = _stems_of_orders(
        job, [i for i in items if i.kind == ORDERS and not take_back(job, i, context)]
    )  # these stay in positives/, for what lies on the printer is of them
    gone = [
        i
        for i in items
        if i.kind == "positives" and (Path(i.name).stem in printed or not _back(job, i, context))
    ]
    stems = {Path(item.name).stem for item in gone}
    for item in items:
        if item.kind in {"positives", ORDERS}:
            continue
        if Path(item.name).stem not in stems:
            _back(job, item, context)
        elif item.kind == "records":
            _mark(place_of(job, item, context), job)
    return [item.name for item in gone]


def _stems_of_orders(job: Job, orders: list[Item]) -> set[str]:
    names = {item.name for item in orders}
    return {
        job.publication.stem + film["suffix"]
        for film in job.publication.films
        if film.get("order", {}).get("id") in names
    }


def _sheet_files(job: Job, film: dict[str, Any]) -> list[str]:
    return [job.gang.sheet + Path(source).suffix for source, _ in film["files"].values()]


def _back(job: Job, item: Item, context: JobContext) -> bool:
    """True if the item is in out/, whether it was never published or is brought back now."""
    source, target = job.out / item.source, place_of(job, item, context)
    if source.exists():
        return True
    try:
        if sha256_of(target) != item.sha256:
            return False
        atomic.unpublish(target, source)
    except FileNotFoundError:
        return False
    except OSError as error:
        if error.errno in IRREGULAR:
            return False
        raise
    failpoint("film withdrawn")
    return True


def _mark(record: Any, job: Job) -> None:
    """Let the record of a film that is gone say what it was made of."""
    with contextlib.suppress(FileNotFoundError, ValueError):
        told = forms.read_json(record, LARGEST_RECORD)
        if isinstance(told, dict) and told.get("job") == job.id:
            data = json.dumps(told | UNFINISHED_MARK, indent=2).encode() + b"\n"
            atomic.write_atomic(record, data, shared_by_way_of=job.folder)


def _fetch_companions(job: Job, context: JobContext) -> None:
    """Ticket and mask that went to originals/ ahead of their art come back to it."""
    folder = context.folders.place("originals", job.sub)
    for kind, name in job.files():
        if kind == "art" or job.has(name) or kind not in job.put_away.kept:
            continue
        try:
            atomic.claim_by_rename(folder / job.put_away.kept[kind], job.held / name)
        except FileNotFoundError:
            setattr(job.taken, kind, None)  # somebody took it from there
