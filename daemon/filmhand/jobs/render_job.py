"""From claimed art to finished films in the job's folder, or to a refusal.

What can be half-done when we die here: copies in the scratch folder, which is emptied at the start,
and files in `out/` that no job.json names yet, which the next try writes anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import asdict
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from filmhand.digest import sha256_of
from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath, as_beneath
from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.jobs.claim import NotSettled, give_back, unchanged
from filmhand.jobs.context import MAX_STRIKES, JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.film_sets import place_in_set, stem_of_set
from filmhand.jobs.job import Hold, Item, Job, State, utc_text, whose_film
from filmhand.jobs.job_words import JobCount, JobRefusal, JobWord
from filmhand.jobs.ledger import of_record
from filmhand.jobs.print_order import ORDERS, Order, PrintDocument, new_print_id
from filmhand.jobs.scratch import scratch_folder
from filmhand.jobs.wedge_scans import copy_earlier, own_digits, readings_folder, time_of_reading
from filmhand.language import and_list
from filmhand.profile.model import Profile
from filmhand.request import FinishedFilm, JobRequest, JobResult
from filmhand.worker.parent import WorkerDied
from filmhand.worker.wire import refusal_to_json

_BLOCK = 1 << 20
NOT_SURE = {"earlier_known": False}  # in a record whose `earlier` is null for want of a ledger
_SAME_NAME = 50  # films that are looked at for one of the same art
NOTE_SUFFIX = file_names.WHY_END.rpartition(".")[0]  # as the note's name counts as a stem
_KIND = {"record": "records", "proof": "proofs", "film": "positives"}


def render_job(job: Job, context: JobContext) -> None:
    """Take the job from CLAIMED to HELD, PUBLISHING or REJECTING.

    WorkerDied leaves it with a strike.
    """
    # Scans are read on this computer: no cluster knows how, and they are few.
    workers = None if job.taken.is_scan else context.live.workers
    with scratch_folder(job, context, shared=workers is not None) as scratch:
        copy = scratch / "art"
        try:
            if job.decision.refusal is None:
                job.decision.sha256 = copy_unchanged(job, job.taken.art, copy)
                request = request_of(job, context, scratch, workers)
            else:
                job.decision.sha256 = copy_unchanged(job, job.taken.art, None)
        except NotSettled:
            if job.decision.unfinished:  # the job is to tell of films that it made too early
                job.state = State.SETTLING
                job.save()
                return
            give_back(job, context)
            raise
        except OSError:
            if (job.decision.refusal or {}).get("reason") != Reason.UNREADABLE:
                raise  # else it is refused because of that, without a hash
        failpoint("art copied")
        made = JobResult()
        if job.decision.refusal is None:
            made = _rendered(job, context, request)
        if job.decision.refusal is not None:
            job.state = State.REJECTING
            job.decision.at = utc_text(context.now())
            job.save()
            failpoint("refusal recorded")
            return
        failpoint("films made")
        if job.taken.is_scan:
            stage_reading(job, context, made.reading)
        else:
            stage(job, context, made)


def _rendered(job: Job, context: JobContext, request: JobRequest) -> JobResult:
    """What a worker makes of the art; nothing where that ends in a refusal."""
    try:
        return context.render(request)
    except Refused as refused:
        job.decision.refusal = refusal_to_json(refused)
    except WorkerDied as died:
        _strike(job, context, died)
        if job.decision.refusal is None:
            raise
    return JobResult()


def copy_unchanged(job: Job, name: str, target: Beneath | None) -> str:
    """Read a held file once, copy it if asked, and return its SHA-256; it must not change."""
    digest = hashlib.sha256()
    with (job.held / name).open() as source, contextlib.ExitStack() as stack:
        copy = None if target is None else stack.enter_context(target.open_new())
        while block := source.read(_BLOCK):
            digest.update(block)
            if copy is not None:
                copy.write(block)
    if not unchanged(job, name):
        raise NotSettled(JobWord.CHANGED_IN_READING.say())
    return digest.hexdigest()


def request_of(
    job: Job, context: JobContext, scratch: Beneath, workers: str | None = None
) -> JobRequest:
    """What the renderer gets; the art has been copied, the companions are copied here."""
    paths: dict[str, Path] = {}
    for kind, name in job.files():
        if kind != "art":
            copy = scratch / ("art" + file_names.companion_end(name))
            job.decision.companions[name] = copy_unchanged(job, name, copy)
            paths[kind] = copy.path
    return JobRequest(
        art=scratch.path / "art",
        name=job.taken.art,
        sub="/".join(map(file_names.shown, job.sub)),
        profile=context.profile_of(job.snapshot),
        ticket=paths.get("ticket"),
        mask=paths.get("mask"),
        out=scratch.path / "out",
        scratch=scratch.path / "work",
        job=job.id,
        workers=workers,
        progress=partial(context.live.progress, job.id),
        documents=True,
        is_scan=job.taken.is_scan,
        earlier=copy_earlier(job, context, scratch) if job.taken.is_scan else (),
    )


def _strike(job: Job, context: JobContext, died: WorkerDied) -> None:
    job.strikes += 1
    context.counts.add(strikes=1)
    context.say("worker failed", job=job.id, name=job.shown, how=died.how, strikes=job.strikes)
    if job.strikes >= MAX_STRIKES:
        job.decision.refusal = refusal_to_json(crashed(context.log, is_bug=died.is_bug))
    else:
        job.save()


def strike_for_bug(job: Job, context: JobContext) -> bool:
    """Count a fault of filmhand itself against art that is being worked on; False in other states.

    A gang gets no strike, but parts: made one by one, its members show whose fault it is.
    """
    if job.state is State.GANGED:
        job.state = State.PARTING
    elif job.state is not State.CLAIMED:
        return False
    job.strikes += not job.gang.members
    if job.strikes >= MAX_STRIKES:
        job.decision.refusal = refusal_to_json(crashed(context.log, is_bug=True))
    job.save()
    return True


def crashed(log: Path | None = None, *, is_bug: bool = False) -> Refused:
    """The refusal of art over which a worker died too often; a bug is not the art's fault."""
    row = JobRefusal.FAILED_ITSELF if is_bug else JobRefusal.FAILED
    return row.refused(log=JobWord.ITS_LOG.say() if log is None else log)


