"""The scratch folder of one job: on the local disk, or where the computers of a cluster see it.

The shared one lies in the job's own folder, so that it is fenced off like all else there: when
another host has taken the job over, its path is gone, and what comes too late is written nowhere.
Each try has a folder of its own, which no earlier try that still runs somewhere can reach.
"""

from __future__ import annotations

import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job

_TRIES = 20  # computers that still write here notice within two seconds that they should not
_BETWEEN = 0.1  # seconds


@contextmanager
def scratch_folder(job: Job, context: JobContext, *, shared: bool) -> Iterator[Path]:
    """An empty folder with ``out`` and ``work`` in it, removed at the end.

    Parameters
    ----------
    job, context : Job, Bench
        Whose it is, and where the local scratch folders lie.
    shared : bool
        Put it into the job's own folder instead, for other computers to see.
    """
    local = context.scratch / job.id
    shutil.rmtree(local, ignore_errors=True)
    clear_shared(job)
    folder = job.shared / secrets.token_hex(4) if shared else local
    if shared:
        job.shared.mkdir()
    folder.mkdir(parents=not shared)  # the folder of a job that was taken over is not made again
    for part in ("out", "work"):
        (folder / part).mkdir()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def clear_shared(job: Job) -> None:
    """Remove the shared scratch folders of all tries.

    Raises EnvironmentTrouble if somebody still writes there.

    A computer of the cluster may write while this one removes, and a share may keep the name of a
    removed file as long as somebody has it open.
    """
    for _ in range(_TRIES):
        shutil.rmtree(job.shared, ignore_errors=True)
        if not job.shared.exists():
            return
        time.sleep(_BETWEEN)
    raise EnvironmentTrouble(
        "A computer of the cluster still works on a job that was taken from it; filmhand waits "
        "until it has stopped."
    )
