"""What a queue needs to know of its profile as it is now."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

from filmhand.language import speaking
from filmhand.profile.ink_curves import InkCurves
from filmhand.profile.inks import ink_folders
from filmhand.profile.model import Keep, Profile
from filmhand.profile.printing import Budget, PrintWishes
from filmhand.profile.read.curve import print_of_half
from filmhand.profile.read.load import to_snapshot
from filmhand.profile.terms import GainCurve
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.queue_words import JobQueueWord
from filmhand.units import size_text
from filmhand.values import dataclass

SETTLE = 2.0  # seconds, on a local disk
SETTLE_NETWORK = 15.0
FOREVER = Keep()


_Given = ParamSpec("_Given")
_Answer = TypeVar("_Answer")


class _OfOneProfile(Protocol):
    settings: QueueSettings


_Queue = TypeVar("_Queue", bound=_OfOneProfile)


def in_its_language(
    method: Callable[Concatenate[_Queue, _Given], _Answer],
) -> Callable[Concatenate[_Queue, _Given], _Answer]:
    """A queue's method that says everything in the language of the queue's profile."""

    @wraps(method)
    def spoken(queue: _Queue, /, *given: _Given.args, **named: _Given.kwargs) -> _Answer:
        with speaking(queue.settings.language):
            return method(queue, *given, **named)

    return spoken


@dataclass(frozen=True, slots=True)
class QueueSettings:
    """Seconds, bytes and wishes.

    `workers` is the cluster that makes the films, `printing` the printer they go to, if any.
    """

    snapshot: dict[str, Any]
    settle: float | None = None
    takeover: float = 900.0
    max_bytes: int = 512_000_000
    keep: Keep = FOREVER
    workers: str | None = None
    gang: GangWishes | None = None
    makes: str = ""  # the films in a few words, for people
    printing: PrintWishes | None = None
    in_inches: bool = False  # the sheet is written so
    holds: bool = False  # films may have to wait for somebody, or for the next day
    budget: Budget | None = None
    language: str | None = None  # that its jobs are told in, if the profile says one
    reads_wedges: bool = False  # there is a screen whose wedge can be read
    curve: GainCurve | None = None  # that was read and is in force
    own_curves: tuple[str, ...] = ()  # inks that may have curves of their own, as folders
    curve_unknown: bool = False  # nobody could look for a reading yet: its share was not there
    waits_for_reading: bool = False  # films are to go by a reading, and there is none
    goes_by_readings: bool = False  # so art waits for scans that came with it
    ink_curves: InkCurves = InkCurves((), ())

    @classmethod
    def of(cls, profile: Profile) -> QueueSettings:
        """The settings that a profile asks for."""
        ink_curves = InkCurves.of(profile)
        return cls(
            snapshot=to_snapshot(profile),
            settle=profile.settle,
            takeover=profile.takeover,
            max_bytes=int(profile.limits.megabytes * 1e6),
            keep=profile.keep,
            workers=profile.workers,
            gang=profile.gang,
            makes=_films_in_words(profile),
            printing=profile.print if profile.print and profile.print.printer else None,
            in_inches=profile.sheet.in_inches,
            holds=profile.approve or profile.budget is not None,
            budget=profile.budget,
            language=profile.language,
            reads_wedges=profile.lpi is not None,
            curve=_curve_of_file(profile),
            waits_for_reading=profile.waits_for_reading and not ink_curves.read,
            goes_by_readings=profile.goes_by_readings,
            ink_curves=ink_curves,
            own_curves=ink_folders(profile.inks, profile.underbase),
        )

    def curve_told(self) -> dict[str, Any] | None:
        """The profile's press curve; without a name where one is to be read first."""
        if self.curve is None:
            return {"name": None} if self.waits_for_reading else None
        return _told(self.curve)

    def ink_curves_told(self) -> list[dict[str, Any]]:
        """The curves of inks with readings of their own; without a name where one is lacking."""
        read = [{"ink": ink, **_told(curve)} for ink, curve in self.ink_curves.read]
        return read + [{"ink": ink, "name": None} for ink in self.ink_curves.lacking]

    def rest(self, *, network: bool) -> float:
        """Seconds of rest that art needs on a file system of this kind."""
        if self.settle is not None:
            return self.settle
        return SETTLE_NETWORK if network else SETTLE


def _curve_of_file(profile: Profile) -> GainCurve | None:
    gain = profile.tone.gain
    return gain if isinstance(gain, GainCurve) and gain.sha256 else None


def _told(curve: GainCurve) -> dict[str, Any]:
    return {
        "name": curve.name,
        "date": curve.head.date or None,
        "print_at_50": round(print_of_half(curve), 1),
        "smallest_dot_um": curve.head.held.dot,
    }


def _films_in_words(profile: Profile) -> str:
    row = {
        (False, False): JobQueueWord.FILMS,
        (False, True): JobQueueWord.FILMS_ON_MESH,
        (True, False): JobQueueWord.SCREENED,
        (True, True): JobQueueWord.SCREENED_ON_MESH,
    }[profile.lpi is not None, profile.mesh is not None]
    with speaking(profile.language):
        return row.say(
            sheet=size_text(profile.sheet.mm, profile.sheet, decimals=1),
            dpi=profile.dpi,
            lpi=f"{profile.lpi or 0:g}",
            dot=profile.dot,
            mesh=profile.mesh.label if profile.mesh else "",
        )
