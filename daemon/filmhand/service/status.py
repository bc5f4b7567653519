"""What the service tells about itself: status.json for commands, status.html for people."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import socket
from collections.abc import Callable, Container, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from filmhand import __version__
from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import plain_error
from filmhand.disk.folders import HOST_NAME, Folders, user_folder
from filmhand.disk.set_aside import entries
from filmhand.errors import FilmhandError
from filmhand.intake.scan import CALIBRATE, NAMED, dropped_bundles
from filmhand.jobs.job import utc_text, whose_film
from filmhand.page.page_profiles import KEPT
from filmhand.peers.host import is_locked, known_id
from filmhand.peers.survey import unfinished_jobs
from filmhand.service.service_words import AnswerWord, ServiceWord
from filmhand.timing.background_call import BackgroundCall

if TYPE_CHECKING:
    from filmhand.jobs.ledger import Entry, Ledger
    from filmhand.queue.job_queue import JobQueue

_SCHEMA = "filmhand-status/1"
_BY_PERSON = ("waiting", "working", "in_work", "held", "left_alone")
# Seconds after which unchanged status files are written again, as a sign of life; a page that was
# not written for twice that time says so.
_REWRITE = 12.0


def default_state(station: Path) -> Path:
    """The local folder of one station's ledger, log and scratch, if no other is named.

    FilmhandError for a user without a home.
    """
    base = user_folder("XDG_STATE_HOME", ".local/state")
    if base is None:
        raise FilmhandError(ServiceWord.NO_HOME.say())
    digest = hashlib.sha256(os.fsencode(station.resolve())).hexdigest()[:8]
    name = re.sub(r"[^A-Za-z0-9_-]+", "-", station.resolve().name).strip("-") or "station"
    return base / "filmhand" / f"{name}-{digest}"


def status_of(
    station: Path,
    queues: list[JobQueue],
    ledger: Ledger,
    *,
    profiles_folder: Path,
    printers: list[dict[str, Any]] | None = None,
    faults: list[str],
    running: bool,
) -> dict[str, Any]:
    """All that can be told, as `filmhand status --json` prints it."""
    profiles = [queue.status() | {"link": _link(station, queue)} for queue in queues]
    for profile in profiles if not running else ():
        profile["state"] = "not running"
    sums = ledger.counts()
    made = ledger.history(limit=KEPT, outcome="made")
    refused = ledger.history(limit=KEPT, outcome="refused")
    faults = faults + [worry for queue in queues for worry in queue.housekeeping.worries()]
    return _unknown(station) | {
        "running": running,
        "profiles_folder": file_names.shown(str(profiles_folder)),
        "faults": faults,
        "counts": {
            "waiting": sum(profile["waiting_count"] for profile in profiles),
            "working": sum(len(profile["working"]) for profile in profiles),
            "made": sums["made"],
            "refused": sums["refused"],
        },
        "profiles": profiles,
        "made": [_made(entry) for entry in made],
        "refused": [_refused(entry, made) | _tried_again(entry, profiles) for entry in refused],
        "printers": printers or [],
    }


def _link(station: Path, queue: JobQueue) -> str | None:
    root = queue.context.folders.root
    return file_names.shown(root.name) if root.parent == station else None


def for_person(told: Mapping[str, Any], person: str) -> dict[str, Any]:
    """The part of a status that is somebody's: art with that name in its ticket or sub-folder."""
    wanted = file_names.compared(person)

    def theirs(one: Mapping[str, Any] | str) -> bool:
        entry = {"name": one} if isinstance(one, str) else one
        whose = _whose(entry.get("for"), str(entry.get("name", "")))
        return whose is not None and file_names.compared(whose) == wanted

    profiles = []
    for profile in told["profiles"]:
        mine = {key: list(filter(theirs, profile.get(key, ()))) for key in _BY_PERSON}
        sums = {f"{key}_count": len(mine[key]) for key in ("waiting", "held")}
        profiles.append({**profile, **mine, **sums})
    made, refused = (list(filter(theirs, told[key])) for key in ("made", "refused"))
    counts = {
        "waiting": sum(len(profile["waiting"]) for profile in profiles),
        "working": sum(len(profile["working"]) for profile in profiles),
        "made": len(made),
        "refused": len(refused),
    }
    return {**told, "counts": counts, "profiles": profiles, "made": made, "refused": refused}


