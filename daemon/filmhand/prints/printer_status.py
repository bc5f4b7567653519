"""What is told of a printer: what it does, what waits for it, and what only a person can settle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from filmhand.jobs.print_order import AT_PRINTER, OrderState
from filmhand.language import speaking
from filmhand.printer.print_request import JobState
from filmhand.printer.printer_words import PrinterDoing
from filmhand.prints.print_words import Doubt, FilmsLeft, QueueWord, RunWaits
from filmhand.prints.profile_orders import Needs, ProfileOrders
from filmhand.values import dataclass

_NAMED = 20  # films that are told by name
_LONG_TURN = 600.0  # seconds that another host has had its turn; most sets are out by then
_DOING = {
    JobState.PENDING: PrinterDoing.HAS_FILM,
    JobState.HELD: PrinterDoing.HOLDS_FILM,
    JobState.STOPPED: PrinterDoing.STOPPED,
}


@dataclass(frozen=True, slots=True)
class RunGoesOn:
    """The set that goes before all else, and its profile."""

    profile: str
    film_set: str


def printer_told(
    printer: str,
    profiles: Sequence[ProfileOrders],
    held: Mapping[Needs, str],
    why: str,
    *,
    other_host: str = "",
    other_for: float = 0.0,
    run_goes_on: RunGoesOn | None = None,
) -> dict[str, Any]:
    """One printer of `filmhand status --json`.

    Parameters
    ----------
    printer : its address
    profiles : those that name it
    held : why films of a kind cannot be printed for now
    why : what is in the way of all of them; empty if nothing is
    other_host : whose turn it is, where that is not ours
    other_for : for how many seconds it has been
    run_goes_on : the set that is under way
    """
    if other_host and not why:
        row = QueueWord.OTHER_HOST if other_for < _LONG_TURN else QueueWord.OTHER_HOST_LONG
        why = row.say(host=other_host, minutes=round(other_for / 60))
    counts = [len(one.of_states({OrderState.WAITING})) for one in profiles]
    printing = [film for one in profiles for film in _at_printer(one)]
    doubtful = [film for one in profiles for film in _doubtful(one)]
    all_held = [*({"profile": needs[0], "why": why} for needs, why in held.items())]
    all_held += [one for profile in profiles for one in _held_in(profile)]
    if run_goes_on is not None and all_held:
        all_held += [
            {"profile": one.profile.name, "why": QueueWord.RUN_GOES_ON.say(**asdict(run_goes_on))}
            for one, count in zip(profiles, counts, strict=True)
            if count and one.profile.name != run_goes_on.profile
        ]
    waiting = sum(counts)
    paused = [one.profile.name for one in profiles if one.paused]
    return {
        "printer": printer,
        "profiles": [one.profile.name for one in profiles],
        "state": _state(why, printing, waiting, all(one.paused for one in profiles)),
        "why": why or (printing[0]["why"] if printing else None),
        "film_low": not why and any(one["film_low"] for one in printing),
        "waiting": waiting,
        "printing": printing[:_NAMED],
        "held": all_held,
        "paused": paused,
        "doubtful": doubtful[:_NAMED],
        "doubtful_count": len(doubtful),
    }


def _held_in(one: ProfileOrders) -> Iterator[dict[str, Any]]:
    """What is in the way of a profile's folder, or of single films and sets of it."""
    with speaking(one.profile.language):
        whys = [one.trouble.why, *(pause.why for pause in one.spoiled.values())]
        whys += [
            RunWaits.FOR_ITS_FILMS.say(run.there, film_set=run.film_set, of=run.of)
            for run in one.in_parts
        ]
    yield from ({"profile": one.profile.name, "why": why} for why in whys[:_NAMED] if why)


def left_for(told: Mapping[str, Any]) -> str:
    """A sentence on the films that are left for a printer and why; empty if none is."""
    count = told["waiting"] + len(told["printing"]) + told["doubtful_count"]
    if not count:
        return ""
    whys = [told["why"], *(one["why"] for one in told["held"])]
    whys += [QueueWord.PAUSED.say(profile=one) for one in told["paused"]]
    whys += [one["why"] for one in told["doubtful"]]
    why = "; ".join(str(why).rstrip(".") for why in whys if why) or QueueWord.WAS_STOPPED.say()
    return FilmsLeft.FOR_PRINTER.say(count, printer=told["printer"], why=why)


def _state(why: str, printing: Sequence[Mapping[str, Any]], waiting: int, paused: bool) -> str:
    if why:
        return PrinterDoing.WAITS
    if printing:
        return str(printing[0]["state"])
    if waiting:
        return PrinterDoing.PAUSED if paused else PrinterDoing.WAITS
    return PrinterDoing.IDLE


def _at_printer(one: ProfileOrders) -> list[dict[str, Any]]:
    found = []
    for identity in one.of_states(AT_PRINTER):
        run, order = one.runs.get(identity), one.seen[identity]
        seen = None if run is None else run.seen
        found.append(
            {
                "profile": one.profile.name,
                "film": order.film,
                "printer_job": order.number,
                "state": PrinterDoing.IS_SENT
                if seen is None
                else _DOING.get(seen.state, PrinterDoing.PRINTS),
                "why": (seen.why if seen is not None else "") or None,
                "film_low": seen is not None and seen.film_low,
            }
        )
    return found


def _doubtful(one: ProfileOrders) -> list[dict[str, Any]]:
    with speaking(one.profile.language):
        return [
            {
                "profile": one.profile.name,
                "film": one.seen[identity].film,
                "why": Doubt.SAY.say(why=one.seen[identity].why),
                "do": Doubt.DO.say(film=one.seen[identity].film),
            }
            for identity in one.of_states({OrderState.DOUBTFUL})
        ]
