"""The page of instructions that lies beside a wedge."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from filmhand.language import and_list
from filmhand.pipeline.printer_films.wedge_words import WedgePageWord

_COLUMNS = 78


def wedge_page(
    told: Mapping[str, Any],
    profile: str,
    files: Sequence[str],
    source: str,
    *,
    ink: str | None = None,
) -> str:
    """What to do with a wedge, in the language in force.

    Parameters
    ----------
    told : what :func:`filmhand.pipeline.printer_films.wedge_film.make_wedge` tells of it
    files : names of the film's files
    source : name of the profile's file
    ink : the ink that it is of, as its folder is called; None for the profile's own
    """
    word, options = WedgePageWord, press_options(source, ink)
    lines = [word.WHAT.say(patches=len(told["patches"])), word.PRINT_IT.say()]
    if told["scale_bars"]:
        lines.append(word.MEASURE_BAR.say(length=told["scale_bars"][0]["length_mm"]))
    lines += [word.PULL.say(), word.LOOK.say(options=options), word.SCAN.say()]
    read = word.READ if ink is None else word.READ_OF_INK
    lines.append(read.say(options=options, ink=ink))
    return page_of(word.HEAD.say(profile=profile, files=and_list(files)), lines)


def press_options(source: str, ink: str | None) -> str:
    """The options by which commands are told whose press it is.

    >>> press_options("shop press.yaml", "Dark-red")
    "--profile 'shop press.yaml' --ink Dark-red"
    """
    of_ink = [] if ink is None else ["--ink", ink]
    return shlex.join(["--profile", source, *of_ink])


def page_of(head: str, paragraphs: Sequence[str]) -> str:
    """A head, paragraphs, and the cautions of exposing and printing.

    A paragraph that is in lines already is left so.
    """
    word = WedgePageWord
    cautions = [
        word.CAUTION_FIRST,
        word.CAUTION_LIGHT,
        word.CAUTION_WASH,
        word.CAUTION_INK,
        word.CAUTION_FILM,
    ]
    told = [_ruled(head, "="), *map(_broken, paragraphs), _ruled(word.CAUTION_HEAD.say(), "-")]
    told += [_broken(row.say()) for row in cautions]
    return "\n\n".join(told) + "\n"


def _ruled(head: str, sign: str) -> str:
    broken = _broken(head)
    return f"{broken}\n{sign * max(map(len, broken.splitlines()))}"


def _broken(text: str) -> str:
    if "\n" in text:
        return text
    return textwrap.fill(text, _COLUMNS, break_long_words=False, break_on_hyphens=False)