def people_of(told: Mapping[str, Any]) -> list[str]:
    """Everybody whose art a status tells of, by their names as they were written first."""
    parts = [told, *told["profiles"]]
    listed = [
        one
        for part in parts
        for key in (*_BY_PERSON, "made", "refused")
        for one in part.get(key, ())
    ]
    entries = ({"name": one} if isinstance(one, str) else one for one in listed)
    people: dict[str, str] = {}
    for entry in entries:
        whose = _whose(entry.get("for"), str(entry.get("name", "")))
        if whose is not None:
            people.setdefault(file_names.compared(whose), whose)
    return sorted(people.values())


def _whose(told: object, name: str) -> str | None:
    *sub, _ = name.split("/")
    return whose_film(told, [] if sub[:1] == [CALIBRATE] else sub)  # a wedge is the shop's own


def _made(entry: Entry) -> dict[str, Any]:
    films = entry.about.get("films", [])
    return {
        "job": entry.job,
        "at": entry.at,
        "profile": entry.profile,
        "name": entry.name,
        "for": _whose(next((film["for"] for film in films if "for" in film), None), entry.name),
        "films": films,
        "original": entry.about.get("original"),
    }


def _refused(entry: Entry, made: list[Entry]) -> dict[str, Any]:
    told = {key: entry.about.get(key) for key in ("reason", "say", "do", "found", "needed", "kept")}
    # Sent again under its name, or as it was to a profile that is now another.
    told["after_all"] = any(
        film.at >= entry.at
        and film.profile == entry.profile
        and (film.name == entry.name or film.sha256 == entry.sha256)
        for film in made
    )
    told["for"] = _whose(None, entry.name)
    return {"job": entry.job, "at": entry.at, "profile": entry.profile, "name": entry.name, **told}


def _tried_again(entry: Entry, profiles: list[dict[str, Any]]) -> dict[str, bool]:
    """Whether art of that name was dropped or put back since, and is not done yet."""
    on_its_way = {
        one["name"]
        for profile in profiles
        if profile["name"] == entry.profile
        for key in ("waiting", "in_work", "held")
        for one in profile[key]
    }
    return {"tried_again": entry.name in on_its_way}


def now_or_later(done: str, *, running: bool) -> str:
    """What a command says that asked the service for something, which may not be running."""
    return done if running else AnswerWord.AND_LATER.say(done=done)


class StatusFiles:
    """Writes both files when something changed, and now and then as a sign of life.

    The station's page may lie on a share that hangs; it is written beside the caller, and only
    while the station is `there`.
    """

    def __init__(
        self,
        station: Path,
        state: Path,
        clock: Callable[[], float],
        say: Callable[..., None],
        *,
        there: Callable[[], bool],
    ) -> None:
        self._there = there
        self._station = station
        self._state = state
        self._clock = clock
        self._say = say
        self._written = ""
        self._at = float("-inf")
        self._failed: set[str] = set()
        self._page_due = False
        self._page: BackgroundCall[None] = BackgroundCall("status page", clock)

    def write(self, status: dict[str, Any]) -> None:
        """Write what differs; trouble is said once and never stops the service."""
        told = json.dumps({key: value for key, value in status.items() if key != "at"})
        now = self._clock()
        if told != self._written or now - self._at >= _REWRITE:
            self._written, self._at, self._page_due = told, now, True
            self._try(self._state / "status.json", json.dumps(status, indent=1).encode() + b"\n")
        self._page.result()
        if self._page_due:
            self._page_due = False  # before it begins: it may find at once that nobody is there
            if not self._page.start(lambda: self._write_page(status)):
                self._page_due = True

    def finish(self, seconds: float) -> None:
        """Wait for the station's page, but no longer than that."""
        self._page.wait(seconds)

    def _write_page(self, status: dict[str, Any]) -> None:
        if not self._there():
            self._page_due = True
            return
        from filmhand.page.status_page import status_page  # noqa: PLC0415 - the service only

        self._try(
            Beneath(self._station) / "status.html", status_page(status).encode("utf-8", "replace")
        )

    def _try(self, path: Path | Beneath, data: bytes) -> None:
        try:
            hidden = None
            if isinstance(path, Beneath):
                hidden = Beneath(self._station) / ".filmhand"
            else:
                self._state.mkdir(parents=True, exist_ok=True)
            atomic.write_atomic(path, data, durable=False, shared_by_way_of=hidden)
            self._failed.discard(path.name)
        except OSError as error:
            if path.name not in self._failed:
                self._failed.add(path.name)
                self._say("status not written", file=path.name, why=plain_error(error))


