"""Giving finished films their final place: records, proofs, print orders, and films last.

What can be half-done when we die here: some of the job's items are in their place and some still
in `out/`. An item whose source is gone has been published, whether or not it is still there: a
print queue may have taken a film at once, and publishing it again would print it twice. So has an
order to print one (:mod:`filmhand.jobs.print_order`): once it has left `out/` it goes its own way,
and is taken back only if nobody has begun with it.
"""

from __future__ import annotations

import contextlib
import errno
from pathlib import Path

from filmhand.digest import sha256_of
from filmhand.disk import atomic
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.set_aside import set_aside
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.film_sets import place_in_set
from filmhand.jobs.gang import name_sheet, touched
from filmhand.jobs.job import Item, Job, Publication, State
from filmhand.jobs.job_words import JobWord
from filmhand.jobs.print_order import ORDERS, Order
from filmhand.jobs.render_job import give_names, name_reading, reading_stem
from filmhand.jobs.wedge_scans import another_came, readings_folder

_STEP = {
    "records": "record published",
    "proofs": "proof published",
    ORDERS: "order published",
    "positives": "film published",
    "curves": "reading published",
}


def publish(job: Job, context: JobContext) -> None:
    """Take the job from PUBLISHING to RETIRING, or back to CLAIMED if a staged file is spoiled.

    Back to CLAIMED goes a scan, too, if another one was read since it was. A gang goes on to
    PARTING, or back to GANGED. Art that changed meanwhile goes on to SETTLING.
    """
    if not all(_whole(job, item) for item in job.publication.items):
        context.say(
            "staged files were spoiled; the films are made again", job=job.id, name=job.shown
        )
        withdraw(job, context)
        _keep_ordered(job)
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
    with context.publishing:  # so that nothing comes between the films of a set
        if job.taken.is_scan and another_came(job, context):
            job.publication.items, job.state = [], State.CLAIMED  # and read both together
            job.save()
            failpoint("read again")
            return
        if not _all_published(job, context):
            return  # still PUBLISHING, under other names
    job.state = State.PARTING if job.gang.members else State.RETIRING
    job.save()
    failpoint("publishing recorded")


def _all_published(job: Job, context: JobContext) -> bool:
    """Rename each item to its place; False if one has another name now."""
    for item in job.publication.items:
        if not (job.out / item.source).exists():
            continue
        try:
            if item.kind == ORDERS:
                _publish_order(job, item, context)
            else:
                atomic.publish_no_replace(
                    job.out / item.source,
                    place_of(job, item, context),
                    reserving=item.kind == "records",
                )
        except FileExistsError:
            _renumber(job, context, item)
            return False
        failpoint(_STEP[item.kind])
    return True


def is_half_published(job: Job) -> bool:
    """True for a set of which some films or orders are in their place and others are not."""
    of_sets = any(place_in_set(film.get("record", {})) for film in job.publication.films)
    if job.state is not State.PUBLISHING or not of_sets:
        return False
    items = [item for item in job.publication.items if item.kind in {"positives", ORDERS}]
    return len({(job.out / item.source).exists() for item in items}) > 1


def _publish_order(job: Job, item: Item, context: JobContext) -> None:
    """Hand the film over to be printed; FileExistsError if its own name has been taken since."""
    films = [one for one in job.publication.items if one.kind == "positives"]
    for film in films:
        if (job.out / film.source).exists() and place_of(job, film, context).exists():
            raise FileExistsError(errno.EEXIST, "taken", film.name)
    place = place_of(job, item, context)
    try:
        place.parent.mkdir(exist_ok=True)
    except FileExistsError:  # a link or a file has its name
        what = set_aside(place.parent, context.folders.hidden)
        context.say("set aside", job=job.id, what=what)
        place.parent.mkdir(exist_ok=True)
    if place.exists():
        # An id comes once in the world; whoever forged the second of it has it set aside.
        context.say("set aside", job=job.id, what=set_aside(place, context.folders.hidden))
    atomic.rename_durably(job.out / item.source, place)
    atomic.fsync_folder(job.out)


def _keep_ordered(job: Job) -> None:
    """Remember films that are made again though a printer has them: they get no second order."""
    for film in job.publication.films:
        order = film.get("order")
        if order is not None and not (job.out / order["id"]).exists():
            job.decision.ordered = sorted({*job.decision.ordered, film["suffix"]})


def _whole(job: Job, item: Item) -> bool:
    path = job.out / item.source
    if not path.exists():
        return True
    if item.kind != ORDERS:
        return sha256_of(path) == item.sha256
    try:
        order = Order.load(path)
        return sha256_of(path / "order.json") == item.sha256 and all(
            sha256_of(path / one.name) == one.sha256 for one in order.documents.values()
        )
    except ValueError:
        return False


def _changed_before_any_film(job: Job, context: JobContext) -> bool:
    films = [item for item in job.publication.items if item.kind in {"positives", ORDERS}]
    if not all((job.out / film.source).exists() for film in films):
        return False  # some are out; what was read is compared when the art is put away
    return touched(job, context)


def place_of(job: Job, item: Item, context: JobContext) -> Beneath:
    """Where a published item lies."""
    if item.kind == ORDERS:
        return context.own / ORDERS / item.name
    if item.kind == "curves":
        return readings_folder(job, context) / item.name
    return context.folders.place(item.kind, job.sub) / item.name


def _renumber(job: Job, context: JobContext, item: Item) -> None:
    """Somebody took one of the names since they were chosen: choose again."""
    films = [one for one in job.publication.items if one.kind == "positives"]
    if any(not (job.out / film.source).exists() for film in films) or not withdraw(job, context):
        raise EnvironmentTrouble(JobWord.IN_THE_WAY.say(place=place_of(job, item, context)))
    if job.taken.is_scan:
        number = 2
        while any(
            (readings_folder(job, context) / name).exists() for name in _renamed(job, number)
        ):
            number += 1
        name_reading(job, number)
    elif job.gang.members:
        name_sheet(job, context, afresh=True)
    else:
        give_names(job, context, afresh=True)


def _renamed(job: Job, number: int) -> list[str]:
    """The names of a reading's files under another number."""
    stem = reading_stem(job, number)
    return [stem + Path(item.source).suffix for item in job.publication.items]


def withdraw(job: Job, context: JobContext) -> bool:
    """Take records, proofs and orders that are in their place back into the job's folder.

    False if an order could not be had back, since somebody has begun to print it.
    """
    items = job.publication.items
    orders = [take_back(job, item, context) for item in items if item.kind == ORDERS]
    for item in items:
        source = job.out / item.source
        if item.kind in {"positives", ORDERS} or source.exists():
            continue
        with contextlib.suppress(FileNotFoundError):
            atomic.unpublish(place_of(job, item, context), source)
    return all(orders)


def take_back(job: Job, item: Item, context: JobContext) -> bool:
    """True if the order is in out/ and nothing has been printed of it.

    It is renamed first and looked at afterward: from then on nobody can begin with it. A kill in
    between leaves it in out/, where it is looked at again.
    """
    here, there = job.out / item.source, place_of(job, item, context)
    try:
        if not here.exists():
            atomic.rename_durably(there, here)
            failpoint("order taken back")
        if sha256_of(here / "order.json") == item.sha256:
            return True
    except OSError as error:
        if error.errno not in {errno.ENOENT, *IRREGULAR}:
            raise
    if here.exists():
        atomic.rename_durably(here, there)
    return False
