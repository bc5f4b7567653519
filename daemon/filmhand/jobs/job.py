"""One job's own folder, and what is written about it there.

::

    .filmhand/<host>/<job>/
        job.json    state and all that is needed to go on after a kill
        held/       the customer's files under their own names: having them here is the claim
        out/        finished films, proofs and records that have not been published yet
        why.txt     the note that will lie beside a refused file
        is-scan     for the scan of a wedge, the sub-folder of calibrate/ that it came from
        shared/     what the computers of a cluster read and write for this job

A gang (:mod:`filmhand.jobs.gang`) has the folders of its members in its own instead of `held/`.
`held/` keeps the customer's names, so that even a lost job.json loses no name.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import field, fields
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import Beneath
from filmhand.intake.scan import CALIBRATE
from filmhand.jobs import job_form
from filmhand.jobs.job_words import JobCount
from filmhand.jobs.print_order import ORDERS
from filmhand.values import dataclass

IS_SCAN = "is-scan"
_LARGEST_MARK = 16 * 1024
_LONGEST_PERSON = 255


class State(StrEnum):
    """How far a job is; :mod:`filmhand.jobs.recover` has a row for each."""

    GATHERING = "gathering"
    GANGED = "ganged"
    CLAIMING = "claiming"
    CLAIMED = "claimed"
    HELD = "held"
    PUBLISHING = "publishing"
    PARTING = "parting"
    RETIRING = "retiring"
    REJECTING = "rejecting"
    RETURNING = "returning"
    SETTLING = "settling"


@dataclass(slots=True)
class Item:
    """One file to publish: its name in out/, the output folder, its final name, its hash."""

    source: str
    kind: str
    name: str
    sha256: str


@dataclass(slots=True)
class TakenFiles:
    """What was taken from the drop folder: names, and how each file looked when it settled.

    `is_scan`: it is the scan of a wedge and was taken from calibrate/ instead.
    """

    art: str
    ticket: str | None = None
    mask: str | None = None
    seen: dict[str, list[int]] = field(default_factory=dict)  # size, nanoseconds, inode
    is_scan: bool = False


@dataclass(slots=True)
class Decision:
    """What was found out about the art: its hash, why it is refused if it is, and when.

    `earlier_scans` are the figures of scans that a scan was read together with.
    `earlier` is the stem of a film that was made of the same art before, `companions` the hashes of
    ticket and mask by name, `unfinished` the films that were made of the art before it was whole
    and were gone when that was found. `ordered` are the suffixes of films that a printer has
    already, though the films themselves are made again.
    """

    sha256: str = ""
    refusal: dict[str, Any] | None = None
    at: str = ""
    earlier: str | None = None
    companions: dict[str, str] = field(default_factory=dict)
    unfinished: list[str] = field(default_factory=list)
    ordered: list[str] = field(default_factory=list)
    earlier_scans: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Publication:
    """The films in out/, the stem of their names, and each file to publish.

    `sets` are the sets of inks that the films belong to, with the proof that each has in out/.
    """

    stem: str = ""
    films: list[dict[str, Any]] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    sets: list[dict[str, Any]] = field(default_factory=list)


@dataclass(slots=True)
class PutAway:
    """The names in originals/ or rejected/ by kind of file, and whether the refusal is logged.

    For a retry, the names in rejected/ that the files are fetched from.
    """

    kept: dict[str, str] = field(default_factory=dict)
    logged: bool = False


@dataclass(slots=True)
class GangPart:
    """For a gang, the ids of its members in the order of their coming; else empty.

    `sheet` is the stem of a film that several jobs share, where that is not the job's own.
    """

    members: list[str] = field(default_factory=list)
    sheet: str = ""


@dataclass(slots=True)
class Hold:
    """Why finished films wait, and how their sheets count; without any `sheets` none do.

    `approve`: somebody must release them; `released`: somebody did. `person` is whose they are, and
    `day` the local day that the sheets count for. `placed` tells that proof and note lie in held/,
    `over` that the films went on. `why` is for people, `until` a day or empty, `turn` tells that
    they only wait for the sheets of others, `told` that it was told to who wants to be told.
    """

    approve: bool = False
    sheets: int = 0
    person: str = ""
    released: bool = False
    day: str = ""
    placed: bool = False
    over: bool = False
    why: str = ""
    until: str = ""
    turn: bool = False
    told: bool = False

    @property
    def waits(self) -> bool:
        """True from the making of the films until they go on."""
        return self.sheets > 0 and not self.over


@dataclass(slots=True)
class Job:
    """What job.json says. Names may hold surrogate escapes; JSON keeps them exactly."""

    folder: Beneath
    id: str
    profile: str
    snapshot: dict[str, Any]
    sub: tuple[str, ...]
    taken: TakenFiles
    state: State = State.CLAIMING
    strikes: int = 0
    decision: Decision = field(default_factory=Decision)
    publication: Publication = field(default_factory=Publication)
    put_away: PutAway = field(default_factory=PutAway)
    gang: GangPart = field(default_factory=GangPart)
    hold: Hold = field(default_factory=Hold)

    @property
    def held(self) -> Beneath:
        """The folder of the customer's files."""
        return self.folder / "held"

    @property
    def out(self) -> Beneath:
        """The folder of finished files that wait to be published."""
        return self.folder / "out"

    @property
    def shared(self) -> Beneath:
        """The folder of scratch folders that other computers see too."""
        return self.folder / "shared"

    @property
    def shown(self) -> str:
        """The art's name with its sub-folder, as people may see it."""
        above = (CALIBRATE,) if self.taken.is_scan else ()
        own = "/".join(map(file_names.shown, (*above, *self.sub, self.taken.art)))
        more = len(self.gang.members) - 1
        return JobCount.WITH_OTHERS.say(more, name=own) if self.gang.members else own

    def files(self) -> list[tuple[str, str]]:
        """Kind and own name of every file of the job, the art last."""
        taken = self.taken
        found = [("ticket", taken.ticket), ("mask", taken.mask), ("art", taken.art)]
        return [(kind, name) for kind, name in found if name is not None]

    def has(self, name: str) -> bool:
        """True if the customer's file `name` is in this job's hands."""
        return (self.held / name).exists()

    def save(self) -> None:
        """Write job.json durably."""
        if self.taken.is_scan and not (self.folder / IS_SCAN).exists():
            # Art and scans go different ways, and must also where job.json is lost.
            atomic.write_atomic(self.folder / IS_SCAN, json.dumps(self.sub).encode())
        # Without an indent, which Python would write itself: a job is saved five times.
        text = json.dumps(_to_json(self), default=_values_of)
        atomic.write_atomic(self.folder / "job.json", text.encode() + b"\n")

    @classmethod
    def load(cls, folder: Beneath) -> Job:
        """Read job.json.

        ValueError if it is missing or says what no job can, or if the folder does not fit to it.
        """
        with forms.reading_notes(folder):
            data = forms.read_json(folder / "job.json", job_form.LARGEST)
            job = _from_json(folder, job_form.fitting(data, folder))
            job_form.check_folder(
                folder,
                [name for _, name in job.files()],
                [item.source for item in job.publication.items if item.kind != ORDERS],
                [item.source for item in job.publication.items if item.kind == ORDERS],
                claimed=job.state is State.CLAIMED,
            )
        return job


