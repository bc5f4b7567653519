"""Giving finished films their final place: records first, then proofs, then films.

What can be half-done when we die here: some of the job's items are in their place and some still
in `out/`. An item whose source is gone has been published, whether or not it is still there: a
print queue may have taken a film at once, and publishing it again would print it twice.
"""

from __future__ import annotations

import contextlib

from filmhand.digest import sha256_of
from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.claim import unchanged
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.gang import inside, name_sheet
from filmhand.jobs.job import Item, Job, Publication, State
from filmhand.jobs.render_job import give_names

_STEP = {"records": "record published", "proofs": "proof published", "positives": "film published"}


def publish(job: Job, context: JobContext) -> None:
    """Take the job from PUBLISHING to RETIRING, or back to CLAIMED if a staged file is spoiled.

    A gang goes on to PARTING, or back to GANGED. Art that changed meanwhile goes on to SETTLING.
    """
    if not all(_whole(job, item) for item in job.publication.items):
        context.say(
            "staged files were spoiled; the films are made again", job=job.id, name=job.shown
        )
        withdraw(job, context)
        job.publication.items, job.state = [], State.GANGED if job.gang.members else State.CLAIMED
        job.save()
        return
    if _changed_before_any_film(job, context):
        context.say("changed after it was taken", job=job.id, name=job.shown)
        withdraw(job, context)
        job.publication = Publication()
        job.state = State.GANGED if job.gang.members else State.SETTLING
        job.save()
        failpoint("change noted")
        return
    for item in job.publication.items:
        if not (job.out / item.source).exists():
            continue
        try:
            atomic.publish_no_replace(
                job.out / item.source,
                place_of(job, item, context),
                reserving=item.kind == "records",
            )
        except FileExistsError:
            _renumber(job, context, item)
            return  # still PUBLISHING, under other names
        failpoint(_STEP[item.kind])
    job.state = State.PARTING if job.gang.members else State.RETIRING
    job.save()
    failpoint("publishing recorded")


def _whole(job: Job, item: Item) -> bool:
    path = job.out / item.source
    return not path.exists() or sha256_of(path) == item.sha256


def _changed_before_any_film(job: Job, context: JobContext) -> bool:
    films = [item for item in job.publication.items if item.kind == "positives"]
    if not all((job.out / film.source).exists() for film in films):
        return False  # some are out; what was read is compared when the art is put away
    jobs = inside(job, context) if job.gang.members else [job]
    return any(
        one.has(name) and not unchanged(one, name) for one in jobs for _, name in one.files()
    )


def place_of(job: Job, item: Item, context: JobContext) -> Beneath:
    """Where a published item lies."""
    return context.folders.place(item.kind, job.sub) / item.name


def _renumber(job: Job, context: JobContext, item: Item) -> None:
    """Somebody took one of the names since they were chosen: choose again."""
    films = [one for one in job.publication.items if one.kind == "positives"]
    if any(not (job.out / film.source).exists() for film in films):
        raise EnvironmentTrouble(
            f"{place_of(job, item, context)} is in the way of a film of the same job; "
            "move it away and filmhand goes on by itself."
        )
    withdraw(job, context)
    if job.gang.members:
        name_sheet(job, context, afresh=True)
    else:
        give_names(job, context, afresh=True)


def withdraw(job: Job, context: JobContext) -> None:
    """Take records and proofs that are already in their place back into the job's folder."""
    for item in job.publication.items:
        source = job.out / item.source
        if item.kind == "positives" or source.exists():
            continue
        with contextlib.suppress(FileNotFoundError):
            atomic.unpublish(place_of(job, item, context), source)
