"""Going on with a job from any state: the recovery table, and the loop that follows it.

The same table drives a job that is done for the first time and one that is found after a kill, so
there is no second way that only a power cut would ever try.
"""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Callable
from dataclasses import field
from enum import StrEnum
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.disk_errors import BLAMELESS, plain_error
from filmhand.disk.folder_trial import TRIAL
from filmhand.disk.forms import is_job_id
from filmhand.disk.set_aside import entries, set_aside
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.claim import complete, end, give_back, give_back_files
from filmhand.jobs.context import JobContext, JobLost, JobSetAside
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.gang import finish_gathering, let_all_go, make_sheet, part
from filmhand.jobs.holding import hold, wanted_of
from filmhand.jobs.job import Job, State, TakenFiles, sub_of_scan
from filmhand.jobs.ledger import Entry, film_about
from filmhand.jobs.print_order import ORDERS
from filmhand.jobs.publish import is_half_published, publish
from filmhand.jobs.put_away import reject, retire
from filmhand.jobs.render_job import final_names, render_job
from filmhand.jobs.retry import bring_back
from filmhand.jobs.settling import begin_settling, changed, judge_again, settle_anew
from filmhand.values import dataclass

# What the system answers where something is in the way that filmhand did not put there.
FORGED = {*IRREGULAR, errno.EEXIST, errno.ENOTEMPTY, errno.EINVAL, errno.ENAMETOOLONG}


class Outcome(StrEnum):
    """How a job ended."""

    MADE = "made"
    REFUSED = "refused"
    GIVEN_BACK = "given back"
    HELD = "held"  # it waits for somebody, or for the next day
    PARTED = "parted"  # a gang: its members go on as jobs of their own


@dataclass(frozen=True, slots=True)
class RecoveryRow:
    """One row of the table: what is on disk in this state, what is done, and how."""

    on_disk: str
    then: str
    do: Callable[[Job, JobContext], Outcome | None]


_NOT_MADE_YET = {State.GATHERING, State.GANGED, State.CLAIMING, State.CLAIMED}


def _finish_claim(job: Job, context: JobContext) -> Outcome | None:
    if not job.has(job.taken.art):
        give_back(job, context)
        return Outcome.GIVEN_BACK
    complete(job, context)
    return None


def _put_away(job: Job, context: JobContext) -> Outcome | None:
    made = job.state is State.RETIRING
    if job.has(job.taken.art):
        if changed(job):
            if made:
                begin_settling(job)
                return None
            return Outcome.GIVEN_BACK if judge_again(job, context) else None
        (retire if made else reject)(job, context)
    outcome = Outcome.MADE if made else Outcome.REFUSED
    _remember(job, context, outcome)
    end(job, context)
    return outcome


def _hold(job: Job, context: JobContext) -> Outcome | None:
    return Outcome.HELD if hold(job, context) else None


def _part(job: Job, context: JobContext) -> Outcome:
    part(job, context)
    return Outcome.PARTED


def _return(job: Job, context: JobContext) -> Outcome:
    bring_back(job, context)
    return Outcome.GIVEN_BACK


RECOVERY: dict[State, RecoveryRow] = {
    State.GATHERING: RecoveryRow(
        "job.json of a gang; its members inside, each claiming or claimed",
        "finish or give back each claim, then make the sheet of those that are there",
        finish_gathering,
    ),
    State.GANGED: RecoveryRow(
        "members inside, claimed; some may have left as jobs of their own; leftovers in out/",
        "make the sheet from the start; refused ones and those that go alone leave, those without "
        "room become a gang of their own",
        make_sheet,
    ),
    State.CLAIMING: RecoveryRow(
        "job.json; the art is in held/ or still in the drop folder",
        "held: fetch ticket and mask, check, go on; not held: give back the rest, end the job",
        _finish_claim,
    ),
    State.CLAIMED: RecoveryRow(
        "the art is in held/; perhaps leftovers in out/ and in the scratch folder",
        "make the films from the start, or go to the refusal that was already decided",
        render_job,
    ),
    State.HELD: RecoveryRow(
        "whole, hashed films in out/; proofs and note are in held/ or release/, or not yet there",
        "lay down what is missing and wait; let go: count the sheets, take proofs and note away, "
        "publish; given up: take them away, reject",
        _hold,
    ),
    State.PUBLISHING: RecoveryRow(
        "whole, hashed files in out/; those that are gone from there are published",
        "publish the rest under the recorded names",
        publish,
    ),
    State.PARTING: RecoveryRow(
        "the sheet is published or will not be made; members inside or already out",
        "each member leaves the gang's folder: retiring, or claimed and to be made alone",
        _part,
    ),
    State.RETIRING: RecoveryRow(
        "everything is published; the art is in held/ or already in originals/",
        "held: move it; then remember the job and remove its folder",
        _put_away,
    ),
    State.SETTLING: RecoveryRow(
        "the art in held/ is other than what was read; films are in out/, in their place or gone",
        "withdraw what is still in its place, mark what is gone; once the art rests make it again",
        settle_anew,
    ),
    State.REJECTING: RecoveryRow(
        "the refusal is in job.json; log line, note and art may or may not be in place",
        "do what is missing, the art last; then remember the job and remove its folder",
        _put_away,
    ),
    State.RETURNING: RecoveryRow(
        "job.json of a retry; art, ticket, mask and note are in held/ or still in rejected/",
        "fetch what is still in rejected/, give all back to the drop folder, the art last",
        _return,
    ),
}