# --- job.json ------------------------------------------------------------------------------------
# The file is flat and stays so: jobs in hand outlive the version of filmhand that took them.


_PARTS = {
    "taken": TakenFiles,
    "decision": Decision,
    "publication": Publication,
    "put_away": PutAway,
}


def _to_json(job: Job) -> dict[str, Any]:
    return {
        "schema": job_form.JOB_SCHEMA,
        "id": job.id,
        "profile": job.profile,
        "snapshot": job.snapshot,
        "sub": job.sub,
        **_without_empty(_values_of(job.taken), "is_scan"),
        "state": job.state,
        "strikes": job.strikes,
        **_without_empty(
            _values_of(job.decision), "companions", "unfinished", "ordered", "earlier_scans"
        ),
        **_without_empty(_values_of(job.publication), "sets"),
        **_values_of(job.put_away),
        "company": job.gang.members,
        "sheet": job.gang.sheet,
        **({"hold": _values_of(job.hold)} if job.hold != Hold() else {}),
    }


def _values_of(part: TakenFiles | Decision | Publication | Item | PutAway | Hold) -> dict[str, Any]:
    """The fields of a part as they are: a copy of what is nested, as asdict makes, takes long."""
    return {one.name: getattr(part, one.name) for one in fields(part)}


def _without_empty(values: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value or name not in names}


def _from_json(folder: Beneath, data: dict[str, Any]) -> Job:
    del data["schema"]
    data["state"] = State(data["state"])
    data["sub"] = tuple(data["sub"])
    data["items"] = [Item(**item) for item in data.pop("items", [])]
    gang = GangPart(data.pop("company", []), data.pop("sheet", ""))
    hold = Hold(**data.pop("hold", {}))
    parts: dict[str, Any] = {
        name: part(**{one.name: data.pop(one.name) for one in fields(part) if one.name in data})
        for name, part in _PARTS.items()
    }
    return Job(folder=folder, gang=gang, hold=hold, **data, **parts)


def sub_of_scan(folder: Beneath) -> tuple[str, ...] | None:
    """Where below calibrate/ the scan lay that a job's folder without notes holds; None for art."""
    mark = folder / IS_SCAN
    try:
        if not mark.is_file():
            return None
        return tuple(job_form.SUB_FOLDERS(forms.read_json(mark, _LARGEST_MARK)))
    except (OSError, ValueError):
        return ()


def new_id(now: datetime) -> str:
    """An id that no other job on any host has."""
    return f"{now:%Y%m%dT%H%M%S}-{file_names.random_digits()}"


def whose_film(told: object, sub: Sequence[str] = ()) -> str | None:
    """Whose a film is: whom its ticket or record names, else the name of its first sub-folder."""
    whose = told if isinstance(told, str) and told else next(iter(sub), "")
    return file_names.shown(whose)[:_LONGEST_PERSON] or None


def utc_text(now: datetime) -> str:
    """A time as records and logs show it."""
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
