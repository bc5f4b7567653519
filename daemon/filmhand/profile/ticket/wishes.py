"""Wishes in the name of a file, for people who will never write a ticket.

What stands in square brackets is read as wishes, several with commas between them:
``logo [7 in].png``, ``poster [35 lpi, mirror].jpg``. A pair of brackets in which nothing looks like
a wish, such as ``photo [1].png``, is left alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from filmhand.errors import Reason, Refused
from filmhand.profile.read.document import Path, Plain
from filmhand.profile.read.hints import HINTS, american
from filmhand.profile.read.sentences import nearest
from filmhand.profile.ticket.pages import PAGES, read_pages
from filmhand.screen.dot_shapes import Dot

_BRACKETS = re.compile(r"\[([^\[\]]*)\]")
_NUMBER = r"(\d{1,5}(?:\.\d{1,4})?|\.\d{1,4})"
_UNITS: Final = {
    **dict.fromkeys(("in", "inch", "inches", '"', "\u201d", "\u2033", "''"), "in"),
    **dict.fromkeys(("mm", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimeters"), "cm"),
}
_UNIT = "(" + "|".join(sorted(map(re.escape, _UNITS), key=len, reverse=True)) + ")"
_WORDS: Final[dict[str, tuple[Path, Plain, str]]] = {
    "line": (("art", "treat"), "line", "line art"),
    "tone": (("art", "treat"), "tone", "tone"),
    "own size": (("art", "fit"), "own", "own size"),
    "mirror": (("film", "mirror"), True, "mirror"),
    "trial": (("trial",), True, "trial"),
}
_DOT_WORDS = "|".join(Dot.words())
# A number with what may be a unit gone wrong, or a comma where a stop belongs.
_ALMOST = re.compile(r"\d+(?:[.,]\d+)? ?([^\W\d_]{1,14})(?: (?:wide|width|high|height|tall))?")
_MEANT = ("in", "inch", "inches", "mm", "cm", "lpi", "degrees", "copies")
_OTHER_LENGTHS = {"ft", "feet", "foot", "m", "meter", "meters", "yd"}
# Words behind a number that people do put in names, and that come near to a unit.
_HARMLESS = {"dpi", "ppi", "min", "mins", "pin", "pins", "bin", "bins", "kin", "copie", "lp"}
SUCH_AS = (
    "[7 in], [9 in high], [180 mm], [35 lpi], [line], [tone], [mirror], [x3], [pages 2-5, 8] or "
    "[trial]"
)


@dataclass(frozen=True, slots=True)
class Wish:
    """One wish: the key of a ticket, its value, and the wish in plain words."""

    path: Path
    value: Plain
    words: str


def wishes_in(name: str) -> tuple[Wish, ...]:
    """The wishes in a file's name, in the order given.

    Raises
    ------
    Refused
        ``bad-ticket`` where brackets hold something that is nearly a wish, a wish beside something
        that is none, or the same kind of wish twice.

    >>> [wish.words for wish in wishes_in("logo [7in, 35 lpi].png")]
    ['width 7 in', '35 lpi']
    >>> wishes_in("photo [1] [final].png")
    ()
    """
    wishes: list[Wish] = []
    for inside in _BRACKETS.findall(name):
        parts = _parts(inside)
        read = [_read(american(part.casefold())) for part in parts]
        if any(read):
            for part, wish in zip(parts, read, strict=True):
                if wish is None:
                    raise _refusal(name, inside, part, beside=True)
                wishes.append(wish)
        else:
            almost = [part for part in [" ".join(inside.split()), *parts] if _almost(part)]
            if almost:
                raise _refusal(name, inside, almost[0])
    taken: dict[Path, Wish] = {}
    for wish in wishes:
        other = taken.setdefault(wish.path, wish)
        if other.value != wish.value:
            raise Refused(
                Reason.BAD_TICKET,
                f"The name {name} asks for {other.words} and for {wish.words}, and only one can "
                "be.",
                "Leave one of the two in the name, and drop the file again.",
            )
    return tuple(taken.values())


def _parts(inside: str) -> list[str]:
    """What stands between commas; pages that follow the word stay together with it."""
    parts: list[str] = []
    for part in (" ".join(one.split()) for one in inside.split(",")):
        if parts and _PAGES.fullmatch(parts[-1].casefold()) and _MORE_PAGES.fullmatch(part):
            parts[-1] += f", {part}"
        else:
            parts.append(part)
    return parts


def as_settings(wishes: tuple[Wish, ...]) -> dict[str, Plain]:
    """The wishes as a ticket would have them."""
    out: dict[str, Plain] = {}
    for wish in wishes:
        group, *inner = map(str, wish.path)
        if inner:
            inside = out.setdefault(group, {})
            assert isinstance(inside, dict)
            inside[inner[0]] = wish.value
        else:
            out[group] = wish.value
    return out


def _read(text: str) -> Wish | None:
    """One wish, in lower case with single spaces; None for what is none."""
    if text in _WORDS:
        return Wish(*_WORDS[text])
    for pattern, wish_of in _PATTERNS:
        if found := pattern.fullmatch(text):
            return wish_of(found)
    return None


def _number(text: str) -> float:
    """As in a ticket, where 900 is no 900.0 in what is said of it."""
    value = float(text)
    return int(value) if value.is_integer() else value


def _size(found: re.Match[str]) -> Wish:
    side = "height" if found[3] in ("high", "height", "tall") else "width"
    fit = f"{side} {_plain(found[1])} {_UNITS[found[2]]}"
    return Wish(("art", "fit"), fit, fit)


def _box(found: re.Match[str]) -> Wish:
    unit = _UNITS[found[4]]
    first = f" {_UNITS[found[2]]}" if found[2] and _UNITS[found[2]] != unit else ""
    fit = f"{_plain(found[1])}{first} x {_plain(found[3])} {unit}"
    return Wish(("art", "fit"), fit, fit)


def _copies(found: re.Match[str]) -> Wish:
    count = int(found[1] or found[2])
    return Wish(("copies",), count, f"copies: {count}")


def _read_pages(found: re.Match[str]) -> Wish | None:
    try:
        pages = str(read_pages(found[1]))
    except ValueError:
        return None
    return Wish(("pages",), pages, f"pages {pages}")


_MORE_PAGES = re.compile(PAGES)
_PAGES = re.compile(rf"pages? ?({PAGES}(?:, {PAGES})*)")
_PATTERNS: Final[tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], Wish | None]], ...]] = (
    (_PAGES, _read_pages),
    (re.compile(rf"{_NUMBER} ?{_UNIT}(?: (wide|width|high|height|tall))?"), _size),
    (re.compile(rf"{_NUMBER} ?{_UNIT}? ?[x\u00d7] ?{_NUMBER} ?{_UNIT}"), _box),
    (
        re.compile(rf"{_NUMBER} ?lpi"),
        lambda found: Wish(("lpi",), _number(found[1]), f"{_plain(found[1])} lpi"),
    ),
    (
        re.compile(rf"{_NUMBER} ?(?:deg|degrees?|\u00b0)"),
        lambda found: Wish(("angle",), _number(found[1]), f"{_plain(found[1])} degrees"),
    ),
    (re.compile(r"x ?(\d{1,5})|(\d{1,5}) ?(?:copies|copy)"), _copies),
    (
        re.compile(r"patch ?([a-z][0-9]{1,2})"),
        lambda found: Wish(("patch",), found[1].upper(), f"patch {found[1].upper()}"),
    ),
    (
        re.compile(rf"({_DOT_WORDS}) dots?"),
        lambda found: Wish(("dot",), found[1], f"{found[1]} dots"),
    ),
)


def _plain(number: str) -> str:
    return f"{float(number):g}"


def _almost(text: str) -> bool:
    """Whether a text that is no wish was most likely meant as one."""
    text = text.casefold()
    if re.fullmatch(rf"\d+,\d+ ?(?:{_UNIT}|lpi|deg)(?: \w+)?", text):
        return True
    found = _ALMOST.fullmatch(text)
    if _other_dot(text) or _PAGES.fullmatch(text):
        return True
    if not found or found[1] in _HARMLESS:
        return False
    unit = found[1]
    return unit in _OTHER_LENGTHS or (len(unit) > 2 and nearest(unit, _MEANT) is not None)


def _other_dot(text: str) -> str | None:
    """What is said of a dot by another name."""
    found = re.fullmatch(r"(\w+) dots?", text)
    return HINTS.get(f"dot: {found[1]}") if found else None


def _refusal(name: str, inside: str, part: str, *, beside: bool = False) -> Refused:
    hint = "."
    unit = _ALMOST.fullmatch(part.casefold())
    near = nearest(unit[1], _MEANT) if unit and unit[1] not in _OTHER_LENGTHS else None
    if re.search(r"\d,\d", inside):
        point = re.sub(r"(\d),(\d)", r"\1.\2", inside)
        hint = f"; a decimal point is a full stop: [{point}]."
    elif near and unit and near != unit[1]:
        hint = f"; did you mean {re.sub(unit[1], near, part, count=1, flags=re.IGNORECASE)}?"
    elif other := _other_dot(part.casefold()):
        hint = f"; {other.replace('?', ' dots?')}"
    found = f"'{part}' beside other wishes" if beside else f"'{part}'"
    return Refused(
        Reason.BAD_TICKET,
        f"The name {name} has {found} in square brackets, which is no wish that can be read{hint}",
        f"Write wishes such as {SUCH_AS}, several with commas between them; or take the "
        "brackets out of the name, and drop the file again.",
    )
