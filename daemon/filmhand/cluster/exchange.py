"""What the service asks a computer of the cluster, and what it makes of the answer."""

from __future__ import annotations

import os
import time
from pathlib import Path

from filmhand import __version__
from filmhand.art.files.extras import ART_EXTRA, installed
from filmhand.cluster.cluster_words import ClusterWord
from filmhand.cluster.task import HERE, ICC, ClusterTrouble
from filmhand.digest import sha256_of
from filmhand.errors import EnvironmentTrouble
from filmhand.language import spoken
from filmhand.request import JobRequest, JobResult
from filmhand.worker.parent import WorkerDied, WorkerKilled, WorkerLimits
from filmhand.worker.wire import Json, refusal_from_json, request_to_json, result_from_json

_ARRIVES_WITHIN = 10.0  # seconds that a share may take to show what was written elsewhere
_POLL = 0.1


def question_of(request: JobRequest, limits: WorkerLimits, token: str) -> Json:
    """What :func:`filmhand.cluster.task.run` needs, fit for JSON, with the hashes of the files.

    An ICC profile that the job's profile names lies on this computer only: it goes with the art.
    EnvironmentTrouble where it cannot be read, or is another by now.
    """
    icc = _put_icc(request, request.out.parent / ICC)
    files = {"art": request.art, "ticket": request.ticket, "mask": request.mask, "icc": icc}
    return {
        "filmhand": __version__,
        "libraries": installed(),
        "folder": str(request.out.parent),
        "token": token,
        "request": request_to_json(request),
        "files": {kind: [path.name, sha256_of(path)] for kind, path in files.items() if path},
        "seconds": limits.seconds,
        "memory": limits.memory,
        "language": spoken(),
    }


def _put_icc(request: JobRequest, place: Path) -> Path | None:
    wish = request.profile.icc
    if wish is None:
        return None
    try:
        data = wish.file.read()
    except OSError as fault:
        from filmhand.pipeline.separation.plates.plate_words import PlateNote  # noqa: PLC0415

        why = fault.strerror or fault
        say = PlateNote.ICC_UNREAD.say(name=wish.file.name, why=why)
        raise EnvironmentTrouble(say) from fault
    with place.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    return place


def understand(answer: Json, folder: Path) -> JobResult:
    """The films of an answer, once they have arrived in the job's shared folder.

    Raises
    ------
    Refused, WorkerDied
        What became of the file.
    EnvironmentTrouble
        The computer could not do the job.
    FileNotFoundError
        The folder is gone: the job is another host's now.
    """
    if "refused" in answer:
        raise refusal_from_json(answer["refused"])
    if "killed" in answer:
        raise WorkerKilled(ClusterWord.KILLED_ON.say(how=answer["killed"], host=answer["host"]))
    if "died" in answer:
        how = ClusterWord.DIED_ON.say(how=answer["died"], host=answer["host"])
        raise WorkerDied(how, is_bug=bool(answer["bug"]))
    if "trouble" in answer:
        (folder / HERE).stat()
        raise EnvironmentTrouble(_trouble(answer))
    return _collect(answer, folder)


def _trouble(answer: Json) -> str:
    """A sentence that is the same for every job in the same trouble."""
    host = answer["host"]
    match answer["trouble"]:
        case ClusterTrouble.VERSION:
            there = answer["filmhand"]
            return ClusterWord.OTHER_VERSION.say(host=host, there=there, here=__version__)
        case ClusterTrouble.LIBRARIES:
            return ClusterWord.LACKS_ADDITION.say(host=host, extra=ART_EXTRA)
        case ClusterTrouble.UNSEEN:
            return ClusterWord.SEES_NO_FOLDER.say(host=host)
        case ClusterTrouble.SHARE:
            return ClusterWord.FOLDER_FAILED.say(host=host, why=answer["why"])
        case ClusterTrouble.THERE:
            return ClusterWord.COMPUTER_FAILED.say(host=host, why=answer["why"])
    return ClusterWord.WAS_ENDED.say(host=host)


def _collect(answer: Json, folder: Path) -> JobResult:
    """The films of a run, once they are here as they were written there."""
    run = folder / _plain(answer["run"])
    until = time.monotonic() + _ARRIVES_WITHIN
    for name, digest in answer["sha256"].items():
        while not _is(run / _plain(name), digest):
            if time.monotonic() > until:
                raise EnvironmentTrouble(ClusterWord.NOT_ARRIVED.say(host=answer["host"]))
            time.sleep(_POLL)
    return result_from_json(answer, run)


def _plain(name: str) -> str:
    """A name that leads nowhere else."""
    if Path(name).name != name or name in {"", ".."}:
        raise EnvironmentTrouble(ClusterWord.NO_FILE_NAME.say(name=repr(name)))
    return name


def _is(path: Path, digest: str) -> bool:
    if path.is_symlink() or not path.is_file():
        path.parent.parent.stat()  # gone where the job is another host's now
        return False
    return sha256_of(path) == digest