def stage(job: Job, context: JobContext, result: JobResult) -> None:
    """Copy finished films into the job's folder, choose their stem, and record both."""
    films = result.films
    empty_out(job)
    job.publication.films = [_stage_one(job, film, count) for count, film in enumerate(films)]
    job.publication.sets = [
        {"suffix": one.suffix, "proof": _stage_proof(job, f"set{count}", one.proof)}
        for count, one in enumerate(result.sets)
    ]
    stage_orders(job, films, context.now())
    job.decision.at = utc_text(context.now())
    job.decision.earlier, sure = earlier_film(job, context)
    for film in job.publication.films if not sure else ():
        film["record"] = {**film["record"], **NOT_SURE}
    for film in job.publication.films:
        film["record"] = unfinished_told(film["record"], job.decision.unfinished)
    profile = context.profile_of(job.snapshot)
    job.hold = hold_of(job, profile, [film.record for film in films])
    failpoint("films staged")
    give_names(job, context)


def stage_reading(job: Job, context: JobContext, files: Mapping[str, Path]) -> None:
    """Copy what was read of a wedge into the job's folder, name it, and save as PUBLISHING.

    The curve comes last, so that none is in force before its plot and its figures are there.
    """
    context.folders.make_for_reading(readings_folder(job, context))
    empty_out(job)
    job.decision.at = utc_text(time_of_reading(job, context))
    ends = sorted(files, key=lambda end: (end == ".txt", end))
    job.publication.items = [
        Item(f"reading{end}", "curves", "", copy_durably(files[end], job.out / f"reading{end}"))
        for end in ends
    ]
    failpoint("films staged")
    name_reading(job)


def name_reading(job: Job, number: int = 1) -> None:
    """Name a reading after its time and the job, so that no two have one name, and save it."""
    job.publication.stem = reading_stem(job, number)
    for item in job.publication.items:
        item.name = job.publication.stem + Path(item.source).suffix
    job.state = State.PUBLISHING
    job.save()
    failpoint("names recorded")


def reading_stem(job: Job, number: int) -> str:
    """When it was read, and what makes the job's id one of its own.

    The newest of all by name is in force, so day and time must be of the same moment: a scan may
    have been taken on the day before.
    """
    day, _, time = job.decision.at.removesuffix("Z").partition("T")
    return numbered_stem(f"{day}-{time.replace(':', '')}-{own_digits(job)}", number)


