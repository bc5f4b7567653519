"""``filmhand``, and ``python -m filmhand``."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

_WITH_VALUE = {"--profile", "--out"}  # options of ``make``


def run_filmhand() -> None:
    """Run the command; where it makes films of one art, the process for that loads beside it."""
    if not makes_one_art(sys.argv[1:]):
        _run_command()
        return
    gc.disable()  # what it loads stays until it ends
    try:
        _run_beside_process()
    except SystemExit as end:
        end_at_once(end.code)
        raise


def _run_beside_process() -> None:
    from filmhand.worker import ahead  # noqa: PLC0415

    ahead.start_ahead()
    try:
        _run_command()
    finally:
        ahead.end_waiting()


def end_at_once(code: object) -> None:
    """End this process; what it has loaded is not taken apart, for which somebody would wait.

    Returns where Python itself has something to say at the end: other words than a number as the
    code, or output that finds no place.
    """
    if not isinstance(code, int):
        return
    try:
        for stream in filter(None, (sys.stdout, sys.stderr)):
            stream.flush()
    except (OSError, ValueError):
        return
    os._exit(code)


def makes_one_art(words: Sequence[str]) -> bool:
    """Whether the words ask for films of one file; a guess, made before their parser is loaded."""
    if words[:1] != ["make"] or not {"-h", "--help"}.isdisjoint(words):
        return False
    arts, rest = 0, iter(words[1:])
    for word in rest:
        if word in _WITH_VALUE:
            next(rest, "")
        elif not word.startswith("-"):
            arts += 1
    return arts == 1


def _run_command() -> None:
    from filmhand.cli import main as run_command  # noqa: PLC0415

    run_command()


if __name__ == "__main__":
    run_filmhand()
