"""What people ask about one file afterwards: its history, and to have refused art tried again."""

from __future__ import annotations

import contextlib
import re
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, files_below
from filmhand.errors import FilmhandError
from filmhand.intake.scan import dropped_bundles
from filmhand.jobs import retry
from filmhand.jobs.claim import Gone
from filmhand.jobs.context import JobContext, JobLost
from filmhand.jobs.job import new_id
from filmhand.jobs.ledger import Entry, Ledger, lines_of, of_record, of_refusal
from filmhand.jobs.recover import advance
from filmhand.language import and_list
from filmhand.peers import host
from filmhand.peers.survey import job_folders, unfinished_jobs
from filmhand.request import JobResult
from filmhand.service.service_words import AnswerCount, AnswerWord, FileOutcome
from filmhand.values import dataclass

READS_FOR = 0.5  # that records are read where the ledger does not tell
# What a film's stem may have behind that of its art: pages, parts, others on its sheet, a number,
# and for a film of a set its place there with the ink.
_NUMBERS = r"(-[a-z]*\d+|-and-\d+-more)*(-\d+-.+)?"


def profile_folders(
    known: Mapping[str, Folders], told: Mapping[str, Any], station: Path
) -> dict[str, Folders]:
    """The folder of every profile that is known now or was when the status was written."""
    found = {str(one["name"]): Path(one["folder"]) for one in told.get("profiles", [])}
    return {name: Folders.at(root, station) for name, root in found.items()} | dict(known)


# --- history -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FileHistory:
    """What is known of files of a name; `lacks` is a sentence if older jobs may be missing."""

    found: list[dict[str, Any]]
    lacks: str = ""


def file_history(
    roots: Mapping[str, Folders],
    name: str,
    ledger: Path,
    clock: Callable[[], float] = time.monotonic,
) -> FileHistory:
    """All that is known about files of that name, oldest first; what is in hand or waits last.

    The ledger tells it, and the folders add what it does not know: the refusal logs, and the
    records under the names that such a film may have. Where the ledger is gone or not whole, the
    other records are read too, as far as that goes in half a second. `name` may be the art's name
    with or without sub-folder or suffix, a film's, or a job.
    """
    until = clock() + READS_FOR
    wanted = file_names.compared(name)
    entries, whole = _remembered(ledger, wanted)
    likely, others = _records(roots, name)
    for profile, folders in roots.items():
        for entry in _refused(folders, profile, wanted):
            entries.setdefault(entry.job, entry)
    for entry in _read(roots, likely):
        _add(entries, entry)
    lacks = ""
    if not whole:
        for entry in _read(roots, others):
            _add(entries, entry)
            if clock() >= until:
                lacks = AnswerWord.LEDGER_LACKS.say()
                break
    found = [
        _told(entry, roots.get(entry.profile)) for entry in entries.values() if _is(entry, wanted)
    ]
    found.sort(key=lambda one: (one["at"], one["job"]))
    found += [one for one in _now(roots) if wanted in _ways_to_say(one["name"], one["job"])]
    return FileHistory(found, lacks)


def _add(entries: dict[str, Entry], entry: Entry) -> None:
    """A job of several films has several records."""
    known = entries.setdefault(entry.job, entry)
    films = known.about.get("films", [])
    places = [(film["folder"], film["stem"]) for film in films]
    films += [one for one in entry.about["films"] if (one["folder"], one["stem"]) not in places]


def _remembered(ledger: Path, wanted: str) -> tuple[dict[str, Entry], bool]:
    """The jobs that the ledger knows under that name, and whether it knows of all."""
    if not ledger.is_file():
        return {}, False
    memory = Ledger(ledger)
    try:
        found = {entry.job: entry for entry in memory.named(wanted) if _is(entry, wanted)}
        return found, not memory.fresh
    finally:
        memory.close()


def _refused(folders: Folders, profile: str, wanted: str) -> Iterator[Entry]:
    plain = wanted.encode() if wanted.isascii() else b"\\"
    for log in folders.refusal_logs():
        for line in lines_of(log):
            if plain in line.lower() or b"\\" in line:  # what is not plain is written as \u00e9
                entry = of_refusal(profile, line)
                if entry is not None and _is(entry, wanted):
                    yield entry


