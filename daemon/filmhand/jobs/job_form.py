"""The form that job.json must fit, in itself and with the folder in which it lies.

Whoever can write in a profile's folder can write a job.json. One that says what no job of filmhand
can have is not worked with: :func:`filmhand.jobs.recover.salvage` sets it aside.
"""

from __future__ import annotations

import stat
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import DEEPEST_FOLDERS, Beneath
from filmhand.disk.forms import (
    JOB_ID,
    SHA256,
    TIME,
    any_number,
    any_object,
    day,
    either,
    is_print_id,
    one_word_of,
    optional,
    record,
    row,
    several,
    single_name,
    table,
    text,
    truth,
    whole_number,
)
from filmhand.errors import Reason
from filmhand.jobs.print_order import ORDERED, ORDERS

MOST_SHEETS_OF_JOB = 10_000_000
LARGEST = 16 << 20  # bytes of a job.json
JOB_SCHEMA = "filmhand-job/1"
_EMPTY = text("")
_QUANTITY = optional(record({"value": optional(either(any_number, text())), "unit": text()}))
REFUSAL_KEYS = {
    "reason": one_word_of([reason.value for reason in Reason]),
    "say": text(),
    "do": text(),
    "found": _QUANTITY,
    "needed": _QUANTITY,
}
_KINDS = ("art", "ticket", "mask")
_STAGED = row(single_name, SHA256)
_PAGE = r"(-p\d{1,9})?"
_PART, _INK = r"(-r\d{1,9}c\d{1,9})?", r"(-\d{1,4}-[^/.\x00-\x1f]{1,40})?"
_SUFFIX = text(_PAGE + _PART + _INK)


def _drop_folder(value: Any) -> Any:
    """A folder in drop/ that art is taken from: none of those that systems keep for themselves.

    What is put away in such a folder, its system may remove.
    """
    if file_names.is_noise_folder(single_name(value)):
        raise ValueError(f"{value!r} is a folder that art is not taken from")
    return value


SUB_FOLDERS = several(_drop_folder, most=DEEPEST_FOLDERS)
_FILM = record(
    {"suffix": _SUFFIX, "files": table(text("[a-z0-9-]{1,40}"), _STAGED, most=20)},
    {
        "record": any_object,
        "proof": _STAGED,
        "stem": single_name,
        "member": JOB_ID,
        "art": single_name,
        "sha256": SHA256,
        "earlier": optional(text()),
        "companions": table(single_name, SHA256, most=2),
        "order": ORDERED,
    },
)
_SET = record({"suffix": text(_PAGE), "proof": _STAGED})
_STAGED_FILM = frozenset({"record", "proof"})
_SHARED_FILM = frozenset({"record", "proof", "stem", "member", "art", "sha256", "earlier"})
_ITEM = record(
    {
        "source": single_name,
        "kind": one_word_of(["records", "proofs", "curves", ORDERS, "positives"]),
        "name": single_name,
        "sha256": SHA256,
    }
)
_HOLD = record(
    {},
    {
        "approve": truth,
        "sheets": whole_number(0, MOST_SHEETS_OF_JOB),
        "person": text(longest=1000),
        "released": truth,
        "day": either(_EMPTY, day),
        "placed": truth,
        "over": truth,
        "why": text(),
        "until": text(longest=100),
        "turn": truth,
        "told": truth,
    },
)
# Of a gang alone, of a single job alone; held and publishing are states of both.
_OF_GANGS = frozenset({"gathering", "ganged", "parting"})
_OF_ONE = frozenset({"claiming", "claimed", "retiring", "rejecting", "returning", "settling"})
_JOB = record(
    {
        "schema": one_word_of([JOB_SCHEMA]),
        "id": JOB_ID,
        "profile": text(longest=255),
        "snapshot": any_object,
        "sub": SUB_FOLDERS,
        "art": single_name,
        "state": one_word_of(_OF_GANGS | _OF_ONE | {"held", "publishing"}),
    },
    {
        "ticket": optional(single_name),
        "mask": optional(single_name),
        "seen": table(single_name, several(whole_number(0, 2**64), most=3), most=3),
        "is_scan": truth,
        "strikes": whole_number(0, 1000),
        "sha256": either(_EMPTY, SHA256),
        "refusal": optional(record(REFUSAL_KEYS)),
        "at": either(_EMPTY, TIME),
        "earlier": optional(text()),
        "companions": table(single_name, SHA256, most=2),
        "unfinished": several(single_name),
        "ordered": several(_SUFFIX),
        "earlier_scans": several(single_name, most=100),
        "stem": either(_EMPTY, single_name),
        "films": several(_FILM),
        "items": several(_ITEM),
        "sets": several(_SET),
        "kept": table(one_word_of([*_KINDS, "why"]), single_name),
        "logged": truth,
        "company": several(JOB_ID, most=10_000),
        "sheet": either(_EMPTY, single_name),
        "hold": _HOLD,
    },
)


