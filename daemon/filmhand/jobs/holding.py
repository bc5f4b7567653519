"""Finished films that wait: for somebody's word, or for sheets of the budget.

The films stay in the job's `out/`. A copy of each proof lies in the profile's `held/`, with one
note, which is there first. A proof that somebody moves to `release/` lets the job go on, known by
its name; a shared sheet has one proof there, and of several films the first that is moved counts.

What can be half-done when we die here: note or proofs are in place and job.json does not say so;
that it may go on is noted, but the sheets are not counted, or the proofs still lie about; or it is
to be given up, and some members of a gang have left for that. A name that is there already with
our own content is ours. The proof in `release/` is removed after job.json says that it was met.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from filmhand.digest import sha256_of
from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.set_aside import set_aside
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.film_sets import place_in_set
from filmhand.jobs.gang import inside, leave_refused, name_sheet, part_next, touched
from filmhand.jobs.job import Item, Job, State, utc_text
from filmhand.jobs.job_words import JobCount, JobRefusal, JobWord
from filmhand.jobs.ledger import Entry
from filmhand.jobs.render_job import give_names, proofs_of_sets
from filmhand.jobs.sheets import Room, Wanted, local_day
from filmhand.page.why_note import held_note
from filmhand.values import dataclass
from filmhand.worker.wire import refusal_to_json


def hold(job: Job, context: JobContext) -> bool:
    """True while the job is to wait; else it has gone on to another state, or is to be met again.

    A film goes on to PUBLISHING, one that is given up to REJECTING, or PARTING for a gang.
    """
    if job.decision.refusal is not None or job.id in context.live.discards:
        _give_up(job, context)
        return False
    if any(not (job.out / item.source).exists() for item in job.publication.items):
        _make_again(job, context)
        return False
    if touched(job, context):
        _let_go(job, context)  # publishing finds that out, and has it made again
        return False
    released = job.hold.released or _is_released(job, context)
    reason = None if released else _why_held(job, context)
    if reason is not None:
        return _keep(job, context, reason)
    with context.sheets.lock:  # so that nobody else takes the room that was found
        if not released and _why_held(job, context) is not None:
            return False
        _count(job, context, released=released)
    return False


def _make_again(job: Job, context: JobContext) -> None:
    """Somebody took finished files away, and publishing would take them for published."""
    context.say("staged files were spoiled; the films are made again", job=job.id, name=job.shown)
    _take_away(job, context)
    job.publication.items, job.state = [], State.GANGED if job.gang.members else State.CLAIMED
    job.save()


def wanted_of(job: Job) -> Wanted:
    """The sheets that the job asks for."""
    return Wanted(job.id, job.hold.person, job.hold.sheets, order_of(job))


def order_of(job: Job) -> tuple[str | int, ...]:
    """Sorts jobs by the second in which their art was taken, then by the art's own time."""
    seen = job.taken.seen.get(job.taken.art) or (0, 0)
    return job.id[:15], seen[1], job.id


def held_proofs(job: Job) -> list[Item]:
    """What lies in held/ of the job: the proof of each film or set, of a shared sheet the first."""
    if job.publication.sets:
        return proofs_of_sets(job)
    proofs = [item for item in job.publication.items if item.kind == "proofs"]
    return proofs[:1] if job.gang.members else proofs


def inks_of(job: Job) -> list[dict[str, Any]]:
    """The place of each film in its set, of a job that makes sets."""
    places = [place_in_set(film.get("record", {})) for film in job.publication.films]
    return [place for place in places if place is not None]


def film_of(job: Job) -> str:
    """The name of the films without page or part, with its sub-folder, as people may see it."""
    return "/".join(map(file_names.shown, (*job.sub, job.publication.stem)))


# --- why it waits --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _WhyHeld:
    """Why films wait, until which day if that is known; `turn` if only for sheets of others."""

    why: str
    until: str = ""
    turn: bool = False


def _why_held(job: Job, context: JobContext) -> _WhyHeld | None:
    """Why the films wait; None if they need not."""
    today = local_day(context.now())
    budget, wanted = context.live.budget, wanted_of(job)
    counted = bool(job.hold.day) and context.sheets.counted(job.id, job.hold.day)
    room = Room() if budget is None or counted else context.sheets.room(wanted, budget, today)
    told = _told(wanted, room, today)
    if job.hold.approve:
        return _WhyHeld(" ".join(filter(None, [JobWord.FOR_APPROVAL.say(), told])))
    if room.passes is not None:
        tomorrow = (context.now().astimezone() + timedelta(days=1)).date().isoformat()
        return _WhyHeld(told, tomorrow if wanted.sheets <= room.passes[1] else "")
    return None if room.turn else _WhyHeld(JobWord.FOR_ITS_TURN.say(), turn=True)


