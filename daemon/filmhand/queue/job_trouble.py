"""An error of the system that a job met: whether it concerns the whole folder, and what to do.

Trouble that is a job's alone holds up nobody else: the job is put off, told in the status, and
given up after a day. A gang parts, so that only the member with the trouble waits.
"""

from __future__ import annotations

import contextlib
import threading
import traceback
from collections.abc import Callable

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import OF_ALL, kind_of, plain_error, trouble_of_file
from filmhand.disk.folder_trial import clear_trial, try_folder
from filmhand.errors import EnvironmentTrouble
from filmhand.intake.refusals import unreadable
from filmhand.jobs.claim import give_back
from filmhand.jobs.context import JobContext
from filmhand.jobs.gang import part_next
from filmhand.jobs.job import Job, State
from filmhand.jobs.recover import salvage
from filmhand.jobs.render_job import strike_for_bug
from filmhand.jobs.settling import ArtChanged
from filmhand.queue.backlog import Backlog
from filmhand.queue.queue_words import JobQueueWord
from filmhand.queue.task import ClaimOne, Task
from filmhand.worker.parent import WorkerKilled
from filmhand.worker.wire import refusal_to_json


def system_error(error: BaseException) -> OSError | None:
    """What the system answered, if the error comes from that."""
    cause = error if isinstance(error, OSError) else error.__cause__
    return cause if isinstance(cause, OSError) else None


class JobTroubles:
    """What is done about the errors that the jobs of one queue meet.

    Parameters
    ----------
    name : str
        The profile's.
    backlog, lock
        Where jobs that wait are kept, and what guards it.
    wait_again : callable
        Told of art that could not be claimed.
    stop_for : callable
        Pauses the whole queue, for trouble that concerns all.
    """

    def __init__(
        self,
        name: str,
        context: JobContext,
        backlog: Backlog,
        lock: threading.RLock,
        wait_again: Callable[[Beneath, Exception], None],
        stop_for: Callable[..., None],
    ) -> None:
        self._name = name
        self._context = context
        self._backlog = backlog
        self._lock = lock
        self._wait_again = wait_again
        self._stop_for = stop_for
        self._trial = threading.Lock()

    def met(
        self, task: Task, folder: Beneath, job: Job | None, error: EnvironmentTrouble | OSError
    ) -> None:
        """The system failed: pause if that concerns all, else let this one wait by itself."""
        answer = system_error(error)
        if answer is None or self._concerns_all(answer):
            why = plain_error(error) if isinstance(error, OSError) else str(error)
            self._stop_for(why, kind=kind_of(error))
            return
        if job is None and isinstance(task, ClaimOne):
            self._wait_again(task.bundle.art.path, answer)
        with contextlib.suppress(OSError):
            if not folder.exists() or part_from_others(job):
                return
        name, why = in_the_way(job, folder, answer)
        with self._lock:
            wait = self._backlog.put_off(folder, _shown(job, folder), why, stuck=True)
        if wait.times == 1:
            self._context.say("waits by itself", profile=self._name, job=folder.name, why=why)
        if wait.over() and give_up(job, folder, self._context, name, why):
            wait.pause.end()

    def _concerns_all(self, error: OSError) -> bool:
        """True if what a job met would meet others too."""
        if error.errno in OF_ALL:
            return True
        context = self._context
        with self._trial:
            try:
                try_folder(context.folders, context.own, context.scratch)
            except OSError:
                return True
        return False

    def tidy(self) -> None:
        """Remove what a trial left behind, unless one is being made."""
        if self._trial.acquire(blocking=False):
            try:
                clear_trial(self._context.own)
            finally:
                self._trial.release()

    def tried(self, folder: Beneath, job: Job | None, error: ArtChanged | WorkerKilled) -> None:
        """It goes on by itself later: it is tried again after a pause, and the others go on."""
        with self._lock:
            self._backlog.put_off(folder, _shown(job, folder), str(error))
        if isinstance(error, ArtChanged):
            return  # told when it was found out
        self._context.say(
            "worker ended from outside",
            profile=self._name,
            job=folder.name,
            name=_shown(job, folder),
            how=error.how,
        )

    def stumbled(self, job: Job | None) -> None:
        """A fault of filmhand itself: against the art if it is being worked on, else a pause."""
        self._context.say(
            "filmhand itself failed",
            profile=self._name,
            job=job.id if job else None,
            traceback=traceback.format_exc(),
        )
        try:
            if job is None or not strike_for_bug(job, self._context):
                self._stop_for(JobQueueWord.FAILED_ITSELF.say())
        except OSError as error:
            self._stop_for(plain_error(error))


def _shown(job: Job | None, folder: Beneath) -> str:
    return job.shown if job is not None else file_names.shown(folder.name)


def in_the_way(job: Job | None, folder: Beneath, error: OSError) -> tuple[str, str]:
    """Name of the file that holds the job up, and a sentence on it."""
    for _, name in job.files() if job is not None else ():
        path = job.held / name if job is not None else folder
        try:
            with path.open() as file:
                file.read(1)
        except FileNotFoundError:
            continue
        except OSError as answer:
            return name, trouble_of_file(path, answer)
    return (job.taken.art if job is not None else folder.name), plain_error(error).rstrip(".")


def part_from_others(job: Job | None) -> bool:
    """Let each member of a gang go on as a job of its own; False if it is no gang that could."""
    if job is None or job.state not in {State.GATHERING, State.GANGED}:
        return False
    part_next(job)
    return True


def give_up(job: Job | None, folder: Beneath, context: JobContext, name: str, why: str) -> bool:
    """After a day: refuse the job's art as unreadable, or give it back; True if that was begun.

    A job whose films or refusal are published already only waits on, to put its art away.
    """
    with contextlib.suppress(OSError):
        if job is None:
            salvage(folder, context, why)
            return True
        if job.state is State.CLAIMED and job.decision.refusal is None:
            job.decision.refusal = refusal_to_json(unreadable(name, why))
            job.save()
            return True
        if job.state is State.CLAIMING:
            give_back(job, context)
            return True
    return False