def advance(job: Job, context: JobContext) -> Outcome:
    """Do all that is left of a job.

    Raises EnvironmentTrouble, JobLost, NotSettled (given back), ArtChanged, WorkerDied or
    Interrupted; after each of them the folders are in a state of the table.
    """
    while True:
        try:
            outcome = RECOVERY[job.state].do(job, context)
        except OSError as error:
            raise _judge(error, job, context) from error
        if outcome is not None:
            return outcome


def _judge(error: OSError, job: Job, context: JobContext) -> Exception:
    with contextlib.suppress(OSError):
        if context.folders.present() and not job.folder.exists():
            return JobLost(job.id)
        if error.errno in FORGED:
            # Somebody may have put a link or a folder into the job's since it was read: if its
            # form is wrong now it is set aside, and no trouble of the whole folder.
            # So is one that meets a link in a sub-folder of an output.
            why = _why_unfit(job) or (context.folders.are_real() and _why_irregular(error))
            if why:
                salvage(job.folder, context, why)
                return JobSetAside(job.id)
    if error.errno is None or error.errno in BLAMELESS:
        return EnvironmentTrouble(plain_error(error))
    return error


def _why_unfit(job: Job) -> str:
    try:
        Job.load(job.folder)
    except ValueError as wrong:
        return str(wrong)
    return ""


def _why_irregular(error: OSError) -> str:
    return plain_error(error) if error.errno in IRREGULAR else ""


def _remember(job: Job, context: JobContext, outcome: Outcome) -> None:
    is_film = outcome is Outcome.MADE and not job.taken.is_scan
    stem = "/".join((*job.sub, job.publication.stem)) if is_film else None
    kept = job.put_away.kept.get("art", job.taken.art)
    lies = "/".join(map(file_names.shown, (*job.sub, kept)))
    about = {**(job.decision.refusal or {}), "kept": lies}
    if outcome is Outcome.MADE:
        about = {
            "films": [
                film_about(
                    job.sub,
                    job.publication.stem + film["suffix"],
                    [
                        *final_names(
                            film, (job.gang.sheet or job.publication.stem) + film["suffix"]
                        ).values()
                    ],
                    film.get("record", {}),  # of a shared sheet each member has its own
                )
                for film in job.publication.films
            ],
            "original": lies,
        }
    context.ledger.note(
        Entry(
            job.id,
            job.decision.at,
            job.profile,
            outcome.value,
            job.shown,
            job.decision.sha256,
            stem,
            about,
        )
    )
    failpoint("result remembered")


def tell(job: Job, outcome: Outcome, found: State, seconds: float, context: JobContext) -> None:
    """Count a job that was `found` in a state and ended, and write the log's one line for it.

    One that is held now has a line of its own.
    """
    is_scan = job.taken.is_scan  # of which no film is made
    if (
        not is_scan
        and found in _NOT_MADE_YET
        and outcome in {Outcome.MADE, Outcome.HELD, Outcome.PARTED}
    ):
        context.counts.add_rendered(seconds, max(1, len(job.gang.members)))
    if outcome is Outcome.HELD:
        return
    context.counts.add(
        made=outcome is Outcome.MADE and not is_scan,
        refused=outcome is Outcome.REFUSED,
        seconds=seconds if outcome is not Outcome.GIVEN_BACK and not is_scan else 0.0,
    )
    facts = facts_of(job, outcome)
    if found is State.HELD:
        facts["held"] = True
    facts |= {"profile": job.profile, "job": job.id, "seconds": round(seconds, 3)}
    if is_scan and outcome is Outcome.MADE:
        context.say("read", **facts)  # of a wedge; there is no film
    else:
        context.say(outcome.value, **facts)


