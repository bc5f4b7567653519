"""Several jobs for one sheet in one process; :mod:`filmhand.worker.parent` has the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from filmhand.request import ArtSize, GangResult, JobRequest, SheetSpace
from filmhand.worker.parent import CHILD, WorkerLimits, Workers, ask_worker
from filmhand.worker.wire import gang_from_json, request_to_json, sizes_to_json, space_from_json


def run_gang(
    requests: Sequence[JobRequest],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
) -> GangResult:
    """One sheet of as many of the requests as fit, in a fresh process.

    Parameters
    ----------
    requests : in the order of their coming, of one profile; the first one's ``out`` takes all files
    limits : of one job; time is counted for each of them

    Raises
    ------
    Refused, EnvironmentTrouble, WorkerDied, Interrupted
        as :func:`filmhand.worker.parent.run_in_worker`; a refusal is then one of all together
    """
    return ask_worker(
        {"task": "gang", "requests": [request_to_json(request) for request in requests]},
        lambda answer: gang_from_json(answer, requests),
        request=requests[0],
        limits=_together(limits, requests),
        workers=workers,
        module=module,
    )


def run_sheet_space(
    requests: Sequence[JobRequest],
    known: Mapping[int, ArtSize | None],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
) -> SheetSpace:
    """Who finds room on one sheet; only art whose size is not ``known`` is opened.

    Raises as :func:`run_gang`.
    """
    return ask_worker(
        {
            "task": "space",
            "requests": [request_to_json(request) for request in requests],
            "known": sizes_to_json(known),
        },
        lambda answer: space_from_json(answer, len(requests)),
        request=requests[0],
        limits=_together(limits, requests),
        workers=workers,
        module=module,
    )


def _together(limits: WorkerLimits, requests: Sequence[JobRequest]) -> WorkerLimits:
    return WorkerLimits(limits.seconds * len(requests), limits.memory)
