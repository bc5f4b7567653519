"""The ticket: wishes for one job, on top of a profile.

A ticket may change what the art needs, never the sheet, the printer or the mesh, and may not name
files. It is checked by the profile's own rules, together with the profile's values.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path as FilePath
from typing import Any

from filmhand.errors import Fault, Refused
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import curves_in
from filmhand.profile.read.document import Document, Plain, load_document, read_document
from filmhand.profile.read.load import build_profile, faults_at, goes_by_readings
from filmhand.profile.read.read_words import FileKind, KeyFault
from filmhand.profile.read.schema import (
    KEYS,
    OF_INKS,
    SettingFault,
    check_settings,
    take_unknown,
    without_inks,
)
from filmhand.profile.read.values import LARGEST_GAIN, read_flag, whole
from filmhand.profile.ticket.pages import PageChoice, read_pages
from filmhand.profile.ticket.ticket_words import (
    TicketAllowed,
    TicketCount,
    TicketRefusal,
    TicketWord,
)
from filmhand.profile.ticket.trial import TRIAL_KEYS, Trial, read_patch, read_trial
from filmhand.profile.ticket.wish_reading import readings
from filmhand.profile.ticket.wish_words import Wish
from filmhand.profile.ticket.wishes import as_settings, name_with, name_without, wishes_in
from filmhand.units import read_sheet
from filmhand.values import dataclass

MOST_COPIES_PRINTED = 100
LONGEST_FOR = 80
MOST_TOLD = 20
"""Faults that a refusal spells out after the first; the rest are counted."""
_SET_WISHES = (
    "inks", "separate", "cloth", "underbase", "trap", "total_ink", "black_generation",
)  # fmt: skip
_WISHES = (
    "lpi", "dot", "angle", "threshold", *_SET_WISHES, "art", "repair", "tone", "marks", "film",
)  # fmt: skip
_SHOPS = ("sheet", "dpi", "mesh", "margin", "frame", "print", "press")  # what the shop has
_OWN = ("copies", "for", "anyway", "gang", "trial", "patch", "pages")
_TICKET_KEYS: Mapping[str, tuple[str, ...]] = {
    **{key: KEYS.get(key, ()) for key in (*_WISHES, *_OWN)},
    "trial": TRIAL_KEYS,
}


@dataclass(frozen=True, slots=True)
class Ticket:
    """What a ticket, or the art's name, asks besides the settings.

    ``anyway``: make the film in spite of a mesh, resolution or beat refusal. ``gang``: share a
    sheet where the profile does so. ``trial``: make a sheet of patches instead. ``patch``: make the
    film with the settings of this patch of the trial. ``pages``: make films of these only. ``raw``
    is the ticket as it was written, for the record. ``wishes`` are those of the name that hold,
    ``overruled`` those that the ticket decides otherwise. ``told`` are sentences for the record.
    """

    copies: int = 1
    for_whom: str | None = None
    anyway: bool = False
    gang: bool = True
    trial: Trial | None = None
    patch: str | None = None
    pages: PageChoice | None = None
    raw: dict[str, Plain] = field(default_factory=dict)
    wishes: tuple[Wish, ...] = ()
    overruled: tuple[Wish, ...] = ()
    told: tuple[str, ...] = ()


def wished_by_name(name: str, *, profile: Profile) -> tuple[Profile, Ticket]:
    """The profile with the wishes in the art's name, and what else they ask.

    Raises
    ------
    Refused
        ``bad-ticket``, naming the wish and what is allowed.
    """
    wishes = tuple(_on_sheet(wish, profile) for wish in wishes_in(name))
    if not wishes:
        return profile, Ticket()
    asked = as_settings(wishes)
    document = Document(data=asked)
    ticket, troubles = _own_keys(document, Ticket(wishes=wishes), profile)
    settings = {key: value for key, value in asked.items() if key not in _OWN}
    changed, wrong = _changed(profile, settings, document)
    if changed is None or troubles:
        first, *others = troubles + wrong
        fitting = None if others else _fitting_wish(first)
        row = TicketRefusal.WISH_TOO_MUCH if fitting else TicketRefusal.WISH_CANNOT_BE
        raise row.refused(
            name=name,
            wishes=_in_words(wishes),
            fault=_ended(first.message),
            fitting=name_with(name, fitting) if fitting else "",
            other=name_without(name, first.path),
        )
    return changed, ticket


def _fitting_wish(fault: SettingFault) -> Wish | None:
    """The wish nearest to the one that cannot be."""
    if fault.fitting is None:
        return None
    ((wish,),) = readings(f"{fault.fitting} lpi" if fault.path == ("lpi",) else fault.fitting)
    return wish


def _on_sheet(wish: Wish, profile: Profile) -> Wish:
    """The wish, and where it names the very sheet of the profile, as all of that sheet's room."""
    if wish.path != ("art", "fit") or " x " not in str(wish.value):
        return wish
    try:
        asked = read_sheet(wish.value)
    except ValueError:
        return wish  # too small or too large for a sheet: told with the other settings
    same = sorted(asked.mm) == sorted(profile.sheet.mm)
    return replace(wish, value="page") if same else wish


