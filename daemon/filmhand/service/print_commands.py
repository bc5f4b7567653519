"""What people ask about films on their way to the printer: cancel, print again, pause, resume.

Each asks a service by files (:mod:`filmhand.prints.print_requests`); an order to print again is
published like any other, by one rename.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from filmhand.digest import sha256_of
from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, files_below
from filmhand.errors import FilmhandError
from filmhand.jobs.film_sets import place_in_set, stem_of_set
from filmhand.jobs.job import utc_text, whose_film
from filmhand.jobs.ledger import LARGEST_RECORD
from filmhand.jobs.print_order import ORDERS, Order, OrderState, PrintDocument, new_print_id
from filmhand.prints.print_requests import (
    PrintAsked,
    ask_of_print,
    find_orders,
    meant_by,
    pause_printing,
    resume_printing,
    ways_to_name_film,
)
from filmhand.profile.model import Profile
from filmhand.service.service_words import AnswerWord
from filmhand.service.status import now_or_later
from filmhand.values import dataclass

_SET_ID = re.compile(r"[0-9a-f]{8,80}")
Convert = Callable[[Path, Path], dict[str, Path]]
"""Writes a film's bits into a folder in each form that a printer takes; their names by form."""


@dataclass(frozen=True, slots=True)
class PrintCounter:
    """Where such wishes are taken.

    Attributes
    ----------
    roots, profiles : the folders of all profiles by name, and the profiles that are right
    host : the id of the service here; None where none has ever run
    running : whether it runs now
    read_from : the folder that the profiles were read from
    """

    roots: Mapping[str, Folders]
    profiles: Mapping[str, Profile]
    host: str | None
    running: bool
    read_from: Path | None = None

    def cancel(self, name: str) -> str:
        """Ask that a film be printed no further; a sentence, or FilmhandError."""
        name = self._named(name)
        orders = self._orders(name)
        if not orders:
            raise FilmhandError(AnswerWord.NOT_PRINTED.say(name=name))
        for order in orders:
            ask_of_print(order, PrintAsked.CANCEL)
        return self._done(AnswerWord.CANCELED, orders[0], name)

    def reprint(self, name: str, convert: Convert, now: datetime) -> str:
        """Send the same bits again; a sentence, or FilmhandError that says why not.

        Raises FilmhandError also where the film is no longer what its record says.
        """
        name = self._named(name)
        orders = self._orders(name)
        doubtful = [order for order in orders if order.state is OrderState.DOUBTFUL]
        for order in doubtful or orders:
            ask_of_print(order, PrintAsked.AGAIN)
        if orders:
            return self._done(AnswerWord.PRINTED_AGAIN, orders[0], name)
        made = self._order_again(self._records(name), convert, now)
        return self._done(AnswerWord.PRINTED_AGAIN, made[0], name)

    def pause(self, profile: str) -> str:
        """Send no more films of a profile to its printer."""
        if not pause_printing(self._folders(profile)):
            return AnswerWord.PRINTING_HELD_ALREADY.say(profile=profile)
        return AnswerWord.PRINTING_HELD.say(profile=profile)

    def resume(self, profile: str) -> str:
        """Let them go on."""
        if not resume_printing(self._folders(profile)):
            return AnswerWord.PRINTING_NOT_HELD.say(profile=profile)
        done = AnswerWord.PRINTING_GOES_ON.say(profile=profile)
        return now_or_later(done, running=self.running)

    def _done(self, row: AnswerWord, order: Order, name: str) -> str:
        film = meant_by(order, name).removeprefix(f"{order.profile}/")
        done = row.say(film=film, profile=order.profile)
        return now_or_later(done, running=self.running)

    # --- finding -----------------------------------------------------------------------------

    def _folders(self, profile: str) -> Folders:
        if profile not in self.roots:
            row = AnswerWord.NO_SUCH_PROFILE if self.roots else AnswerWord.NO_PROFILES
            raise FilmhandError(row.say(profile=profile, known=", ".join(sorted(self.roots))))
        folders = self.roots[profile]
        if not folders.present():
            raise FilmhandError(AnswerWord.FOLDER_NOT_READY.say(folder=folders.root))
        return folders

    def _named(self, name: str) -> str:
        """The name of the set whose id somebody gives, as records tell it; else what was given."""
        if not _SET_ID.fullmatch(name):
            return name
        sets = {
            called
            for profile, folders in self.roots.items()
            for called in _sets_of_id(folders, profile, name)
        }
        if len(sets) > 1:
            films = ", ".join(sorted(sets)[:10])
            raise FilmhandError(AnswerWord.SEVERAL_FILMS.say(name=name, films=films))
        return sets.pop() if sets else name

    def _orders(self, name: str) -> list[Order]:
        """Those of one film or set; FilmhandError where several are called so."""
        found = [
            order
            for profile, folders in self.roots.items()
            for order in find_orders(folders, profile, name)
        ]
        return _of_one_film(name, found, lambda order: meant_by(order, name))

    def _records(self, name: str) -> list[_FoundRecord]:
        """The record of a film, or those of all films of a set, in print order."""
        found = [
            one
            for profile, folders in self.roots.items()
            for one in _records_called(folders, profile, name)
        ]
        found = _of_one_film(name, found, lambda one: one.called)
        if not found:
            raise FilmhandError(AnswerWord.NO_FILM.say(name=name))
        return sorted(found, key=lambda one: one.place)

    # --- once more ---------------------------------------------------------------------------

    def _order_again(
        self, records: list[_FoundRecord], convert: Convert, now: datetime
    ) -> list[Order]:
        """Make and publish the orders of films of one profile; several are one run."""
        name = records[0].profile
        profile, folders = self.profiles.get(name), self.roots[name]
        wishes = None if profile is None else profile.print
        if profile is None and self.read_from is not None:
            row = AnswerWord.PROFILE_NOT_READ
            raise FilmhandError(row.say(profile=name, folder=file_names.shown(str(self.read_from))))
        if profile is None or wishes is None or wishes.printer is None:
            raise FilmhandError(AnswerWord.NO_PRINTER.say(profile=name))
        if self.host is None:
            raise FilmhandError(AnswerWord.NEVER_RUN.say())
        digits = file_names.random_digits()
        with atomic.temporary_folder(folders.hidden) as scratch:
            orders: list[Order] = []
            for number, one in enumerate(records, 1):
                folder = scratch / new_print_id(now, number, digits)
                order = self._order_of(one, folder, profile, convert, now)
                if len(records) > 1:
                    order.run = orders[0].id if orders else order.id
                    order.place, order.of = number, len(records)
                order.save()
                Order.load(folder)  # what a record says that was tampered with fits no order
                orders.append(order)
            place = folders.hidden / self.host / ORDERS
            place.mkdir(parents=True, within=folders.hidden, exist_ok=True)
            for order in orders:
                atomic.rename_durably(order.folder, place / order.id)
        return orders

    def _order_of(
        self, one: _FoundRecord, folder: Beneath, profile: Profile, convert: Convert, now: datetime
    ) -> Order:
        """The order of one film by itself, with its documents in a folder that is made for it."""
        folders, wishes = self.roots[one.profile], profile.print
        assert wishes is not None
        record = _film_of(one.path)
        *sub, last = one.path.names_below(folders.output("records"))
        film = _whole_film(record, folders.output("positives").joinpath(*sub))
        folder.mkdir()
        made = convert(film.path, folder.path)
        if sha256_of(film) != _hash_of(record, film.name):
            raise FilmhandError(AnswerWord.FILM_CHANGED.say(film=film.name))
        return Order(
            folder=folder,
            id=folder.name,
            job="",
            profile=one.profile,
            sub=list(sub),
            stem=last.removesuffix(".json"),
            person=whose_film(record.get("for"), sub),
            at=utc_text(now),
            sheets=profile.film.stack * wishes.copies * record.get("copies", 1),
            size=_hundredths(record["film"]["sheet_mm"]),
            margin=profile.margin.mm100,
            dpi=tuple(record["film"]["dpi"]),
            documents={form: _document(folder / made_as.name) for form, made_as in made.items()},
            set_stem=one.set_stem,
        )


