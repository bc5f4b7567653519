"""Scans that commands are given, read in a process of their own, as art is by the service.

A picture that crashes its reader, never ends or unpacks to more than there is room for then gets
a sentence, and the command goes on with the next.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from filmhand.cli.cli_words import MakeRefusal
from filmhand.cli.make import why_died
from filmhand.request import JobRequest
from filmhand.values import dataclass
from filmhand.worker.parent import WorkerDied, WorkerLimits, ask_worker
from filmhand.worker.wire import request_to_json

if TYPE_CHECKING:
    from filmhand.profile.model import Profile
    from filmhand.reading.read_exposure import StepReading
    from filmhand.reading.reading import ReadOf, WedgeReading

_Answer = TypeVar("_Answer")


@dataclass(frozen=True, slots=True)
class WedgeScan:
    """What scans of a wedge show: the print or the film itself, lit through or not, of which ink.

    ``ink`` is None for the profile's own wedge.
    """

    of: ReadOf
    lit_through: bool = False
    ink: str | None = None


def wedge_of_scan(scan: Path, profile: Profile, wanted: WedgeScan) -> WedgeReading:
    """What a scan of the profile's wedge says.

    Raises
    ------
    Refused
        where it is not to be trusted, or its reader crashed or met a limit of the profile
    ProgramFailed
        where the program is at fault and not the scan
    EnvironmentTrouble
        where the disk, the memory or the rights fail
    """
    from filmhand.pipeline.readings.scan_answers import reading_of_answer  # noqa: PLC0415

    asked = {"task": "wedge", "of": str(wanted.of), "ink": wanted.ink}
    return _ask(scan, profile, asked | {"lit_through": wanted.lit_through}, reading_of_answer)


def steps_of_scan(scan: Path, profile: Profile, ink: str | None = None) -> tuple[StepReading, ...]:
    """What a scan says of a print from the exposure film of a profile, or of one of its inks.

    Raises as the former.
    """
    from filmhand.pipeline.readings.scan_answers import steps_of_answer  # noqa: PLC0415

    return _ask(scan, profile, {"task": "exposure", "ink": ink}, steps_of_answer)


def _ask(
    scan: Path, profile: Profile, asked: dict[str, Any], read: Callable[[dict[str, Any]], _Answer]
) -> _Answer:
    if not scan.is_file():
        raise MakeRefusal.NO_FILE.refused(path=scan)
    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        out, scratch = Path(folder, "out"), Path(folder, "scratch")
        out.mkdir()
        scratch.mkdir()
        request = JobRequest(
            art=scan.resolve(),
            name=scan.name,
            profile=profile,
            out=out,
            scratch=scratch,
            is_scan=True,
        )
        try:
            return ask_worker(
                asked | {"requests": [request_to_json(request)]},
                read,
                request=request,
                limits=WorkerLimits.of(profile),
            )
        except WorkerDied as died:
            raise why_died(died, scan.name) from died
