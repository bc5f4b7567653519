"""The order to print one film: a folder with the printer's documents and what became of them.

::

    .filmhand/<host>/prints/<our id>/
        order.json      which film, what the printer must be able to do, how far it has come
        film.pwg        the film's bits, in each form that a printer may take
        film.pdf

The job that makes a film makes its order in `out/`, and publishes it before the film, by one
rename; from there on it is :mod:`filmhand.prints` that goes on with it. Whoever can write in a
profile's folder can write an order.json: one that no order can have is not worked with.
"""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from datetime import datetime
from enum import StrEnum
from typing import Any

from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import DEEPEST_FOLDERS, Beneath
from filmhand.disk.forms import (
    JOB_ID,
    PRINT_ID,
    SHA256,
    TIME,
    either,
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
from filmhand.values import dataclass

ORDERS = "prints"  # the folder of orders within a host's own
HALF_WRITTEN = ".order.json.new"  # what a kill leaves of notes that were being written
ORDER_SCHEMA = "filmhand-print-order/1"
MOST_SHEETS = 100_000
MOST_FILMS_OF_RUN = 1000
_LARGEST = 1 << 16  # bytes of an order.json
_LONGEST_MM100 = 10_000_000


class OrderState(StrEnum):
    """How far an order is; :mod:`filmhand.prints.steps` has a row for each."""

    WAITING = "waiting"
    CREATING = "creating"
    CREATED = "created"
    SENDING = "sending"
    FOLLOWING = "following"
    DOUBTFUL = "doubtful"
    ENDING = "ending"


AT_PRINTER = frozenset(
    {OrderState.CREATING, OrderState.CREATED, OrderState.SENDING, OrderState.FOLLOWING}
)
# Something of these may still have to go to the printer.
UNSENT = frozenset({OrderState.CREATING, OrderState.CREATED, OrderState.SENDING})
_NUMBERED = frozenset({OrderState.CREATED, OrderState.FOLLOWING})


@dataclass(slots=True)
class PrintDocument:
    """A file of the order: its name there, its hash and its size in bytes."""

    name: str
    sha256: str
    bytes: int


@dataclass(slots=True)
class Order:
    """What order.json says.

    Attributes
    ----------
    id : our own, as it stands in the printer's job-name
    job : that made the film; empty for a film that is printed again
    profile, sub, stem : which film
    person : for whom it is, or None
    at : when it was published
    sheets : how many are laid down
    size, margin : of the sheet, 1/100 mm; the margin from the top clockwise
    dpi : across and down
    documents : by format
    state : how far it is
    tries : how often it has been begun; part of the name that the printer gets
    printer, number : the printer that it was given to, and the number that it has there
    why : a sentence on what is in the way, as it was told last
    cancel : somebody wants it no more
    ended : the last event, once it is known and until it has been written
    run, place, of : films that are printed in one run share a `run`, the id of its first order;
        this is the order at that place among so many. Empty, 1 and 1 for a film by itself
    set_stem : what the names of all films of its set begin with; empty for a film of no set
    """

    folder: Beneath
    id: str
    job: str
    profile: str
    sub: list[str]
    stem: str
    person: str | None
    at: str
    sheets: int
    size: tuple[int, int]
    margin: tuple[int, int, int, int]
    dpi: tuple[int, int]
    documents: dict[str, PrintDocument]
    state: OrderState = OrderState.WAITING
    tries: int = 1
    printer: str | None = None
    number: int | None = None
    why: str = ""
    cancel: bool = False
    ended: dict[str, Any] | None = None
    run: str = ""
    place: int = 1
    of: int = 1
    set_stem: str = ""

    @property
    def film(self) -> str:
        """The film's stem with its sub-folder, as people may see it."""
        return "/".join(map(file_names.shown, (*self.sub, self.stem)))

    @property
    def film_set(self) -> str:
        """The stem of the film's set with its sub-folder; empty for a film of no set."""
        return "/".join(map(file_names.shown, (*self.sub, self.set_stem))) if self.set_stem else ""

    @property
    def name(self) -> str:
        """What the printer's job is called: the film, our id, which try; ASCII, at most 255."""
        end = f" {self.id}" + (f" {self.tries}" if self.tries > 1 else "")
        plain = "".join(c if " " <= c <= "~" else "_" for c in file_names.shown(self.stem))
        return plain[: 255 - len(end)] + end

    def save(self) -> None:
        """Write order.json durably."""
        atomic.write_atomic(self.folder / "order.json", self.text())

    def text(self) -> bytes:
        """What order.json holds."""
        told = {one.name: getattr(self, one.name) for one in fields(self) if one.name != "folder"}
        told["documents"] = {form: asdict(one) for form, one in self.documents.items()}
        return json.dumps({"schema": ORDER_SCHEMA, **told}, indent=1).encode() + b"\n"

    @classmethod
    def load(cls, folder: Beneath) -> Order:
        """Read order.json; ValueError if it is missing or says what no order can."""
        with forms.reading_notes(folder):
            data = _ORDER(forms.read_json(folder / "order.json", _LARGEST))
            _check(data, folder)
        del data["schema"]
        data["documents"] = {form: PrintDocument(**one) for form, one in data["documents"].items()}
        data["state"] = OrderState(data["state"])
        for pair in ("size", "margin", "dpi"):
            data[pair] = tuple(data[pair])
        return cls(folder=folder, **data)


_LENGTH = whole_number(0, _LONGEST_MM100)
_DOTS = whole_number(1, 100_000)
_FILM_FACTS = {
    "id": PRINT_ID,
    "sheets": whole_number(1, MOST_SHEETS),
    "size": row(_LENGTH, _LENGTH),
    "margin": row(_LENGTH, _LENGTH, _LENGTH, _LENGTH),
    "dpi": row(_DOTS, _DOTS),
    "documents": table(
        text("[a-z0-9-]{1,40}"),
        record({"name": single_name, "sha256": SHA256, "bytes": whole_number(1, 2**40)}),
        most=10,
    ),
}
_RUN_FACTS = {
    "run": either(text(""), PRINT_ID),
    "place": whole_number(1, MOST_FILMS_OF_RUN),
    "of": whole_number(1, MOST_FILMS_OF_RUN),
}
ORDERED = record(_FILM_FACTS, _RUN_FACTS)  # what job.json says of the order of a staged film
_ORDER = record(
    {
        "schema": one_word_of([ORDER_SCHEMA]),
        **_FILM_FACTS,
        "job": either(text(""), JOB_ID),
        "profile": text(longest=255),
        "sub": several(single_name, most=DEEPEST_FOLDERS),
        "stem": single_name,
        "person": optional(text(longest=255)),
        "at": TIME,
        "state": one_word_of([state.value for state in OrderState]),
        "tries": whole_number(1, 1000),
        "printer": optional(text(longest=3000)),
        "number": optional(whole_number(1, 2**31 - 1)),
        "why": text(longest=4000),
        "cancel": truth,
        "ended": optional(
            record({"state": one_word_of(["printed", "canceled"]), "at": TIME, "why": text()})
        ),
    },
    {**_RUN_FACTS, "set_stem": either(text(""), single_name)},
)


def _check(order: dict[str, Any], folder: Beneath) -> None:
    if order["id"] != folder.name:
        raise ValueError(f"the id {order['id']} is not the folder's name")
    state = OrderState(order["state"])
    if state in _NUMBERED and order["number"] is None:
        raise ValueError(f"{state} without the printer's number")
    if state in AT_PRINTER and not order["printer"]:
        raise ValueError(f"{state} without a printer")
    if (state is OrderState.ENDING) != (order["ended"] is not None):
        raise ValueError("an end that is none")
    if order.get("place", 1) > order.get("of", 1):
        raise ValueError("a place behind the last of its run")
    if not order["documents"]:
        raise ValueError("nothing to print")
    names = [one["name"] for one in order["documents"].values()]
    if len({*names, "order.json"}) != len(names) + 1:
        raise ValueError("two documents of one name")
    for name in names if state is not OrderState.ENDING else ():
        if not (folder / name).is_file():
            raise ValueError(f"{name} is no file")


def new_print_id(now: datetime, number: int, digits: str) -> str:
    """The id of the order for a job's film of that number; `digits` are random, the job's own.

    Sorted by it, orders lie in the order in which they were published.
    """
    return f"{now:%Y%m%dT%H%M%S%f}-{digits}-{number:05}"
