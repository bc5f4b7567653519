"""``filmhand``, and ``python -m filmhand``."""

from __future__ import annotations

import sys
from collections.abc import Sequence

_WITH_VALUE = {"--profile", "--out"}  # options of ``make``


def run_filmhand() -> None:
    """Run the command; where it makes films of one art, the process for that loads beside it."""
    if not makes_one_art(sys.argv[1:]):
        _run_command()
        return
    from filmhand.worker import ahead  # noqa: PLC0415

    ahead.start_ahead()
    try:
        _run_command()
    finally:
        ahead.end_waiting()


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
