"""The note that lies beside refused art: a few plain lines for the person who dropped it."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Sequence

from filmhand.errors import Quantity, Refused

_WIDTH = 78
_UNITS = {
    "um": "micrometers",
    "ppi": "pixels per inch",
    "lpi": "lines per inch",
    "mm": "mm",
    "%": "%",
}


def why_note(name: str, refused: Refused, *, profile: str | None = None) -> str:
    """Plain text: what was refused, why, measured against needed, what to do, where the file is.

    Every line is free of control characters, so that a name cannot disturb a terminal or a note.
    """
    made_for = f" for {profile}" if profile else ""
    parts = [f"No film was made{made_for} from this file:\n  {_plain(name)}", _fill(refused.say)]
    measured = _measured(refused.found, refused.needed)
    if measured:
        parts.append(measured)
    parts.append("What you can do:\n" + _fill(refused.do, indent="  "))
    parts.append(
        _fill("The file lies beside this note, unchanged. To try again, put a file into drop.")
    )
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
    warnings: Sequence[str] = (),
) -> str:
    """Plain text: which film waits, why and until when, how it goes on, what it warns of.

    Parameters
    ----------
    name : the art's, with its sub-folder
    film : the film's stem, with its sub-folder
    proofs : the names of its proofs in held/
    until : a day, empty where only people decide
    """
    whose = f" (for {_plain(person)})" if person else ""
    first = _plain(proofs[0]) if proofs else ""
    quoted = shlex.quote(_plain(film))
    release = f"Move {first} into release/"
    if len(proofs) > 1:
        release += f" (any one of its {len(proofs)} proofs lets all its films go)"
    release += ", or run"
    by_itself = f"By itself on {until}, oldest films first." if until else ""
    parts = [
        f"This film is finished, and held:\n  {_plain(film)}, of {_plain(name)}{whose}\n"
        f"  job {job}",
        _fill(why),
        "How it goes on:\n"
        + "\n".join(_fill(x, indent="  ") for x in (by_itself, release) if x)
        + f"\n  filmhand release STATION {quoted}",
        "How it is given up, so that its art goes to rejected/:\n"
        f"  filmhand discard STATION {quoted}",
    ]
    if warnings:
        told = "\n".join(_fill(one, indent="  ") for one in warnings)
        parts.append(f"What its checks warn of:\n{told}")
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
    return _plain(f"{number} {_UNITS.get(unit, unit)}".strip())


def _measured(found: Quantity | None, needed: Quantity | None) -> str:
    rows = [("Found", quantity_text(found)), ("Needed", quantity_text(needed))]
    return "\n".join(f"  {label + ':':8} {text}" for label, text in rows if text)


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
