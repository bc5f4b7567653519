"""What a queue hands out to a thread that works: one small class for each kind of task."""

from __future__ import annotations

from dataclasses import dataclass

from filmhand.disk.beneath import Beneath
from filmhand.errors import Refused
from filmhand.intake.scan import Bundle


@dataclass(frozen=True, slots=True)
class ClaimOne:
    """Claim settled art and make its films, or refuse it where that is decided already."""

    bundle: Bundle
    refusal: Refused | None = None


@dataclass(frozen=True, slots=True)
class ClaimTogether:
    """Claim several settled art files and make them on one sheet."""

    bundles: tuple[Bundle, ...]


@dataclass(frozen=True, slots=True)
class MeasureSheet:
    """Find out whether all these have room on one sheet; the art stays where it is."""

    bundles: tuple[Bundle, ...]


@dataclass(frozen=True, slots=True)
class ResumeJob:
    """Go on with the job in this folder of jobs in hand."""

    folder: Beneath


Claim = ClaimOne | ClaimTogether
Task = Claim | MeasureSheet | ResumeJob


def claimed_bundles(task: Task) -> tuple[Bundle, ...]:
    """What the task claims; nothing if it only measures or goes on."""
    match task:
        case ClaimOne(bundle):
            return (bundle,)
        case ClaimTogether(bundles):
            return bundles
        case MeasureSheet() | ResumeJob():
            return ()


def claimed_paths(task: Task) -> list[Beneath]:
    """Where the art lies that the task claims."""
    return [bundle.art.path for bundle in claimed_bundles(task)]
