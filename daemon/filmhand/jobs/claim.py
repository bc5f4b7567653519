"""Taking settled art out of the drop folder.

What can be half-done when we die here: job.json is written before the first rename, so a job
folder whose `held/` lacks the art means that the art is still in the drop folder, and one that has
it means that the art is ours; ticket and mask follow it. Giving back goes the other way round,
the art last.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from typing import Any

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.forms import is_print_id
from filmhand.disk.set_aside import clear, entries
from filmhand.errors import FilmhandError
from filmhand.intake.scan import Bundle
from filmhand.jobs import scratch
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import Job, State, TakenFiles
from filmhand.jobs.job_words import JobWord

# The answers of systems on which a file cannot be moved while somebody has it open.
STILL_HELD = {errno.EBUSY, errno.EACCES, errno.EPERM, errno.ETXTBSY, errno.EAGAIN}


class NotSettled(FilmhandError):
    """The file changed, or the system will not let it be moved; it is in the drop folder."""

    def __init__(self, why: str, *, immovable: bool = False) -> None:
        super().__init__(why)
        self.immovable = immovable


class Gone(FilmhandError):
    """The file is no longer in the drop folder: taken by another host or removed."""


def claim_art(job: Job, context: JobContext) -> Job:
    """Move its bundle into the hands of a new job; raises NotSettled, Gone or OSError.

    The job's folder lies within that of a gang, or else this host's.
    """
    jobs, art = job.folder.parent, source_folder(job, context).joinpath(*job.sub, job.taken.art)
    # The folder of a gang is never made anew: it may have been taken over meanwhile.
    job.folder.mkdir(parents=jobs == context.own, within=context.folders.hidden)
    job.held.mkdir()
    failpoint("job folder made")
    job.save()
    atomic.fsync_folder(jobs)
    failpoint("intent written")
    try:
        atomic.claim_by_rename(art, job.held / job.taken.art)
    except OSError as error:
        if job.has(job.taken.art):
            raise
        give_back(job, context)
        if error.errno in {errno.ENOENT, errno.ESTALE} and not art.exists():
            raise Gone from error
        if error.errno in STILL_HELD:
            raise NotSettled(_immovable(job.taken.art, error), immovable=True) from error
        raise
    failpoint("art claimed")
    return complete(job, context)


def source_folder(job: Job, context: JobContext) -> Beneath:
    """The folder that the job's art was dropped in, and goes back to."""
    return context.folders.calibrate if job.taken.is_scan else context.folders.drop


def new_job(bundle: Bundle, folder: Beneath, profile: str, snapshot: dict[str, Any]) -> Job:
    """The job of a bundle that is to be claimed; nothing of it is on disk yet."""
    return Job(
        folder=folder,
        id=folder.name,
        profile=profile,
        snapshot=snapshot,
        sub=bundle.art.sub,
        taken=TakenFiles(
            art=bundle.art.name,
            ticket=bundle.ticket.name if bundle.ticket else None,
            mask=bundle.mask.name if bundle.mask else None,
            seen={one.name: identity(one.stat) for one in [bundle.art, *bundle.companions()]},
            is_scan=bundle.is_scan,
        ),
    )


def _immovable(name: str, error: OSError) -> str:
    return JobWord.IMMOVABLE.say(name=file_names.shown(name), error=error.strerror)


def identity(found: os.stat_result) -> list[int]:
    """What a rename does not change, and a write or an exchange does."""
    return [found.st_size, found.st_mtime_ns, found.st_ino]


def unchanged(job: Job, name: str) -> bool:
    """True if the held file is still a regular file of the size and time that settled."""
    found, seen = (job.held / name).lstat(), job.taken.seen.get(name, [])
    return stat.S_ISREG(found.st_mode) and identity(found)[:2] == seen[:2]


def _same(job: Job, name: str) -> bool:
    """As :func:`unchanged`, and not another file that took the name since."""
    return unchanged(job, name) and (job.held / name).lstat().st_ino == job.taken.seen[name][2]


def complete(job: Job, context: JobContext) -> Job:
    """With the art in hand: fetch its companions and check that what settled is what was taken."""
    drop = source_folder(job, context).joinpath(*job.sub)
    for kind, name in job.files():
        if kind != "art" and not job.has(name):
            try:
                atomic.claim_by_rename(drop / name, job.held / name)
            except FileNotFoundError:
                setattr(job.taken, kind, None)  # withdrawn by whoever dropped it
            except OSError as error:
                if error.errno not in STILL_HELD:
                    raise
                give_back(job, context)
                raise NotSettled(_immovable(name, error), immovable=True) from error
    failpoint("companions claimed")
    if not all(_same(job, name) for _, name in job.files()):
        give_back(job, context)
        raise NotSettled(JobWord.CHANGED_AT_LAST.say())
    job.state = State.CLAIMED
    job.save()
    failpoint("claim recorded")
    return job


def give_back(job: Job, context: JobContext) -> None:
    """Return what the job holds to the drop folder, the art last, and end the job."""
    if job.state is not State.CLAIMING:
        job.state = State.CLAIMING  # so that a kill half-way leads back here
        job.taken.seen = {name: [] for name in job.taken.seen}
        job.save()
    for _, name in job.files():
        if job.has(name):
            _put_back(job.held / name, source_folder(job, context), job.sub)
    end(job, context)


def _put_back(held: Beneath, drop: Beneath, sub: tuple[str, ...]) -> None:
    folder = drop.joinpath(*sub)
    count = 1
    while True:
        with contextlib.suppress(FileExistsError, NotADirectoryError):
            folder.mkdir(parents=True, within=drop, exist_ok=True)
            atomic.move_no_replace(held, folder / file_names.numbered(held.name, count))
            return
        if not folder.is_dir():
            folder = drop
        else:
            count += 1


def end(job: Job, context: JobContext) -> None:
    """Remove the job's own folder; OSError if a customer's file in it cannot be given back.

    What is not filmhand's never stops it: files in `held/` go back to the drop folder, and what
    network disks and desktop programs left in any of its folders is set aside.
    """
    give_back_files(job, context)
    kept = clear(job.held, context.folders.hidden)
    for path in entries(job.out):
        if path.is_file() and not _is_foreign(path.name):
            path.unlink()
        elif is_print_id(path.name) and path.is_dir():
            path.rmtree()  # an order that was never published
    kept += clear(job.out, context.folders.hidden)
    scratch.clear_shared(job, context)
    failpoint("job folder emptied")
    # An error if another host took the job over while this one slept.
    for path in sorted(job.folder.iterdir(), key=lambda path: path.name == "job.json"):
        if path.is_file() and not _is_foreign(path.name):
            path.unlink()  # our own job.json, why.txt and their unfinished forms
    kept += clear(job.folder, context.folders.hidden)
    if kept:
        shown = ", ".join(map(file_names.shown, kept))
        context.say("set aside", job=job.id, name=job.shown, what=shown)


def give_back_files(job: Job, context: JobContext) -> None:
    """Return every file in `held/` to the drop folder, whatever job.json says of it."""
    for path in entries(job.held):
        if path.is_file() and not file_names.is_noise(path.name):
            _put_back(path, source_folder(job, context), job.sub)


def _is_foreign(name: str) -> bool:
    """True for noise, but for the unfinished forms of filmhand's own files."""
    return file_names.is_noise(name) and not (name.startswith(".") and name.endswith(".new"))