_Place = tuple[str, str]  # a profile, and a record's place among its records


def _records(roots: Mapping[str, Folders], name: str) -> tuple[list[_Place], list[_Place]]:
    """The records of films that may have been named after `name`, and all others. Reads none."""
    own = name.rpartition("/")[2]
    stems = {own, file_names.split_suffix(own)[0], file_names.clean_stem(own)}
    named = re.compile(
        "|".join(re.escape(file_names.compared(stem)) + _NUMBERS for stem in sorted(stems))
    )
    likely: list[_Place] = []
    others: list[_Place] = []
    for profile, folders in roots.items():
        for path in files_below(folders.output("records"), ".json"):
            stem = path.rpartition("/")[2].removesuffix(".json")
            fits = named.fullmatch(file_names.compared(stem)) is not None
            (likely if fits else others).append((profile, path))
    return likely, others


def _read(roots: Mapping[str, Folders], places: Iterable[_Place]) -> Iterator[Entry]:
    for profile, place in places:
        top = roots[profile].output("records")
        entry = of_record(profile, top.joinpath(*place.split("/")), top)
        if entry is not None:
            yield entry


def _is(entry: Entry, wanted: str) -> bool:
    films = entry.about.get("films", [])
    files = [str(file) for film in films for file in film["files"]]
    said = {file_names.compared(text) for file in files for text in (file, file.rpartition(".")[0])}
    said |= {
        file_names.compared(str(film["stem"])) for film in films
    }  # of its own record and proof
    return wanted in said | _ways_to_say(entry.name, entry.job)


def _ways_to_say(shown: str, job: str) -> set[str]:
    own = shown.rpartition("/")[2]
    return {
        file_names.compared(text) for text in (shown, own, file_names.split_suffix(own)[0], job)
    }


def _told(entry: Entry, folders: Folders | None) -> dict[str, Any]:
    told: dict[str, Any] = {
        "at": entry.at,
        "outcome": entry.outcome,
        "profile": entry.profile,
        "name": entry.name,
        "job": entry.job,
        "sha256": entry.sha256,
    }
    if entry.outcome == "made":
        there = {  # by name, since those who share a sheet have one file
            "/".join(filter(None, (film["folder"], file))): _file_told(folders, film, file)
            for film in entry.about.get("films", [])
            for file in film["files"]
        }
        told["films"] = [{"file": file, **one} for file, one in there.items()]
    else:
        told |= {key: entry.about.get(key) for key in ("reason", "found", "needed", "say", "do")}
    return told


def _file_told(folders: Folders | None, film: Mapping[str, Any], file: str) -> dict[str, Any]:
    told: dict[str, Any] = {"there": _is_there(folders, film, file)}
    return {**told, "set": film["set"]} if film.get("set") else told


def _is_there(folders: Folders | None, film: Mapping[str, Any], file: str) -> bool:
    if folders is None:
        return False
    sub = filter(None, str(film["folder"]).split("/"))
    with contextlib.suppress(OSError, ValueError):
        return folders.output("positives").joinpath(*sub, file).is_file()
    return False


def _now(roots: Mapping[str, Folders]) -> Iterator[dict[str, Any]]:
    for profile, folders in roots.items():
        blank = {"at": None, "profile": profile, "sha256": None}
        for job in unfinished_jobs(folders.hidden):
            if not job.gang.members:  # they are told of themselves
                yield blank | {
                    "outcome": FileOutcome[job.state.name],
                    "name": job.shown,
                    "job": job.id,
                }
        with contextlib.suppress(OSError):
            for bundle in dropped_bundles(folders):
                yield blank | {"outcome": FileOutcome.WAITING, "name": bundle.shown, "job": ""}


def _in_hand(folders: Folders) -> list[Beneath]:
    with contextlib.suppress(OSError):
        return list(job_folders(folders.hidden))
    return []


# --- retry ---------------------------------------------------------------------------------------


