"""Which set a film belongs to, as its record tells it. Whoever can write in a folder wrote that."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

from filmhand.disk import forms

MOST_FILMS_OF_SET = 1000
_NUMBER = forms.whole_number(1, MOST_FILMS_OF_SET)
_PLACE = forms.record(
    {
        "id": forms.text("[0-9a-zA-Z-]{1,80}"),
        "k": _NUMBER,
        "of": _NUMBER,
        "ink": forms.text(longest=200),
        "color": forms.row(*[forms.any_number] * 3),
    },
    closed=False,
)
_FURTHEST = 200.0  # CIELAB of any ink lies within it


def place_in_set(record: Mapping[str, Any]) -> dict[str, Any] | None:
    """What a record says of its film's set: `id`, `k`, `of`, `ink` and `color`, L*, a*, b*.

    None where the film belongs to none, or where this is not as filmhand writes it.
    """
    try:
        told = _PLACE(record.get("set"))
    except ValueError:
        return None
    if told["k"] > told["of"] or not all(abs(value) <= _FURTHEST for value in told["color"]):
        return None
    return {key: told[key] for key in ("id", "k", "of", "ink", "color")}


def stem_of_set(stem: str, place: Mapping[str, Any]) -> str | None:
    """What the names of all films of a set begin with, and what its proof is called.

    None where the film is not named as one of that place.

    >>> stem_of_set("poster-2-1-dark-red", {"k": 1, "ink": "dark red"})
    'poster-2'
    """
    ink = "-".join(unicodedata.normalize("NFC", str(place["ink"])).split())
    end = f"-{place['k']}-{ink}"
    return stem.removesuffix(end) if ink and stem.endswith(end) and stem != end else None