def hold_of(
    job: Job, profile: Profile, records: list[dict[str, Any]], *, one_sheet: bool = False
) -> Hold:
    """What is known at first of how these films wait, and how many sheets they take.

    Nothing is held or counted where the profile neither prints nor asks for it. `one_sheet`: the
    records are of art that shares one film; nobody's sheets they are if they are of several people.
    A job that was counted before, and is made again, keeps its day.
    """
    if not (profile.approve or profile.budget or profile.print):
        return Hold()
    people = {str(record.get("for") or "") for record in records}
    copies = [max(1, int(record.get("copies") or 1)) for record in records]
    sheets = max(copies) if one_sheet else sum(copies)
    return Hold(
        approve=profile.approve,
        sheets=sheets * profile.film.stack * (profile.print.copies if profile.print else 1),
        person=people.pop() if len(people) == 1 else "",
        day=job.hold.day,
    )


def unfinished_told(record: dict[str, Any], unfinished: list[str]) -> dict[str, Any]:
    """A film's record, with what is known of films that were made of the same art too early."""
    if not unfinished:
        return record
    shown = [file_names.shown(name) for name in unfinished]
    note = JobCount.DO_NOT_USE.say(len(shown), films=and_list(shown))
    return {**record, "unfinished": shown, "notes": [*record.get("notes", []), note]}


def earlier_film(job: Job, context: JobContext) -> tuple[str | None, bool]:
    """The stem of the newest film that was made of the same art before, and whether that is sure.

    A ledger that was lost may not know yet. Then the films of the same name are looked at, and that
    there is none is not sure.
    """
    found = context.ledger.earlier(job.profile, job.decision.sha256, but=job.id)
    if found is not None or not context.ledger.fresh:
        return found, True
    records = context.folders.output("records").joinpath(*job.sub)
    clean = file_names.clean_stem(job.taken.art)
    for count in range(1, _SAME_NAME + 1):
        path = records / f"{numbered_stem(clean, count)}.json"
        entry = of_record(job.profile, path, context.folders.output("records"))
        if entry is None:
            break
        if entry.sha256 == job.decision.sha256 and entry.job != job.id:
            found = entry.stem
    return found, found is not None


def empty_out(job: Job) -> None:
    """The folder of finished files, empty; an error if what is there is not filmhand's own."""
    if job.out.exists():
        job.out.rmtree()
    job.out.mkdir()


def _stage_one(job: Job, film: FinishedFilm, count: int) -> dict[str, Any]:
    staged: dict[str, Any] = {"suffix": film.suffix, "record": film.record, "files": {}}
    for form, path in film.files.items():
        target = job.out / f"{count}{path.suffix}"
        staged["files"][str(form)] = [target.name, copy_durably(path, target)]
    staged["proof"] = _stage_proof(job, str(count), film.proof)
    return staged


def _stage_proof(job: Job, name: str, proof: Path) -> list[str]:
    target = job.out / f"{name}.proof{proof.suffix}"
    return [target.name, copy_durably(proof, target)]


def stage_orders(job: Job, films: list[FinishedFilm], now: datetime) -> None:
    """Make the folder of each print order in `out/`; their order.json comes with the names.

    The films of a set are printed in one run, as far as they are ordered now.
    """
    digits = file_names.random_digits()
    runs: dict[str, list[dict[str, Any]]] = {}
    for count, film in enumerate(films):
        if film.printing is None or film.suffix in job.decision.ordered:
            continue
        folder = job.out / new_print_id(now, count + 1, digits)
        folder.mkdir()
        documents = {}
        for form, path in film.printing.documents.items():
            target = folder / f"film{path.suffix}"
            digest = copy_durably(path, target)
            documents[str(form)] = asdict(PrintDocument(target.name, digest, path.stat().st_size))
        order = {**asdict(film.printing), "id": folder.name, "documents": documents}
        job.publication.films[count]["order"] = order
        if (place := place_in_set(film.record)) is not None:
            runs.setdefault(place["id"], []).append(order)
    for run in runs.values():
        for number, order in enumerate(run, 1):
            order |= {"run": run[0]["id"], "place": number, "of": len(run)}


def copy_durably(source: Path, target: Beneath) -> str:
    """Copy a finished file into the job's folder, and return its SHA-256; it is read again."""
    with as_beneath(source).open() as file:
        data = file.read()
    atomic.write_atomic(target, data)
    wanted = hashlib.sha256(data).hexdigest()
    if sha256_of(target) != wanted:
        raise EnvironmentTrouble(JobWord.NOT_KEPT.say(target=target))
    return wanted