def copies_told(ticket: Ticket, profile: Profile) -> tuple[str, ...]:
    """What the record tells of the copies that are asked for: who makes them."""
    if ticket.copies == 1:
        return ()
    by_hand = profile.print is None
    said = TicketWord.COPIES_BY_HAND if by_hand else TicketWord.COPIES_PRINTED
    return (said.say(copies=ticket.copies),)


def _in_words(wishes: Sequence[Wish]) -> str:
    return ", ".join(wish.words for wish in wishes)


def notes_of(ticket: Ticket) -> tuple[str, ...]:
    """What the record tells of the wishes in the art's name."""
    notes = []
    if ticket.wishes:
        notes.append(TicketWord.NAME_ASKS.say(wishes=_in_words(ticket.wishes)))
    if ticket.overruled:
        notes.append(TicketWord.OVERRULED.say(wishes=_in_words(ticket.overruled)))
    return tuple(notes)


def ending_of(name: str) -> str:
    """What a ticket's file name has after the art's, such as ``.ticket.yaml``.

    >>> ending_of("poster.jpg.ticket.yml")
    '.ticket.yml'
    """
    return name[max(0, name.lower().rfind(".ticket.")) :]


def load_ticket(
    path: FilePath, *, profile: Profile, file: str | None = None, base: Ticket | None = None
) -> tuple[Profile, Ticket]:
    """As :func:`read_ticket`, from a file; ``file`` is its name in messages.

    Raises
    ------
    Refused
        ``bad-ticket``, also where the bytes are no text.
    OSError
        Where the file cannot be read.
    """
    document = load_document(path, kind=FileKind.TICKET)
    return _ticket_of(document, profile, path.name if file is None else file, base)


def read_ticket(
    text: str, *, profile: Profile, file: str, base: Ticket | None = None
) -> tuple[Profile, Ticket]:
    """The profile with the ticket's wishes in place of its own, and the ticket.

    Parameters
    ----------
    text : the ticket's
    profile : what holds where the ticket is silent
    file : the ticket's name in messages
    base : what the art's name asks for already; the ticket overrules it

    Raises
    ------
    Refused
        ``bad-ticket``, naming line, key and what is allowed; all faults at once.
    """
    return _ticket_of(read_document(text, kind=FileKind.TICKET), profile, file, base)


def _ticket_of(
    document: Document, profile: Profile, file: str, base: Ticket | None
) -> tuple[Profile, Ticket]:
    if not document.data and not document.faults:
        raise _refusal(file, [Fault(1, 1, "", FileKind.TICKET.empty.say())])
    wishes, troubles = _allowed(document)
    ticket, own = _own_keys(document, base or Ticket(), profile)
    changed, wrong = _changed(profile, wishes, document)
    troubles += [_as_seen_from_ticket(trouble, document) for trouble in wrong]
    faults = faults_at(troubles + own, document)
    if faults or changed is None:
        raise _refusal(file, faults)
    return changed, _overruling(replace(ticket, raw=document.data), document)


def _changed(
    profile: Profile, wishes: Mapping[str, Plain], document: Document
) -> tuple[Profile | None, list[SettingFault]]:
    """The profile with the wishes in place of its own settings, or what is wrong with them."""
    merged = _merge(json.loads(profile.settings), wishes)
    merged.pop("gang", None)  # a ticket may fill the sheet; its job then simply goes alone
    for key in _of_other_inks(wishes):
        merged.pop(key, None)
    curves = dict(profile.curves)
    if not goes_by_readings(merged):  # nor by those of single inks, which hang on no key
        curves = {name: text for name, text in curves.items() if name.count("/") < 2}
    verdict = check_settings(merged, read_curve=curves_in(curves), written=document.written)
    if verdict.settings is None:
        return None, verdict.troubles
    changed = build_profile(
        verdict.settings, name=profile.name, text=profile.text, raw=merged, curves=curves
    )
    if changed.inks is None:
        asked = {key: getattr(changed, key) for key in OF_INKS if key in wishes}
        return changed, list(without_inks(asked))
    return changed, []


def _of_other_inks(wishes: Mapping[str, Plain]) -> set[str]:
    """The profile's keys that cannot go with the inks, or the gray, that a ticket asks for."""
    inks = wishes.get("inks")
    if inks is None or inks == "process":
        return set()
    return set(OF_INKS) - set(wishes) if inks in ("off", False) else {"icc"}


def _overruling(ticket: Ticket, document: Document) -> Ticket:
    """The ticket with the name's wishes parted into those that hold and those it overrules."""
    overruled = tuple(wish for wish in ticket.wishes if wish.path in document.places)
    hold = tuple(wish for wish in ticket.wishes if wish not in overruled)
    return replace(ticket, wishes=hold, overruled=overruled)


