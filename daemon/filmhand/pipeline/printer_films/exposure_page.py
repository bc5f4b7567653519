"""The page of instructions beside an exposure film."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from filmhand.language import and_list
from filmhand.pipeline.printer_films.wedge_page import page_of, press_options
from filmhand.pipeline.printer_films.wedge_words import ExposurePageWord

_UNIT = 0.5  # seconds that a hand at a switch can hold, with a clock beside it; from memory
_LONG = 30.0
_SHORTEST = 1.0


def exposure_page(
    told: Mapping[str, Any],
    profile: str,
    files: Sequence[str],
    source: str,
    seconds: float | None,
    *,
    ink: str | None = None,
) -> str:
    """What to do with an exposure film, in the language in force.

    Parameters
    ----------
    told : what :func:`filmhand.pipeline.printer_films.exposure_film.make_exposure_film` tells of it
    files : names of the film's files
    source : name of the profile's file
    seconds : the time of light that is used for work; None gives shares of it
    ink : the ink that it is of, as its folder is called; None for the profile's own
    """
    word = ExposurePageWord
    lines = [word.WHAT.say(count=len(told["steps"])), word.PRINT_IT.say(), word.LAY_CARD.say()]
    lines += [word.STEPS.say(), "\n".join(f"   - {one}" for one in _spells(told["steps"], seconds))]
    lines += [
        word.WASH.say(),
        word.READ.say(),
        word.READ_SCAN.say(options=press_options(source, ink)),
    ]
    return page_of(word.HEAD.say(profile=profile, files=and_list(files)), lines)


def _spells(steps: Sequence[Mapping[str, Any]], seconds: float | None) -> list[str]:
    """How long to light each time, and what to cover then."""
    word = ExposurePageWord
    said, before = [], 0.0
    times = None if seconds is None else spell_seconds([one["factor"] for one in steps], seconds)
    for number, step in enumerate(steps):
        last = step is steps[-1]
        if times is None:
            share, before = step["factor"] - before, step["factor"]
            row = word.LAST_SHARE if last else word.SPELL_SHARE
            said.append(row.say(share=f"{100 * share:.0f}", step=step["step"]))
        else:
            row = word.LAST_SECONDS if last else word.SPELL_SECONDS
            said.append(row.say(seconds=_figures(times[number]), step=step["step"]))
    return said


def spell_seconds(factors: Sequence[float], seconds: float) -> list[float]:
    """How long to light each time, as a hand can hold it, the first step's first.

    Half seconds below 30 s and whole ones above, each such that the light of all spells so far
    comes as near as it can to what its step is to get: what one spell is off, the next takes back.
    Where the shortest is under a second only a timer serves, and nothing is rounded.

    Parameters
    ----------
    factors : the light of each step, as a share of the time that is tried, rising
    seconds : that time

    >>> spell_seconds([0.3536, 0.5, 0.7071, 1, 1.4142, 2, 2.8284], 60)
    [21.0, 9.0, 12.5, 17.5, 25.0, 35.0, 50.0]
    """
    exact = [
        (one - before) * seconds for one, before in zip(factors, (0.0, *factors), strict=False)
    ]
    if min(exact) < _SHORTEST:
        return exact
    held: list[float] = []
    for factor in factors:
        due = factor * seconds - sum(held)
        unit = _UNIT if due < _LONG else 2 * _UNIT
        held.append(max(unit, round(due / unit) * unit))
    return held


def _figures(seconds: float) -> str:
    """Seconds to three figures, or to whole ones."""
    return f"{seconds:.0f}" if seconds >= 100 else f"{seconds:.3g}"