def give_names(job: Job, context: JobContext, *, afresh: bool = False) -> None:
    """Choose a free stem for all films, write their records, and save as PUBLISHING.

    `afresh`: a name proved to be taken, so what is remembered of the folders is out of date.
    """
    clean = file_names.clean_stem(job.taken.art)
    sets = job.publication.sets  # their proofs have names too
    suffixes = [one["suffix"] for one in (*job.publication.films, *sets)]
    if job.hold.waits:
        suffixes.append(NOTE_SUFFIX)  # one note in held/, whatever the films are called
    count = free_number(job, context, clean, suffixes, afresh=afresh)
    job.publication.stem = numbered_stem(clean, count)
    records = []
    for number, film in enumerate(job.publication.films):
        stem = job.publication.stem + film["suffix"]
        record = dict(film["record"])
        record["film"] = {**record.get("film", {}), "files": final_names(film, stem)}
        source = f"{number}.{count}.record.json"
        earlier = job.decision.earlier
        records.append(write_record(job, source, record, stem=stem, of=job.id, earlier=earlier))
    orders = [
        write_order(job, film, job.publication.stem + film["suffix"])
        for film in job.publication.films
        if "order" in film
    ]
    proofs = [*proofs_of_sets(job), *_items(job, "proof")]
    job.publication.items = [*records, *proofs, *orders, *_items(job, "film")]
    job.state = State.HELD if job.hold.waits else State.PUBLISHING
    job.save()
    failpoint("names recorded")


def numbered_stem(clean: str, count: int) -> str:
    """The stem for count 1; else with -2, -3 ..."""
    return clean if count == 1 else f"{clean}-{count}"


def free_number(
    job: Job,
    context: JobContext,
    clean: str,
    suffixes: Collection[str] = ("",),
    *,
    besides: Collection[str] = (),
    afresh: bool,
) -> int:
    """The number under which all the job's films find free stems, `besides` those."""
    folders = [context.folders.place(kind, job.sub) for kind in _KIND.values()]
    held = context.folders.held.joinpath(*job.sub)  # a film keeps the name of its proof there
    return context.stems.first_free(
        [*folders, held] if held.is_dir() else folders,
        lambda number: [numbered_stem(clean, number) + suffix for suffix in suffixes],
        besides=besides,
        afresh=afresh,
    )


def _items(job: Job, what: str) -> list[Item]:
    items = []
    for film in job.publication.films:
        staged = [film["proof"]] if what == "proof" else film["files"].values()
        for source, digest in staged:
            name = job.publication.stem + film["suffix"] + Path(source).suffix
            items.append(Item(source, _KIND[what], name, digest))
    return items


def proofs_of_sets(job: Job) -> list[Item]:
    """The proof of each set, under the stem that the names of its films begin with."""
    found = []
    for one in job.publication.sets:
        source, digest = one["proof"]
        name = job.publication.stem + one["suffix"] + Path(source).suffix
        found.append(Item(source, _KIND["proof"], name, digest))
    return found


def final_names(film: dict[str, Any], stem: str) -> dict[str, str]:
    """The name of each form of a staged film."""
    return {form: stem + Path(source).suffix for form, (source, _) in film["files"].items()}


def write_order(job: Job, film: dict[str, Any], stem: str) -> Item:
    """Write the order.json of a staged film; its folder is one thing to publish."""
    wanted = dict(film["order"])
    documents = {form: PrintDocument(**one) for form, one in wanted.pop("documents").items()}
    if job.gang.members:  # nobody's where it is shared by several people
        person = whose_film(job.hold.person)
    else:
        person = whose_film(film["record"].get("for"), job.sub)
    place = place_in_set(film.get("record", {}))
    order = Order(
        folder=job.out / wanted.pop("id"),
        id=film["order"]["id"],
        job=job.id,
        profile=job.profile,
        sub=list(job.sub),
        stem=stem,
        person=person,
        at=job.decision.at,
        documents=documents,
        set_stem="" if place is None else stem_of_set(stem, place) or "",
        **wanted,
    )
    order.save()
    digest = hashlib.sha256(order.text()).hexdigest()
    return Item(order.id, ORDERS, order.id, digest)


def write_record(
    job: Job, source: str, record: dict[str, Any], *, stem: str, of: str, earlier: str | None
) -> Item:
    """Write a record into out/, completed by the job that it is of.

    Each choice of names needs a `source` of its own: "the source is gone" must mean "published".
    """
    record |= {"job": of, "at": job.decision.at, "earlier": earlier}
    data = json.dumps(record, indent=2).encode() + b"\n"
    atomic.write_atomic(job.out / source, data)
    return Item(source, "records", f"{stem}.json", hashlib.sha256(data).hexdigest())
