"""Requests, answers and refusals as JSON: each message to and from it in one place, once.

What a worker answers is not trusted: its films must lie in the folder that it was given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from filmhand.errors import Quantity, Reason, Refused
from filmhand.film.formats import Format
from filmhand.profile.read.load import from_snapshot, to_snapshot
from filmhand.request import (
    READING_ENDS,
    ArtSize,
    FinishedFilm,
    FinishedSet,
    GangResult,
    JobRequest,
    JobResult,
    PrintWork,
    SheetSpace,
    Step,
)

_PATHS = ("art", "out", "scratch", "ticket", "mask", "tiles")

Json = dict[str, Any]


def request_to_json(request: JobRequest) -> Json:
    """A request, with its profile as a snapshot."""
    paths = {key: getattr(request, key) for key in _PATHS}
    return {
        **{key: None if path is None else str(path) for key, path in paths.items()},
        "name": request.name,
        "sub": request.sub,
        "profile": to_snapshot(request.profile),
        "threads": request.threads,
        "job": request.job,
        "documents": request.documents,
        "is_scan": request.is_scan,
        "earlier": [str(path) for path in request.earlier],
    }


def request_from_json(data: Json) -> JobRequest:
    """The request that :func:`request_to_json` wrote."""
    paths = {key: None if data[key] is None else Path(data[key]) for key in _PATHS}
    return JobRequest(
        name=data["name"],
        sub=data["sub"],
        profile=from_snapshot(data["profile"]),
        threads=data["threads"],
        job=data["job"],
        documents=data.get("documents", False),
        is_scan=data.get("is_scan", False),
        earlier=tuple(map(Path, data.get("earlier", ()))),
        **paths,  # type: ignore[arg-type]
    )


def film_to_json(film: FinishedFilm) -> Json:
    """A film by the names of its files, which lie in the request's `out`."""
    return {
        "suffix": film.suffix,
        "files": {str(form): file.name for form, file in film.files.items()},
        "proof": film.proof.name,
        "record": film.record,
        "printing": None if film.printing is None else _printing_to_json(film.printing),
    }


def _printing_to_json(work: PrintWork) -> Json:
    documents = {str(form): file.name for form, file in work.documents.items()}
    return {**asdict(work), "documents": documents}


def film_from_json(data: Json, out: Path) -> FinishedFilm:
    """A film as an answer tells of it; ValueError unless its files lie in `out` itself."""
    printing = data.get("printing")
    return FinishedFilm(
        suffix=_suffix(str(data["suffix"])),
        files={Format(form): _inside(out, name) for form, name in data["files"].items()},
        proof=_inside(out, data["proof"]),
        record=dict(data["record"]),
        printing=None if printing is None else _printing_from_json(printing, out),
    )


def _printing_from_json(data: Json, out: Path) -> PrintWork:
    width, height = map(int, data["size"])
    top, right, bottom, left = map(int, data["margin"])
    across, down = map(int, data["dpi"])
    documents = {Format(form): _inside(out, name) for form, name in data["documents"].items()}
    return PrintWork(
        documents, int(data["sheets"]), (width, height), (top, right, bottom, left), (across, down)
    )


def _suffix(text: str) -> str:
    """The end of a film's name, which may lead to no other folder."""
    if "/" in text or "\0" in text:
        raise ValueError(f"{text!r} is not the end of a name")
    return text


def _inside(out: Path, name: str) -> Path:
    """The file that a worker names; it must lie in `out` itself and be a regular file."""
    path = out / name
    if path.parent != out or path.is_symlink() or not path.is_file():
        raise ValueError(f"{name!r} is not a file in the output folder")
    return path


def result_to_json(result: JobResult) -> Json:
    """All films of a job, and the sets that they belong to."""
    sets = [{"suffix": one.suffix, "proof": one.proof.name} for one in result.sets]
    reading = {end: file.name for end, file in result.reading.items()}
    films = [film_to_json(film) for film in result.films]
    return {"films": films, "sets": sets, "reading": reading}


