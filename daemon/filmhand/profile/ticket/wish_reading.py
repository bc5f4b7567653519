"""A text that stands in brackets, taken apart: wishes, what looks like one, and what is none."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import islice
from typing import Final

from filmhand.profile.read.hints import HINTS
from filmhand.profile.read.sentences import nearest
from filmhand.profile.ticket.pages import PAGES
from filmhand.profile.ticket.wish_words import NUMBER, PAPERS, SHAPES, Wish, wishes_at
from filmhand.values import dataclass

LONGEST_READ = 300
"""Characters of one pair of brackets: more than the name of a file has."""
_MOST_READINGS = 16
_PARTED = r"[\s,;+&|]*(?:(?<=[a-z.\"\u00b0])-|\b(?:and|with)\b)?[\s,;+&|]*"
_PIECE = rf"{NUMBER}(?: ?[x\u00d7*] ?{NUMBER})+|\d+(?:[.,]\d+)*|\w+|[^\s,;]"
_COUNTED = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10,
}  # fmt: skip
# Words that only somebody with a wish puts into brackets, alone or beside others.
_TELLING: Final = frozenset(
    {
        "line", "lineart", "tone", "tones", "halftone", "mirror", "mirrored", "flip", "flipped",
        "negative", "inverted", "invert", "positive", "trial", "patch", "dot", "dots", "inch",
        "inches", "mm", "cm", "millimeter", "millimeters", "centimeter", "centimeters", "lpi",
        "dpi", "ppi", "mesh", "deg", "degree", "degrees", "angle", "threshold", "copies", "qty",
        "quantity", "page", "pages", "size", "width", "height", "ruling", "a0", "a1", "a7", "a8",
        *SHAPES,
        *PAPERS,
    }
)  # fmt: skip
_MISSPELT: Final = (
    "mirror", "mirrored", "negative", "positive", "halftone", "inverted", "ellipse", "diamond",
    "threshold", "tabloid", "inches", "degrees", "millimeters", "centimeters",
)  # fmt: skip
_ALIKE = 0.85
_KEYS = ("copies", "angle", "pages", "width", "height", "threshold")
_MEANT = ("in", "inch", "inches", "mm", "cm", "lpi", "degrees", "copies")
_OTHER_LENGTHS: Final = {
    **dict.fromkeys(("ft", "feet", "foot", "'", "\u2032", "\u2019"), (12, "in")),
    **dict.fromkeys(("m", "meter", "meters"), (100, "cm")),
    **dict.fromkeys(("yd", "yard", "yards"), (36, "in")),
}
# Words behind a number that people do put in names, and that come near to a unit.
_HARMLESS = {"dpi", "ppi", "min", "mins", "pin", "pins", "bin", "bins", "kin"}
_UNIT_GONE_WRONG = rf"({NUMBER}) ?(['\u2032\u2019]|[^\W\d_]{{1,14}})( \w+)?"
# Figures that people put into names and that are no wish; words may follow.
_IN_NAMES = (
    r"(?:(?:19|20)\d\d(?:[-. ]?\d\d(?:[-. ]?\d\d)?)?|\d{1,2}[-.]\d{1,2}[-.](?:\d\d){1,2}"
    r"|\d{1,3}(?:st|nd|rd|th)|[23]d|[248]k|\d{3,4}p)(?![^\W_])\D*"
)
_LARGEST_IN, _LARGEST_MM = 60, 600


@dataclass(frozen=True, slots=True)
class Part:
    """A run of text that is a wish, or that no wish can be made of."""

    text: str
    wish: Wish | None


@lru_cache(maxsize=256)
def readings(text: str) -> tuple[tuple[Wish, ...], ...]:
    """Every way in which all of a normal text is wishes; those that come to the same once."""
    if len(text) > LONGEST_READ:
        return ()
    found = islice(_rest_of(text, 0), _MOST_READINGS)
    return tuple(dict.fromkeys(reading for reading in found if reading))


def _rest_of(text: str, place: int) -> Iterator[tuple[Wish, ...]]:
    place = _past_gap(text, place)
    if place == len(text):
        yield ()
        return
    for wish, end in wishes_at(text, place):
        for rest in _rest_of(text, end):
            yield (wish, *rest)


def _past_gap(text: str, place: int) -> int:
    parted = re.compile(_PARTED).match(text, place)
    return parted.end() if parted else place


def parts_of(text: str) -> list[Part]:
    """A normal text from left to right: the longest wishes, and what is none between them."""
    parts: list[tuple[int, int, Wish | None]] = []
    place = 0
    while (place := _past_gap(text, place)) < len(text):
        found = max(wishes_at(text, place), key=lambda one: one[1], default=None)
        piece = re.compile(_PIECE).search(text, place)
        if found is not None:
            parts.append((place, found[1], found[0]))
            place = found[1]
        elif piece is None:
            break
        else:
            start = piece.start()
            if parts and parts[-1][2] is None and not re.search("[,;]", text[parts[-1][1] : start]):
                start = parts.pop()[0]
            parts.append((start, piece.end(), None))
            place = piece.end()
    return [Part(text[start:end], wish) for start, end, wish in parts]


def looks_like_wishes(text: str) -> bool:
    """Whether a normal text that cannot be read whole holds anything like a wish."""
    if re.fullmatch(r"\d{1,2}|0\d+", text):  # browsers and phones number files of one name
        return False
    words = re.findall(r"[^\W_]+", text)
    if not _TELLING.isdisjoint(words) or any(map(_misspelt, words)):
        return True
    if any(part.wish for part in parts_of(text)) or re.search(r"\bcopy ?\d", text):
        return True
    if any(_key_meant(found[1]) for found in re.finditer(r"([^\W\d_]+)[ :=]*\d", text)):
        return True
    if any(_unit_meant(found[2]) for found in re.finditer(_UNIT_GONE_WRONG, text)):
        return True
    figures = (part.lstrip(" -+~(=<>.") for part in re.split("[,;]", text))
    return any(one[:1].isdigit() and not re.fullmatch(_IN_NAMES, one) for one in figures)


def _misspelt(word: str) -> str | None:
    return _most_alike(word, _MISSPELT)


def _key_meant(word: str) -> str | None:
    """The word that one before a number was most likely meant as."""
    if len(word) <= 3:
        return nearest(word, ("lpi",))
    return _most_alike(word, _KEYS)


def _most_alike(word: str, known: Sequence[str]) -> str | None:
    import difflib  # noqa: PLC0415 - only where a word is not known

    close = difflib.get_close_matches(word[:30], known, n=1, cutoff=_ALIKE)
    return close[0] if close else None


def _unit_meant(word: str) -> str | None:
    """The unit that a word behind a number was most likely meant as; itself for other lengths."""
    if word in _OTHER_LENGTHS:
        return word
    return nearest(word, _MEANT) if len(word) > 2 and word not in _HARMLESS else None


def likely_meant(text: str) -> Wish | None:
    """The one wish that was most likely meant by a normal text that is none."""
    for guess in _guesses(text):
        read = readings(guess)
        if len(read) == 1 and len(read[0]) == 1:
            return read[0][0]
    return None


def _guesses(text: str) -> Iterator[str]:
    counted = re.sub(r"[a-z]+", lambda word: str(_COUNTED.get(word[0], word[0])), text)
    if counted != text:
        yield counted
    if found := re.fullmatch(r"(\d+) ?[x\u00d7]|copy ?(\d+)", text):
        yield f"x{found[1] or found[2]}"
    if found := re.fullmatch(rf"({NUMBER}) ?[x\u00d7*] ?({NUMBER})", text):
        yield f"{found[1]} x {found[2]}{_unit_for(found[1], found[2])}"
    if found := re.fullmatch(rf"({NUMBER}) (\w+)|(\w+) ({NUMBER})", text):
        number, side = found[1] or found[4], found[2] or found[3]
        yield f"{number}{_unit_for(number)} {side}"
    if found := re.fullmatch(_UNIT_GONE_WRONG, text):
        number, unit = found[1].replace(",", "."), found[2]
        if unit in _OTHER_LENGTHS:
            times, unit = _OTHER_LENGTHS[unit]
            yield f"{float(number) * times:g} {unit}{found[3] or ''}"
        yield f"{number} {_unit_meant(unit)}{found[3] or ''}"
    if re.search(r"\d,\d{3}\b", text):
        yield re.sub(r"(\d),(\d)", r"\1\2" if "mm" in text else r"\1.\2", text)
    if found := re.fullmatch(r"([^\W\d_]+)([ :=]*\d.*)", text):
        yield f"{_key_meant(found[1])}{found[2]}"
    like_mesh = re.fullmatch(r"\d{2,3}-\d{2,3}", text)
    if re.fullmatch(rf"{PAGES}(?:, ?{PAGES})*", text) and not (text.isdigit() or like_mesh):
        yield f"pages {text}"
    if found := re.fullmatch(r"(\w+)(?: dots?)?", text):
        hint = HINTS.get(f"dot: {found[1]}")
        yield f"{hint.word} dots" if hint else _misspelt(text) or text


def _unit_for(*numbers: str) -> str:
    """The unit that numbers without one most likely have."""
    largest = max(float(number.replace(",", ".")) for number in numbers)
    return " in" if largest <= _LARGEST_IN else " mm" if largest <= _LARGEST_MM else ""
