"""The scratch folder of one job: on the local disk, or where the computers of a cluster see it.

The shared one lies in the job's own folder, so that it is fenced off like all else there: when
another host has taken the job over, its path is gone, and what comes too late is written nowhere.
Each try has a folder of its own, which no earlier try that still runs somewhere can reach.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager

from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.file_names import random_digits
from filmhand.disk.set_aside import set_aside
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job
from filmhand.jobs.job_words import JobWord

_TRIES = 20  # computers that still write here notice within two seconds that they should not
_BETWEEN = 0.1  # seconds


@contextmanager
def scratch_folder(job: Job, context: JobContext, *, shared: bool) -> Iterator[Beneath]:
    """An empty folder with ``out`` and ``work`` in it, removed at the end.

    Parameters
    ----------
    job, context : Job, Bench
        Whose it is, and where the local scratch folders lie.
    shared : bool
        Put it into the job's own folder instead, for other computers to see.
    """
    shutil.rmtree(context.scratch / job.id, ignore_errors=True)
    clear_shared(job, context)
    if shared:
        job.shared.mkdir()
        folder = job.shared / random_digits()
    else:
        context.scratch.mkdir(parents=True, exist_ok=True)
        folder = Beneath(context.scratch) / job.id
    folder.mkdir()  # the folder of a job that was taken over is not made again
    for part in ("out", "work"):
        (folder / part).mkdir()
    try:
        yield folder
    finally:
        folder.rmtree(ignore_errors=True)


def clear_shared(job: Job, context: JobContext) -> None:
    """Remove the shared scratch folders of all tries, and set aside what is no folder.

    Raises EnvironmentTrouble if somebody still writes there.

    A computer of the cluster may write while this one removes, and a share may keep the name of a
    removed file as long as somebody has it open.
    """
    for _ in range(_TRIES):
        try:
            job.shared.rmtree()
        except FileNotFoundError:
            return
        except OSError as error:
            if error.errno in IRREGULAR:  # nobody's scratch folders
                set_aside(job.shared, context.folders.hidden)
        if not job.shared.exists():
            return
        time.sleep(_BETWEEN)
    raise EnvironmentTrouble(JobWord.STILL_COMPUTED.say())