def _told(wanted: Wanted, room: Room, today: str) -> str:
    if room.passes is None:
        return ""
    which, limit, used = room.passes
    if which == "person":
        never, for_today = JobCount.NEVER_FOR_PERSON, JobCount.USED_BY_PERSON
    else:
        never, for_today = JobCount.NEVER_FOR_PROFILE, JobCount.USED_BY_PROFILE
    row = never if wanted.sheets > limit else for_today
    return row.say(wanted.sheets, person=wanted.person, limit=limit, used=used, day=today)


# --- waiting -------------------------------------------------------------------------------------


def _keep(job: Job, context: JobContext, reason: _WhyHeld) -> bool:
    """See to it that note and proofs lie in held/; False if they must have other names."""
    if not job.hold.approve:
        context.sheets.expect(wanted_of(job))
    folder = _folder_of(job, context)
    note, text = folder / _note_name(job), _note_of(job, reason).encode()
    known = _WhyHeld(job.hold.why, job.hold.until, job.hold.turn)
    told = job.hold.placed and known == reason
    try:
        if not job.hold.placed:
            _place(job, "held.why.txt", note, text)
            failpoint("held note written")
        elif not told or not note.exists():
            atomic.write_atomic(note, text, shared_by_way_of=job.out)
        for item in held_proofs(job):
            if not job.hold.placed or not (folder / item.name).exists():
                data = (job.out / item.source).read_bytes(_LARGEST_PROOF)
                _place(job, f"held.{item.source}", folder / item.name, data)
                failpoint("proof held")
    except FileExistsError:
        _take_away(job, context)
        job.hold.placed = False
        if job.gang.members:
            name_sheet(job, context, afresh=True)
        else:
            give_names(job, context, afresh=True)
        return False
    if not told:
        if not job.hold.told and not reason.turn:  # whose turn is to come may go on at once
            context.ledger.tell_held(_entry(job, reason))
            job.hold.told = True
        job.hold.placed, job.hold.why = True, reason.why
        job.hold.until, job.hold.turn = reason.until, reason.turn
        job.save()
        failpoint("holding recorded")
    return True


_LARGEST_PROOF = 1 << 28  # bytes


def _place(job: Job, name: str, target: Beneath, data: bytes) -> None:
    """Lay a file down by one rename; FileExistsError if the name has other content than this."""
    if target.exists():
        with contextlib.suppress(ValueError, FileNotFoundError):
            if target.is_file() and target.read_bytes(len(data)) == data:
                return
        raise FileExistsError(str(target))
    atomic.write_atomic(job.out / name, data)
    atomic.publish_no_replace(job.out / name, target)


def _entry(job: Job, reason: _WhyHeld) -> Entry:
    about = {"film": film_of(job), "why": reason.why, "until": reason.until}
    stem = job.publication.stem
    return Entry(job.id, job.decision.at, job.profile, "held", job.shown, "", stem, about)


def _note_name(job: Job) -> str:
    return job.publication.stem + file_names.WHY_END


def _note_of(job: Job, reason: _WhyHeld) -> str:
    warnings = [
        str(one)
        for film in job.publication.films
        for one in film["record"].get("warnings") or []
        if isinstance(one, str)
    ]
    return held_note(
        job.shown,
        film=film_of(job),
        job=job.id,
        proofs=[item.name for item in held_proofs(job)],
        why=reason.why,
        until=reason.until,
        person=job.hold.person,
        inks=[(place["k"], place["ink"]) for place in inks_of(job)],
        warnings=[*dict.fromkeys(warnings)],
    )


def _folder_of(job: Job, context: JobContext) -> Beneath:
    context.folders.make_holding()
    return context.folders.place("held", job.sub)


# --- going on ------------------------------------------------------------------------------------


def _is_released(job: Job, context: JobContext) -> bool:
    return any(_releases(job, item, file, context) for item, file in _in_release(job, context))