def _of_one_film(name: str, found: list[Any], called: Callable[[Any], str]) -> list[Any]:
    films = sorted({called(one) for one in found})
    if len(films) > 1:
        say = AnswerWord.SEVERAL_FILMS.say(name=name, films=", ".join(films[:10]))
        raise FilmhandError(say)
    return found


@dataclass(frozen=True, slots=True)
class _FoundRecord:
    """A film's record: what the name that was asked for means, and the film's place in its set."""

    profile: str
    path: Beneath
    called: str
    place: int = 1
    set_stem: str = ""


def _records_called(folders: Folders, profile: str, name: str) -> list[_FoundRecord]:
    wanted, top = ways_to_name_film(profile, name), folders.output("records")
    stems = {one.rpartition("/")[2] for one in wanted}
    found = []
    for place in files_below(top, ".json"):
        sub, _, stem = file_names.shown(place.removesuffix(".json")).rpartition("/")
        is_film = stem in stems
        if not is_film and not any(stem.startswith(f"{one}-") for one in stems):
            continue
        path = top.joinpath(*place.split("/"))
        number, whole = _place_in_set(path, stem)
        meant = stem if is_film else whole
        full = "/".join(filter(None, (sub, meant)))
        if meant and wanted & {full, meant}:
            found.append(_FoundRecord(profile, path, f"{profile}/{full}", number, whole))
    return found


