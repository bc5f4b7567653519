"""Several jobs in one process of their own, for one sheet; :mod:`filmhand.worker.process` has the
rest.

Imports nothing heavy on the parent's side, as there.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from filmhand.errors import Refused
from filmhand.worker.process import (
    FinishedFilm,
    Request,
    WorkerLimits,
    Workers,
    ask_worker,
    film_from_json,
    film_to_json,
    job_request,
    main,
    refusal_from_json,
    refusal_to_json,
    request_to_json,
)


@dataclass(slots=True)
class GangOutcome:
    """What became of each art, by its number among the requests.

    Attributes
    ----------
    placed : those on the sheet; the files of all are the same, the sheet's
    refused : those that get no film
    alone : those that cannot share a sheet, and why
    left : those that want another sheet
    """

    placed: dict[int, FinishedFilm] = field(default_factory=dict)
    refused: dict[int, Refused] = field(default_factory=dict)
    alone: dict[int, str] = field(default_factory=dict)
    left: list[int] = field(default_factory=list)


Size = tuple[int, int]
"""Width and height of art on film, in device pixels."""


@dataclass(frozen=True, slots=True)
class SheetSpace:
    """What a measuring found: the size of each art, None for art that will share no sheet.

    ``chosen`` are the numbers of those that find room on one sheet.
    """

    sizes: list[Size | None] = field(default_factory=list)
    chosen: list[int] = field(default_factory=list)

    @property
    def full(self) -> bool:
        """True if somebody finds no room."""
        return len(self.chosen) < sum(size is not None for size in self.sizes)


def run_gang(
    requests: Sequence[Request],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = "filmhand.worker.gang",
) -> GangOutcome:
    """One sheet of as many of the requests as fit, in a fresh process.

    Parameters
    ----------
    requests : in the order of their coming, of one profile; the first one's ``out`` takes all files
    limits : of one job; time is counted for each of them

    Raises
    ------
    Refused, EnvironmentTrouble, WorkerDied, Interrupted
        as :func:`filmhand.worker.process.run_in_worker`; a refusal is then one of all together
    """
    first = requests[0]

    def read(answer: dict[str, Any]) -> GangOutcome:
        gang = GangOutcome(
            {int(n): film_from_json(film, first.out) for n, film in answer["placed"].items()},
            {int(n): refusal_from_json(refused) for n, refused in answer["refused"].items()},
            {int(n): str(why) for n, why in answer["alone"].items()},
            [int(n) for n in answer["left"]],
        )
        told = [*gang.placed, *gang.refused, *gang.alone, *gang.left]
        if sorted(told) != list(range(len(requests))):
            raise ValueError("not every art is told of once")
        if len({tuple(sorted(film.files.items())) for film in gang.placed.values()}) > 1:
            raise ValueError("one sheet has several films")
        return gang

    question = {"gang": [request_to_json(request) for request in requests]}
    together = WorkerLimits(limits.seconds * len(requests), limits.memory)
    return ask_worker(
        question, read, request=first, limits=together, workers=workers, module=module
    )


def run_sheet_space(
    requests: Sequence[Request],
    known: Mapping[int, Size | None],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = "filmhand.worker.gang",
) -> SheetSpace:
    """Who finds room on one sheet; only art whose size is not ``known`` is opened.

    Raises as :func:`run_gang`.
    """

    def read(answer: dict[str, Any]) -> SheetSpace:
        sizes = [None if one is None else (int(one[0]), int(one[1])) for one in answer["sizes"]]
        chosen = [int(n) for n in answer["chosen"]]
        if len(sizes) != len(requests) or not set(chosen) <= set(range(len(sizes))):
            raise ValueError("not every art is told of")
        return SheetSpace(sizes, chosen)

    question = {
        "gang": [request_to_json(request) for request in requests],
        "known": [[number, size] for number, size in known.items()],
    }
    together = WorkerLimits(limits.seconds * len(requests), limits.memory)
    return ask_worker(
        question, read, request=requests[0], limits=together, workers=workers, module=module
    )


def _make(question: dict[str, Any]) -> dict[str, Any]:
    if "known" in question:
        return _room(question)
    from filmhand.pipeline.gang import make_gang  # noqa: PLC0415

    result = make_gang([job_request(one) for one in question["gang"]])
    return {
        "placed": {number: film_to_json(film) for number, film in result.placed.items()},
        "refused": {n: refusal_to_json(refused) for n, refused in result.refused.items()},
        "alone": result.alone,
        "left": result.left,
    }


def _room(question: dict[str, Any]) -> dict[str, Any]:
    from filmhand.pipeline.gang import find_room  # noqa: PLC0415

    known = {number: None if size is None else tuple(size) for number, size in question["known"]}
    sizes, chosen = find_room([job_request(one) for one in question["gang"]], known)
    return {"sizes": sizes, "chosen": chosen}


if __name__ == "__main__":
    code = main(_make)
    sys.stderr.flush()
    os._exit(code)  # as in the worker for one job
