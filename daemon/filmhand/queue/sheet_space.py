"""Asking how much of the art that waits for a shared sheet has room on one.

Reads customers' files where they lie, and changes nothing. What can be half-done when we die here:
copies in the local scratch folder, which is emptied at the start.
"""

from __future__ import annotations

import shutil
import traceback
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.errors import FilmhandError
from filmhand.intake.scan import Bundle
from filmhand.jobs.context import JobContext
from filmhand.request import ArtSize, JobRequest, SheetSpace


def try_sheet_space(
    bundles: Sequence[Bundle],
    known: Mapping[int, ArtSize | None],
    context: JobContext,
    snapshot: dict[str, Any],
) -> SheetSpace | None:
    """As :func:`measure_sheet_space`, but None where anything fails: only a wait hangs on it.

    What is wrong there is told when the art is taken.
    """
    try:
        return measure_sheet_space(bundles, known, context, snapshot)
    except (FilmhandError, OSError):
        pass
    except Exception:
        context.say("measuring failed", traceback=traceback.format_exc())
    return None


def measure_sheet_space(
    bundles: Sequence[Bundle],
    known: Mapping[int, ArtSize | None],
    context: JobContext,
    snapshot: dict[str, Any],
) -> SheetSpace | None:
    """Who of them finds room; None if nobody can be asked. Raises as the renderer, and OSError."""
    if context.room is None:
        return None
    profile = context.profile_of(snapshot)
    with _scratch(context) as scratch:
        requests = []
        for number, bundle in enumerate(bundles):
            inside = scratch / str(number)
            for part in ("out", "work"):
                (inside / part).mkdir(parents=True)
            art, ticket = inside / "art", None
            if number not in known:
                _copy(bundle.art.path, art)
            if number not in known and bundle.ticket is not None:
                ticket = inside / ("art" + file_names.companion_end(bundle.ticket.name))
                _copy(bundle.ticket.path, ticket)
            requests.append(
                JobRequest(
                    art=art,
                    name=bundle.art.name,
                    profile=profile,
                    ticket=ticket,
                    out=inside / "out",
                    scratch=inside / "work",
                )
            )
        return context.room(requests, dict(known))


@contextmanager
def _scratch(context: JobContext) -> Iterator[Path]:
    folder = context.scratch / f"room-{file_names.random_digits()}"
    folder.mkdir(parents=True)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _copy(source: Beneath, target: Path) -> None:
    """Copy a file that may be exchanged meanwhile; OSError if it is no regular file any more."""
    with source.open() as file, target.open("wb") as copy:
        shutil.copyfileobj(file, copy)
