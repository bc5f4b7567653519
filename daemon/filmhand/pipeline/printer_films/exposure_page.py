"""The page of instructions beside an exposure film."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from filmhand.language import and_list
from filmhand.pipeline.printer_films.wedge_page import page_of, press_options
from filmhand.pipeline.printer_films.wedge_words import ExposurePageWord


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
    for step in steps:
        share, before = step["factor"] - before, step["factor"]
        last = step is steps[-1]
        if seconds is None:
            row = word.LAST_SHARE if last else word.SPELL_SHARE
            said.append(row.say(share=f"{100 * share:.0f}", step=step["step"]))
        else:
            row = word.LAST_SECONDS if last else word.SPELL_SECONDS
            said.append(row.say(seconds=_figures(share * seconds), step=step["step"]))
    return said


def _figures(seconds: float) -> str:
    """Seconds to three figures, or to whole ones."""
    return f"{seconds:.0f}" if seconds >= 100 else f"{seconds:.3g}"
