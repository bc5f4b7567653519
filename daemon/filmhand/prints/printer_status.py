"""What is told of a printer: what it does, what waits for it, and what only a person can settle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from filmhand.jobs.print_order import AT_PRINTER, OrderState
from filmhand.printer.print_request import JobState
from filmhand.prints.profile_orders import Needs, ProfileOrders

_NAMED = 20  # films that are told by name
_WORDS = {
    JobState.PENDING: "has the film",
    JobState.HELD: "holds the film",
    JobState.STOPPED: "stopped",
}


def printer_told(
    printer: str, profiles: Sequence[ProfileOrders], held: Mapping[Needs, str], why: str
) -> dict[str, Any]:
    """One printer of `filmhand status --json`.

    Parameters
    ----------
    printer : its address
    profiles : those that name it
    held : why films of a kind cannot be printed for now
    why : what is in the way of all of them; empty if nothing is
    """
    counts = [len(one.of_states({OrderState.WAITING})) for one in profiles]
    printing = [film for one in profiles for film in _at_printer(one)]
    doubtful = [film for one in profiles for film in _doubtful(one)]
    troubles = [
        {"profile": one.profile.name, "why": one.trouble.why} for one in profiles if one.trouble.why
    ]
    waiting = sum(counts)
    paused = [one.profile.name for one in profiles if one.paused]
    return {
        "printer": printer,
        "profiles": [one.profile.name for one in profiles],
        "state": _state(why, printing, waiting, all(one.paused for one in profiles)),
        "why": why or (printing[0]["why"] if printing else None),
        "waiting": waiting,
        "printing": printing[:_NAMED],
        "held": [*({"profile": needs[0], "why": why} for needs, why in held.items()), *troubles],
        "paused": paused,
        "doubtful": doubtful[:_NAMED],
        "doubtful_count": len(doubtful),
    }


def left_for(told: Mapping[str, Any]) -> str:
    """A sentence on the films that are left for a printer and why; empty if none is."""
    count = told["waiting"] + len(told["printing"]) + told["doubtful_count"]
    if not count:
        return ""
    whys = [told["why"], *(one["why"] for one in told["held"])]
    whys += [f"{one} is paused" for one in told["paused"]]
    whys += [one["why"] for one in told["doubtful"]]
    films = "1 film is" if count == 1 else f"{count} films are"
    why = "; ".join(str(why).rstrip(".") for why in whys if why) or "it was stopped"
    return f"{films} left to print on {told['printer']}: {why}."


def _state(why: str, printing: Sequence[Mapping[str, Any]], waiting: int, paused: bool) -> str:
    if why:
        return "waits"
    if printing:
        return str(printing[0]["state"])
    if waiting:
        return "paused" if paused else "waits"
    return "idle"


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
                "state": "is sent" if seen is None else _WORDS.get(seen.state, "prints"),
                "why": (seen.why if seen is not None else "") or None,
            }
        )
    return found


def _doubtful(one: ProfileOrders) -> list[dict[str, Any]]:
    return [
        {
            "profile": one.profile.name,
            "film": one.seen[identity].film,
            "why": f"Nobody knows whether it was printed: {one.seen[identity].why}.",
            "do": "Look for the sheet at the printer. If it is not there or not whole, print it "
            f"again with: filmhand reprint STATION {one.seen[identity].film}; else put an end to "
            f"it with: filmhand cancel STATION {one.seen[identity].film}",
        }
        for identity in one.of_states({OrderState.DOUBTFUL})
    ]