def _sets_of_id(folders: Folders, profile: str, identity: str) -> Iterator[str]:
    """The names of the sets that have this id; the same art made again has the same."""
    top = folders.output("records")
    for place in files_below(top, ".json"):
        path = top.joinpath(*place.split("/"))
        told = _place_told(path)
        if told is not None and told["id"] == identity:
            sub, _, stem = file_names.shown(place.removesuffix(".json")).rpartition("/")
            if whole := stem_of_set(stem, told):
                yield "/".join(filter(None, (profile, sub, whole)))


def _place_told(path: Beneath) -> dict[str, Any] | None:
    try:
        told = forms.read_json(path, LARGEST_RECORD)
    except (OSError, ValueError):
        return None
    return place_in_set(told) if isinstance(told, dict) else None


def _place_in_set(path: Beneath, stem: str) -> tuple[int, str]:
    """A film's number in its set, and the set's stem; 1 and empty for a film of none."""
    place = _place_told(path)
    return (1, "") if place is None else (place["k"], stem_of_set(stem, place) or "")


_RECORD = forms.record(
    {
        "film": forms.record(
            {
                "files": forms.table(forms.text(longest=40), forms.single_name, most=20),
                "sha256": forms.table(forms.text(longest=40), forms.SHA256, most=20),
                "dpi": forms.row(forms.whole_number(1, 100_000), forms.whole_number(1, 100_000)),
                "sheet_mm": forms.row(forms.any_number, forms.any_number),
            },
            closed=False,
        )
    },
    {"for": forms.optional(forms.text(longest=255)), "copies": forms.whole_number(1, 1000)},
    closed=False,
)


def _film_of(path: Beneath) -> dict[str, Any]:
    try:
        record: dict[str, Any] = _RECORD(forms.read_json(path, LARGEST_RECORD))
    except ValueError as error:
        say = AnswerWord.RECORD_NOT_USABLE.say(name=path.name, why=error)
        raise FilmhandError(say) from error
    return record


def _whole_film(record: dict[str, Any], folder: Beneath) -> Beneath:
    """One of the film's files that still is what the record says."""
    for form, name in record["film"]["files"].items():
        film: Beneath = folder / str(name)
        digest = record["film"]["sha256"].get(form)
        if film.is_file() and sha256_of(film) == digest:
            return film
    raise FilmhandError(AnswerWord.FILM_NOT_AS_MADE.say())


def _hash_of(record: dict[str, Any], name: str) -> str | None:
    form = next(form for form, file in record["film"]["files"].items() if file == name)
    digest: str | None = record["film"]["sha256"].get(form)
    return digest


def _hundredths(sheet_mm: list[float]) -> tuple[int, int]:
    width, height = (round(side * 100) for side in sheet_mm)
    return width, height


def _document(path: Beneath) -> PrintDocument:
    return PrintDocument(path.name, sha256_of(path), path.lstat().st_size)
