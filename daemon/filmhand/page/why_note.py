"""The note that lies beside refused art: a few plain lines for the person who dropped it."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Sequence

from filmhand.errors import Quantity, Refused
from filmhand.page.page_words import NoteCount, NoteWord, QuantityWord

_WIDTH = 78
# By the unit as a refusal has it, which is English in every language.
_UNITS = {word.value[1].removeprefix("{value} "): word for word in QuantityWord} | {
    "um": QuantityWord.MICROMETERS,
    "ppi": QuantityWord.PIXELS_PER_INCH,
    "lpi": QuantityWord.LINES_PER_INCH,
    "patch": QuantityWord.PATCH,
}
_FILE = "file"  # no unit that people need


def why_note(
    name: str, refused: Refused, *, profile: str | None = None, is_scan: bool = False
) -> str:
    """Plain text: what was refused, why, measured against needed, what to do, where the file is.

    Every line is free of control characters, so that a name cannot disturb a terminal or a note.
    `is_scan`: it lay in calibrate, and would become a film if it went to drop.
    """
    without = NoteWord.NO_READING if is_scan else NoteWord.NO_FILM
    named = NoteWord.NO_READING_FOR if is_scan else NoteWord.NO_FILM_FOR
    head = named.say(profile=profile) if profile else without.say()
    parts = [f"{head}\n  {_plain(name)}", _fill(refused.say)]
    measured = _measured(refused.found, refused.needed)
    if measured:
        parts.append(measured)
    parts.append(f"{NoteWord.TO_DO.say()}\n" + _fill(refused.do, indent="  "))
    parts.append(_fill((NoteWord.SCAN_LIES_HERE if is_scan else NoteWord.LIES_HERE).say()))
    return "\n\n".join(parts) + "\n"


def held_note(
    name: str,
    *,
    film: str,
    job: str,
    proofs: Sequence[str],
    why: str,
    until: str,
    person: str = "",
    inks: Sequence[tuple[int, str]] = (),
    warnings: Sequence[str] = (),
) -> str:
    """Plain text: which film waits, why and until when, how it goes on, what it warns of.

    Parameters
    ----------
    name : the art's, with its sub-folder
    film : the film's stem, with its sub-folder
    proofs : the names of its proofs in held/
    until : a day, empty where only people decide
    inks : of the films of a set, in print order, each with its number
    """
    first = _plain(proofs[0]) if proofs else ""
    quoted = shlex.quote(_plain(film))
    whose = NoteWord.FILM_OF_FOR if person else NoteWord.FILM_OF
    told = whose.say(film=_plain(film), name=_plain(name), person=_plain(person))
    release = NoteWord.MOVE_ANY_PROOF if len(proofs) > 1 else NoteWord.MOVE_PROOF
    ways = [NoteWord.BY_ITSELF.say(until=until)] if until else []
    ways.append(release.say(proof=first, n=len(proofs)))
    head = f"{NoteWord.HELD.say()}\n  {told}\n  {NoteWord.JOB.say(job=job)}"
    if inks:
        listed = ", ".join(f"{k} {ink}" for k, ink in inks)
        head += "\n" + _fill(NoteCount.SET_OF.say(len(inks), inks=listed), indent="  ")
    parts = [
        head,
        _fill(why),
        f"{NoteWord.GOES_ON.say()}\n{_fill_each(ways)}\n  filmhand release STATION {quoted}",
        f"{NoteWord.GIVE_UP.say()}\n  filmhand discard STATION {quoted}",
    ]
    if warnings:
        parts.append(f"{NoteWord.WARNS_OF.say()}\n{_fill_each(warnings)}")
    return "\n\n".join(parts) + "\n"


def quantity_text(quantity: Quantity | dict[str, object] | None) -> str:
    """A value with its unit as people say it; empty if there is none.

    >>> quantity_text(Quantity(19, "ppi"))
    '19 pixels per inch'
    """
    if quantity is None:
        return ""
    if isinstance(quantity, Quantity):
        value, unit = quantity.value, quantity.unit
    else:
        value, unit = quantity.get("value"), str(quantity.get("unit", ""))  # type: ignore[assignment]
    if value is None:
        return ""
    number = f"{value:.4g}" if isinstance(value, float) else str(value)
    if isinstance(value, str) and not any(character.isdigit() for character in value):
        unit = ""  # words need no unit
    if unit not in _UNITS:
        return _plain(number if unit in {"", _FILE} else f"{number} {unit}")
    return _plain(_UNITS[unit].say(1 if value == 1 else 2, value=number))


def _measured(found: Quantity | None, needed: Quantity | None) -> str:
    rows = [(NoteWord.FOUND.say(), found), (NoteWord.NEEDED.say(), needed)]
    width = 1 + max(len(label) for label, _ in rows)
    told = [(label, quantity_text(quantity)) for label, quantity in rows]
    return "\n".join(f"  {label:{width}} {text}" for label, text in told if text)


def _fill_each(sentences: Sequence[str]) -> str:
    return "\n".join(_fill(one, indent="  ") for one in sentences)


def _fill(text: str, *, indent: str = "") -> str:
    return textwrap.fill(
        _plain(text),
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)