def _in_release(job: Job, context: JobContext) -> Iterator[tuple[Item, Beneath]]:
    """Files in release/ that have the name of a proof of this job, in its sub-folder or above."""
    release = context.folders.release
    for item in held_proofs(job):
        for sub in dict.fromkeys((job.sub, ())):
            file = release.joinpath(*sub, item.name)
            with contextlib.suppress(OSError):
                if file.is_file():
                    yield item, file


def _releases(job: Job, item: Item, file: Beneath, context: JobContext) -> bool:
    """True if this is the proof that was moved, though somebody may have changed it since.

    While the proof still lies in held/ this may be a copy of it, but not a file that only has its
    name. Outside of its sub-folder it must be the proof, as others may have its name.
    """
    moved = not (_folder_of(job, context) / item.name).exists()
    try:
        long = file.lstat().st_size == (job.out / item.source).lstat().st_size
        same = long and sha256_of(file) == item.sha256
    except FileNotFoundError:
        return False
    own = file.parent == context.folders.release.joinpath(*job.sub)
    return (same or moved) if own else (same and moved)


def _count(job: Job, context: JobContext, *, released: bool) -> None:
    """Count the sheets and let the films go; nothing if the budget has no room for them after all.

    Another host may have taken it at the same moment.
    """
    if (job.hold.released, bool(job.hold.day)) != (released, True):
        job.hold.released = released
        job.hold.day = job.hold.day or local_day(context.now())
        job.save()
        failpoint("letting go noted")
    counts = context.sheets.count(
        wanted_of(job),
        film_of(job),
        utc_text(context.now()),
        job.hold.day,
        None if released or job.hold.approve else context.live.budget,
        shared=context.shared(),
    )
    if not counts:
        job.hold.day = ""
        job.save()
        return
    failpoint("sheets counted")
    _let_go(job, context)


def _let_go(job: Job, context: JobContext) -> None:
    context.sheets.forget(job.id)
    _take_away(job, context)
    failpoint("proof taken from held")
    job.hold.over, job.hold.placed = True, False
    job.hold.why, job.hold.until, job.hold.turn = "", "", False
    job.state = State.PUBLISHING
    job.save()
    failpoint("let go")


def _take_away(job: Job, context: JobContext) -> None:
    """Remove the job's proofs and note; what somebody changed is set aside."""
    held, release = _folder_of(job, context), context.folders.release
    for item, file in [*_in_release(job, context)]:
        if _releases(job, item, file, context):
            _remove(file, item.sha256, context)
    for item in held_proofs(job):
        _remove(held / item.name, item.sha256, context)
    if job.hold.placed or not _is_of_another(held / _note_name(job), job):
        (held / _note_name(job)).unlink(missing_ok=True)
    for folder in (held, release.joinpath(*job.sub)) if job.sub else ():
        with contextlib.suppress(OSError):
            folder.rmdir()


def _is_of_another(note: Beneath, job: Job) -> bool:
    """True for a file with the note's name that this job did not write."""
    try:
        return job.id.encode() not in note.read_bytes(1 << 16)
    except (OSError, ValueError):
        return True


def _remove(file: Beneath, sha256: str, context: JobContext) -> None:
    try:
        if sha256_of(file) == sha256:
            file.unlink(missing_ok=True)
        else:
            set_aside(file, context.folders.hidden)
    except FileNotFoundError:
        pass
    except OSError as error:
        if error.errno not in IRREGULAR:
            raise


# --- giving up -----------------------------------------------------------------------------------


def _give_up(job: Job, context: JobContext) -> None:
    refusal: dict[str, Any] = refusal_to_json(JobRefusal.GIVEN_UP.refused())
    if job.decision.refusal is None:
        job.decision.refusal, job.decision.at = refusal, utc_text(context.now())
        job.save()
        failpoint("giving up noted")
    context.sheets.forget(job.id)
    if job.hold.day:
        at = utc_text(context.now())
        context.sheets.take_back(wanted_of(job), film_of(job), at, job.hold.day)
    _take_away(job, context)
    failpoint("proof taken from held")
    if job.gang.members:
        hashes = {film["member"]: film["sha256"] for film in job.publication.films}
        for member in inside(job, context):
            member.decision.sha256 = hashes.get(member.id, "")
            leave_refused(member, refusal, context)
            failpoint("gang given up")
        part_next(job)
    else:
        job.state = State.REJECTING
        job.save()
        failpoint("let go")