def facts_of(job: Job, outcome: Outcome) -> dict[str, Any]:
    """What the log's line on a job that ended says of it."""
    if outcome is Outcome.PARTED:
        return {
            "name": job.shown,
            "stem": file_names.shown(job.gang.sheet),
            "arts": len(job.publication.films),
        }
    facts: dict[str, Any] = {
        "name": job.shown,
        "sha256": job.decision.sha256,
        "strikes": job.strikes,
    }
    if outcome is Outcome.MADE:
        facts |= {
            "stem": file_names.shown(job.publication.stem),
            "films": len(job.publication.films),
        }
        facts["earlier"] = job.decision.earlier
        if job.decision.unfinished:
            facts["unfinished"] = [*map(file_names.shown, job.decision.unfinished)]
    elif job.decision.refusal is not None:
        facts |= {"reason": job.decision.refusal["reason"], "say": job.decision.refusal["say"]}
    return facts


@dataclass(frozen=True, slots=True)
class UnfinishedJobs:
    """The folders of unfinished jobs; those of half published sets are to be gone on with first."""

    folders: list[Beneath] = field(default_factory=list)
    half_published: list[Beneath] = field(default_factory=list)


def unfinished(
    context: JobContext, *, busy: Callable[[Beneath], bool] = lambda folder: False
) -> UnfinishedJobs:
    """The job folders of this host, oldest first; what is no job's is cleared away or set aside.

    A folder that is `busy` is being worked on, and is left alone; it counts as busy from before it
    is made until after it is gone. One bad entry never stops the others.
    """
    jobs = UnfinishedJobs()
    found = jobs.folders
    for entry in entries(context.own):
        if busy(entry) or entry.name in {TRIAL, ORDERS} or not entry.is_dir():
            continue  # what is no folder goes with the last sign of this host
        if not is_job_id(entry.name):
            _tell_of(entry, set_aside(entry, context.folders.hidden), context)
            continue
        try:
            job = Job.load(entry)
            if job.state is State.HELD and not job.hold.approve:
                context.sheets.expect(wanted_of(job))  # before any that came later asks for sheets
            half = is_half_published(job)
        except ValueError as error:
            try:
                if salvage(entry, context, str(error)):
                    return unfinished(context, busy=busy)  # members of a gang have come out of it
            except OSError:
                found.append(entry)  # whoever goes on with it meets the error by itself
        except OSError:
            found.append(entry)
        else:
            (jobs.half_published if half else found).append(entry)
    return jobs


def salvage(folder: Beneath, context: JobContext, why: str = "") -> bool:
    """A job folder without notes, or with notes that no job of filmhand can have.

    The members of a gang leave, art goes back to drop, a scan of a wedge to where it lay, and what
    is left is cleared away where the notes are missing, as after a kill, or set aside as it is
    where they are there.

    Returns
    -------
    bool
        True if it was a gang whose members are now jobs of their own.
    """
    if not folder.is_dir():
        return False
    members = let_all_go(folder, context)
    scan_of = sub_of_scan(folder)
    for path in entries(folder / "held"):
        if path.is_file():
            name = file_names.shown(path.name)
            if scan_of is None:
                context.say("a job lost its notes; its file is back in drop", name=name)
            else:
                context.say("a job lost its notes; its scan is back in calibrate", name=name)
    taken = TakenFiles("", is_scan=scan_of is not None)
    job = Job(folder, folder.name, "", {}, scan_of or (), taken)
    if (folder / "job.json").exists():
        give_back_files(job, context)
        _tell_of(folder, set_aside(folder, context.folders.hidden), context, why)
    else:
        end(job, context)
    return members > 0


def _tell_of(entry: Beneath, kept: str | None, context: JobContext, why: str = "") -> None:
    if kept is not None:
        where = file_names.shown(f".filmhand/set-aside/{kept}")
        context.say("set aside", what=where, why=file_names.shown(why) or "it is no job's folder")
