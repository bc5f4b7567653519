"""What a queue hands out to a thread that works: one small class for each kind of task.

:func:`begin_job` makes a job of one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from filmhand.disk.beneath import Beneath
from filmhand.errors import Refused
from filmhand.intake.scan import Bundle
from filmhand.jobs.claim import claim_art, new_job
from filmhand.jobs.context import JobContext, JobLost
from filmhand.jobs.gang import gather
from filmhand.jobs.job import Job
from filmhand.jobs.recover import salvage
from filmhand.values import dataclass
from filmhand.worker.wire import refusal_to_json


@dataclass(frozen=True, slots=True)
class ClaimOne:
    """Claim settled art and make its films, or refuse it where that is decided already."""

    bundle: Bundle
    refusal: Refused | None = None


@dataclass(frozen=True, slots=True)
class ClaimTogether:
    """Claim several settled art files and make them on one sheet."""

    bundles: tuple[Bundle, ...]


@dataclass(frozen=True, slots=True)
class MeasureSheet:
    """Find out whether all these have room on one sheet; the art stays where it is."""

    bundles: tuple[Bundle, ...]


@dataclass(frozen=True, slots=True)
class ResumeJob:
    """Go on with the job in this folder of jobs in hand."""

    folder: Beneath


Claim = ClaimOne | ClaimTogether
Task = Claim | MeasureSheet | ResumeJob


def claimed_bundles(task: Task) -> tuple[Bundle, ...]:
    """What the task claims; nothing if it only measures or goes on."""
    match task:
        case ClaimOne(bundle):
            return (bundle,)
        case ClaimTogether(bundles):
            return bundles
        case MeasureSheet() | ResumeJob():
            return ()


def claimed_paths(task: Task) -> list[Beneath]:
    """Where the art lies that the task claims."""
    return [bundle.art.path for bundle in claimed_bundles(task)]


def begin_job(
    task: Claim | ResumeJob,
    folder: Beneath,
    profile: str,
    snapshot: dict[str, Any],
    context: JobContext,
    *,
    lost: Callable[[Beneath, Exception], None],
) -> Job:
    """The job of the task, in this folder; `lost` hears of art that could not be gathered.

    Raises JobLost where there is none to go on with, and as claiming does.
    """
    match task:
        case ResumeJob():
            try:
                return Job.load(folder)
            except ValueError as error:
                if folder.exists():
                    salvage(folder, context, str(error))
                raise JobLost(folder.name) from None
        case ClaimTogether(bundles):
            return gather(bundles, folder, profile, snapshot, context, lost=lost)
        case ClaimOne(bundle, refusal):
            job = new_job(bundle, folder, profile, snapshot)
            if refusal is not None:
                job.decision.refusal = refusal_to_json(refusal)
            return claim_art(job, context)