def result_from_json(data: Json, out: Path) -> JobResult:
    """The films that :func:`result_to_json` wrote; ValueError as :func:`film_from_json`."""
    return JobResult(
        [film_from_json(film, out) for film in data["films"]],
        [
            FinishedSet(_suffix(str(one["suffix"])), _inside(out, one["proof"]))
            for one in data.get("sets", ())
        ],
        {
            end: _inside(out, name)
            for end, name in data.get("reading", {}).items()
            if end in READING_ENDS
        },
    )


def progress_to_json(step: Step, behind: float) -> Json:
    """How far the work is, which goes ahead of the answer."""
    return {"step": str(step), "behind": round(behind, 3)}


def progress_from_json(data: Json) -> tuple[Step, float]:
    """What :func:`progress_to_json` wrote; ValueError, KeyError or TypeError for anything else."""
    behind = float(data["behind"])
    if not 0 <= behind <= 1 or len(data) != 2:
        raise ValueError("no share of the work")
    return Step[str(data["step"]).upper()], behind


def refusal_to_json(refused: Refused) -> Json:
    """A refusal, as answers and job.json hold it."""

    def pair(quantity: Quantity | None) -> Json | None:
        return None if quantity is None else {"value": quantity.value, "unit": quantity.unit}

    return {
        "reason": refused.reason.value,
        "found": pair(refused.found),
        "needed": pair(refused.needed),
        "say": refused.say,
        "do": refused.do,
    }


def refusal_from_json(data: Json) -> Refused:
    """The refusal that :func:`refusal_to_json` wrote."""
    found, needed = data.get("found"), data.get("needed")
    return Refused(
        Reason(data["reason"]),
        str(data["say"]),
        str(data["do"]),
        found=Quantity(**found) if found else None,
        needed=Quantity(**needed) if needed else None,
    )


def gang_to_json(result: GangResult) -> Json:
    """What became of each art of a shared sheet."""
    return {
        "placed": {number: film_to_json(film) for number, film in result.placed.items()},
        "refused": {n: refusal_to_json(refused) for n, refused in result.refused.items()},
        "alone": result.alone,
        "left": result.left,
    }


def gang_from_json(data: Json, requests: Sequence[JobRequest]) -> GangResult:
    """What :func:`gang_to_json` wrote; ValueError unless every request is told of once."""
    out = requests[0].out
    result = GangResult(
        {int(n): film_from_json(film, out) for n, film in data["placed"].items()},
        {int(n): refusal_from_json(refused) for n, refused in data["refused"].items()},
        {int(n): str(why) for n, why in data["alone"].items()},
        [int(n) for n in data["left"]],
    )
    told = [*result.placed, *result.refused, *result.alone, *result.left]
    if sorted(told) != list(range(len(requests))):
        raise ValueError("not every art is told of once")
    if len({tuple(sorted(film.files.items())) for film in result.placed.values()}) > 1:
        raise ValueError("one sheet has several films")
    return result


def sizes_to_json(known: Mapping[int, ArtSize | None]) -> list[Any]:
    """Sizes that are known already, by number."""
    return [[number, size] for number, size in known.items()]


def sizes_from_json(data: list[Any]) -> dict[int, ArtSize | None]:
    """What :func:`sizes_to_json` wrote."""
    return {number: None if size is None else (size[0], size[1]) for number, size in data}


def space_to_json(space: SheetSpace) -> Json:
    """Who finds room on a sheet."""
    return {"sizes": space.sizes, "chosen": space.chosen}


def space_from_json(data: Json, count: int) -> SheetSpace:
    """What :func:`space_to_json` wrote; ValueError unless it tells of ``count`` art files."""
    sizes = [None if one is None else (int(one[0]), int(one[1])) for one in data["sizes"]]
    chosen = [int(n) for n in data["chosen"]]
    if len(sizes) != count or not set(chosen) <= set(range(count)):
        raise ValueError("not every art is told of")
    return SheetSpace(sizes, chosen)