def retry_refused(roots: Mapping[str, Folders], name: str, scratch: Path) -> str:
    """Put refused art back into its drop folder; the sentence that says where.

    Parameters
    ----------
    name : the job, or the art as it is shown in the status or lies in rejected/, with or without
        sub-folder and with or without the profile before that; the name of its note will do
    scratch : a folder of this computer

    Raises
    ------
    FilmhandError
        a sentence, where there is nothing to put back or the name is that of several files
    """
    lines = [
        (profile, one) for profile, folders in roots.items() for one in retry.refusals(folders)
    ]
    meant = [one for one in lines if one[1]["job"] == name]
    meant = meant or _refused_as(lines, name) or _refused_as(lines, name, endings=False)
    found = [
        (profile, told, art)
        for profile, told in meant
        if (art := retry.find_refused(roots[profile], told)) is not None
    ]
    if len({(profile, str(art)) for profile, _, art in found}) > 1:
        raise FilmhandError(_several(name, found))
    if found:
        profile, told, art = found[-1]
        return _put_back(roots[profile], profile, art, str(told.get("name", "")), scratch)
    if meant:
        profile, told = meant[-1]
        raise FilmhandError(
            AnswerWord.NO_LONGER_REJECTED.say(name=told.get("name"), profile=profile)
        )
    raise FilmhandError(_why_not(roots, name))


_Refusals = list[tuple[str, dict[str, Any]]]


def _refused_as(lines: _Refusals, name: str, *, endings: bool = True) -> _Refusals:
    """The refusals that a name may mean, by what was dropped and by where it lies now.

    Without ``endings`` the name has none, as a film's has.
    """
    wanted = file_names.compared(name.removesuffix(file_names.WHY_END).removeprefix("./"))
    found = []
    for profile, told in lines:
        shown = {str(told.get("name") or ""), str(told.get("kept") or "")} - {""}
        places = {f"rejected/{one}" for one in shown} | shown
        ways = places | {f"{profile}/{one}" for one in places}
        ways |= {one.rpartition("/")[2] for one in shown}
        if not endings:
            ways = {file_names.split_suffix(one)[0] for one in ways}
        if wanted in set(map(file_names.compared, ways)):
            found.append((profile, told))
    return found


def _several(name: str, found: list[tuple[str, dict[str, Any], Beneath]]) -> str:
    listed = [
        AnswerWord.ONE_REFUSED.say(
            job=told["job"],
            place=f"{profile}/{told.get('kept') or told.get('name')}",
            at=told["at"],
            say=told.get("say", ""),
        )
        for profile, told, _ in found
    ]
    return AnswerWord.SEVERAL_REFUSED.say(name=name, found="; ".join(listed))


def _put_back(folders: Folders, profile: str, art: Beneath, name: str, scratch: Path) -> str:
    context = JobContext(
        folders=folders,
        host=host.fresh_id(),
        ledger=Ledger(Path(":memory:")),
        scratch=scratch,
        render=lambda request: JobResult(),
        why_note=lambda name, refused, is_scan: "",
    )
    host.sign_of_life(folders.hidden, context.host)
    try:
        identity = new_id(datetime.now(UTC))
        job = retry.way_back(context, art, name=name, identity=identity, profile=profile)
        where = "/".join(map(file_names.shown, (*job.sub, job.taken.art)))
        advance(job, context)
    except Gone:
        raise FilmhandError(AnswerWord.JUST_TAKEN.say(name=name)) from None
    except JobLost:
        pass  # a running service has taken it over and ends it
    finally:
        host.say_goodbye(folders.hidden, context.host)
        context.ledger.close()
    row = AnswerWord.SCAN_PUT_BACK if job.taken.is_scan else AnswerWord.PUT_BACK
    return row.say(name=where, profile=profile)


def _why_not(roots: Mapping[str, Folders], job: str) -> str:
    for profile, folders in roots.items():
        top = folders.output("records")
        places = ((profile, place) for place in files_below(top, ".json"))
        for entry in _read(roots, places):
            if entry.job == job:
                return AnswerWord.WAS_MADE.say(job=job, name=entry.name, profile=profile)
        # Members of a gang lie inside its folder.
        if any(folder.name == job for folder in _in_hand(folders)):
            return AnswerWord.NOT_FINISHED.say(job=job)
    away = [profile for profile, folders in roots.items() if not folders.present()]
    if away:
        row = AnswerCount.NOTHING_REFUSED_AND_AWAY
        return row.say(len(away), name=job, profiles=and_list(away))
    return AnswerWord.NOTHING_REFUSED.say(name=job)