def leave_pointer(station: Path, state: Path, host: str) -> None:
    """Note in the station where this computer keeps its state, for `status` without --state."""
    with contextlib.suppress(OSError):
        pointer = Beneath(station) / ".filmhand" / f"{host}.json"
        data = {"state": str(state.resolve()), "computer": socket.gethostname()}
        atomic.write_atomic(pointer, json.dumps(data).encode() + b"\n", durable=False)


def find_state(station: Path) -> Path:
    """The state folder of the service that runs here, or else of the one that ran last.

    FilmhandError if none has run here and there is no default.
    """
    candidates = list(_pointed_at(station))
    try:
        candidates.insert(0, default_state(station))
    except FilmhandError:
        if not candidates:
            raise
    return max(candidates, key=lambda state: (is_locked(state), _written_at(state)))


_POINTER = forms.record({"state": forms.text(longest=4096), "computer": forms.text()})


def _pointed_at(station: Path) -> Iterator[Path]:
    """The state folders that are noted in the station, if they really are those of these hosts.

    Whoever can write in the station can write a note there, but no state folder elsewhere.
    """
    for path in entries(Beneath(station) / ".filmhand"):
        if not HOST_NAME.fullmatch(path.name.removesuffix(".json")):
            continue
        with contextlib.suppress(OSError, ValueError):
            data = _POINTER(forms.read_json(path, 1 << 14))
            state = Path(data["state"])
            if (
                data["computer"] == socket.gethostname()
                and state.is_absolute()
                and not state.resolve().is_relative_to(station.resolve())
                and known_id(state) == path.name.removesuffix(".json")
            ):
                yield state


def _written_at(state: Path) -> float:
    try:
        return (state / "status.json").stat().st_mtime
    except OSError:
        return float("-inf")


def folders_told(state: Path) -> dict[str, Path]:
    """The folders of the profiles, by name, when a service wrote its status last."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        told = json.loads((state / "status.json").read_bytes())["profiles"]
        return {str(one["name"]): Path(one["folder"]) for one in told}
    return {}


def profiles_told(state: Path) -> Path | None:
    """The folder of the profiles that a service of this state folder had when it last ran."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        told = Path(json.loads((state / "status.json").read_bytes())["profiles_folder"])
        return told if told.is_absolute() and told.is_dir() else None
    return None


def read_status(station: Path, state: Path) -> dict[str, Any]:
    """The status that the service wrote last, with what waits now if no service runs."""
    try:
        status: dict[str, Any] = json.loads((state / "status.json").read_bytes())
        if status["schema"] != _SCHEMA:
            raise ValueError("another schema")
    except (OSError, ValueError, KeyError, TypeError):
        status = _unknown(station)
    status["running"] = is_locked(state)
    if not status["running"]:
        for profile in status["profiles"]:
            profile["working"], profile["in_work"], profile["hosts"] = [], [], []
            folders = Folders.at(Path(profile["folder"]), station)
            held = {one["job"] for one in profile.get("held", ())}
            lying = [*_in_hand(folders, known_id(state), held), *_lying(folders)]
            profile["waiting"], profile["waiting_count"] = lying[:NAMED], len(lying)
            profile["state"] = "not running"
        for printer in status.get("printers", ()):
            printer["state"] = "not running"
        status["counts"]["working"] = 0
        status["counts"]["waiting"] = sum(p["waiting_count"] for p in status["profiles"])
    return status


def _in_hand(folders: Folders, own: str | None, held: Container[str]) -> Iterator[dict[str, str]]:
    """The art of jobs that the service here did not end; what other computers have is theirs."""
    for job in unfinished_jobs(folders.hidden, own):
        # A gang's members are told of, and what was not taken yet still lies in drop.
        if not job.gang.members and job.id not in held and job.has(job.taken.art):
            yield {"name": job.shown, "why": ServiceWord.GOES_ON.say()}


def _lying(folders: Folders) -> list[dict[str, str]]:
    with contextlib.suppress(OSError):
        return [
            {"name": bundle.shown, "why": ServiceWord.NOT_RUNNING.say()}
            for bundle in dropped_bundles(folders)
        ]
    return []


def _unknown(station: Path) -> dict[str, Any]:
    return {
        "schema": _SCHEMA,
        "filmhand": __version__,
        "station": file_names.shown(str(station)),
        "station_name": file_names.shown(station.resolve().name),
        "at": utc_text(datetime.now(UTC)),
        "running": False,
        "faults": [],
        "counts": {"waiting": 0, "working": 0, "made": 0, "refused": 0},
        "profiles": [],
        "printers": [],
        "made": [],
        "refused": [],
    }