def _allowed(document: Document) -> tuple[dict[str, Plain], list[SettingFault]]:
    """The wishes that a ticket may have, and a trouble for each other key."""
    wishes: dict[str, Plain] = {}
    troubles: list[SettingFault] = []
    for key, value in document.data.items():
        if key in _OWN:
            continue
        if key in KEYS and key not in _WISHES:
            may = ", ".join((*_WISHES, *_OWN))
            said = TicketWord.NOT_FOR_TICKETS if key in _SHOPS else TicketWord.FOR_ALL_JOBS
            message = said.say(key=key, keys=may)
            troubles.append(SettingFault((key,), message))
        elif key not in _WISHES:
            troubles.append(SettingFault.of_key((key,), _TICKET_KEYS, FileKind.TICKET))
        else:
            wishes[key], unknown = take_unknown(key, value, _TICKET_KEYS, FileKind.TICKET)
            troubles += unknown
    inks = wishes.get("inks")
    for place, ink in enumerate(inks if isinstance(inks, list) else ()):
        if isinstance(ink, dict) and ink.pop("mesh", None) is not None:
            keys = ", ".join((*_WISHES, *_OWN))
            message = TicketWord.NOT_FOR_TICKETS.say(key=f"inks.{place}.mesh", keys=keys)
            troubles.append(SettingFault(("inks", place, "mesh"), message))
    tone = wishes.get("tone")
    if isinstance(tone, dict) and isinstance(tone.get("gain"), str):
        gain = tone.pop("gain")
        allowed = ValueError(TicketAllowed.GAIN.say(most=LARGEST_GAIN))
        troubles.append(SettingFault.of(("tone", "gain"), gain, document.written, allowed))
    return wishes, troubles


def _own_keys(
    document: Document, ticket: Ticket, profile: Profile
) -> tuple[Ticket, list[SettingFault]]:
    readers: dict[str, Callable[[Plain], Any]] = {
        "copies": whole(1, MOST_COPIES_PRINTED),
        "for": lambda value: _read_for(value, document),
        "anyway": read_flag,
        "gang": read_flag,
        "patch": read_patch,
        "pages": read_pages,
    }
    troubles: list[SettingFault] = []
    for key in _OWN:
        if key not in document.data:
            continue
        value = document.data[key]
        try:
            if key == "trial":
                trial, wrong = read_trial(value, document, profile, _TICKET_KEYS)
                ticket = replace(ticket, trial=trial)
                troubles += wrong
            else:
                read = {"for_whom" if key == "for" else key: readers[key](value)}
                ticket = replace(ticket, **read)
        except ValueError as fault:
            troubles.append(SettingFault.of((key,), value, document.written, fault))
    return ticket, troubles


def _read_for(value: Plain, document: Document) -> str:
    """Whose job it is; a class or order number counts as written."""
    text = ""
    if not isinstance(value, list | dict) and value is not None:
        text = re.sub(r"\s+", " ", document.written[("for",)].text).strip()
    line = document.text.split("\n")[document.place(("for",))[0] - 1]
    if re.match(r"for\s*:[^'\"#]+\s#[^\s#]", line):
        whole = line.partition(":")[2].strip()
        raise ValueError(TicketAllowed.FOR_IN_QUOTES.say(written=whole))
    if not 1 <= len(text) <= LONGEST_FOR:
        raise ValueError(TicketAllowed.FOR.say(most=LONGEST_FOR))
    return text


def _merge(below: dict[str, Plain], above: Mapping[str, Plain]) -> dict[str, Plain]:
    merged = dict(below)
    for key, value in above.items():
        under = merged.get(key)
        if isinstance(value, dict) and isinstance(under, dict):
            merged[key] = _merge(under, value)
        elif value is not None or not KEYS.get(key):
            merged[key] = value
    return merged


def _as_seen_from_ticket(trouble: SettingFault, document: Document) -> SettingFault:
    """A key that the profile alone does not need is wanted because of how the ticket treats art."""
    if trouble.missing and trouble.path not in document.places:
        message = KeyFault.MISSING_IN_TICKET.say(fault=trouble.message)
        return SettingFault(("art", "treat"), message)
    return trouble


def _refusal(file: str, faults: list[Fault]) -> Refused:
    first, *rest = faults
    if not rest:
        return TicketRefusal.FAULT.refused(
            file=file, line=first.line, column=first.column, fault=_ended(first.message)
        )
    told = [
        TicketWord.AT_PLACE.say(line=fault.line, column=fault.column, fault=fault.message)
        for fault in rest[:MOST_TOLD]
    ]
    if rest[MOST_TOLD:]:
        told.append(TicketCount.MORE.say(len(rest) - MOST_TOLD))
    fault = TicketCount.FAULT_AND_MORE.say(len(rest), fault=first.message)
    return TicketRefusal.FAULTS.refused(
        file=file, line=first.line, column=first.column, fault=_ended(fault), others="; ".join(told)
    )


def _ended(fault: str) -> str:
    """What is told of a fault, as a sentence ends."""
    return fault if fault.endswith("?") else f"{fault}."