def fitting(data: Any, folder: Beneath) -> dict[str, Any]:
    """What job.json says, if a job in this folder can say that; else ValueError."""
    job: dict[str, Any] = _JOB(data)
    if job["id"] != folder.name:
        raise ValueError(f"the id {job['id']} is not the folder's name")
    names = {kind: job[kind] for kind in _KINDS if job.get(kind) is not None}
    for kind in ("ticket", "mask"):
        belongs = file_names.companion_of(names.get(kind, ""))
        if kind in names and (belongs is None or belongs[1] != kind):
            raise ValueError(f"{names[kind]!r} is no {kind}")
    _check_state(job, names)
    _check_films(job)
    return job


def _check_state(job: dict[str, Any], names: dict[str, str]) -> None:
    state, members = job["state"], job.get("company", [])
    if (bool(members) and state in _OF_ONE) or (not members and state in _OF_GANGS):
        raise ValueError(f"{state} is no state of {'several jobs' if members else 'one job'}")
    if len(set(members)) < len(members):
        raise ValueError("a member that comes twice")
    kept = job.get("kept", {})
    needed = set(names) if kept or state == "returning" else set()
    if not needed <= kept.keys():
        raise ValueError("a file without a place in originals or rejected")
    if state == "rejecting" and job.get("refusal") is None:
        raise ValueError("a refusal without its reason")
    if state == "returning" and "why" not in kept:
        raise ValueError("a retry without the note")
    if any(len(seen) not in {0, 3} for seen in job.get("seen", {}).values()):
        raise ValueError("a file that was seen in part")


def _check_films(job: dict[str, Any]) -> None:
    """What is published must be what the films and their records say."""
    films, members = job.get("films", []), set(job.get("company", []))
    if job["state"] not in {"held", "publishing", "parting", "settling"}:
        return
    is_reading = {item["kind"] for item in job.get("items", [])} == {"curves"}
    if is_reading is not job.get("is_scan", False) and job.get("items"):
        raise ValueError("a film of a scan, or a curve of art")
    nothing = job["state"] in {"held", "publishing"} or job.get("items")
    if not films and not is_reading and nothing:
        raise ValueError("nothing is published")
    needed = _SHARED_FILM if members else _STAGED_FILM
    for film in films if job.get("items") else []:
        if missing := needed - film.keys():
            raise ValueError(f"a film without {', '.join(sorted(missing))}")
        order = film.get("order")
        if order is not None and not order["documents"]:
            raise ValueError("an order without documents")
        if not film["files"] or (members and film["member"] not in members):
            raise ValueError("a film of nobody")
        if not all(isinstance(film["record"].get(key, {}), dict) for key in ("film", "gang")):
            raise ValueError("a record that is none")
    for item in job.get("items", []):
        if item["kind"] == ORDERS and not (
            item["source"] == item["name"] and is_print_id(item["name"])
        ):
            raise ValueError("an order under a name that no order has")


def check_folder(
    folder: Beneath, names: list[str], sources: list[str], orders: list[str], *, claimed: bool
) -> None:
    """ValueError if a link, or something else, is in the place of one of the job's own files.

    `names` are those of the customer's files, all of which are there once they are `claimed`;
    `sources` are the files in out/, and `orders` the folders of print orders there.
    """
    if claimed and not all((folder / "held" / name).is_file() for name in names):
        raise ValueError("held lacks a file that was claimed")
    for inside, own in (("held", names), ("out", sources)):
        if not _is_or_missing(folder / inside, stat.S_ISDIR):
            raise ValueError(f"{inside} is no folder")
        if not all(_is_or_missing(folder / inside / name, stat.S_ISREG) for name in own):
            raise ValueError(f"something in {inside} is no file")
    if not all(_is_or_missing(folder / "out" / name, stat.S_ISDIR) for name in orders):
        raise ValueError("something in out is no print order")
    for name in ("why.txt", "place", "is-scan"):
        if not _is_or_missing(folder / name, stat.S_ISREG):
            raise ValueError(f"{name} is no file")
    if not _is_or_missing(folder / "shared", stat.S_ISDIR):
        raise ValueError("shared is no folder")


def _is_or_missing(path: Beneath, is_kind: Any) -> bool:
    try:
        return bool(is_kind(path.lstat().st_mode))
    except FileNotFoundError:
        return True
