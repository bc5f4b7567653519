"""Which inks art becomes films of, as a profile or ticket asks for it.

Colors stay as they are written; whoever mixes them makes CIELAB of them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Any, TypeAlias

from filmhand.mesh.table import Mesh, read_mesh
from filmhand.profile.profile_words import Allowed
from filmhand.profile.read.groups import read_short_length
from filmhand.profile.read.values import (
    FaultsWithin,
    NotANumberError,
    NotAWordError,
    is_number,
    number,
    read_flag,
    read_group,
    read_parts,
)
from filmhand.profile.scan_place import OF_FILM
from filmhand.values import dataclass

MOST_INKS_OF_SET = 10
"""Inks of a set; more would have more combinations than can be reckoned with."""
LONGEST_INK_NAME = 40
"""Bytes of an ink's name, so that it has room behind a film's stem."""
LARGEST_TRAP_MM, LARGEST_CHOKE_MM = 3.0, 3.0
_HEX = r"#([0-9a-fA-F]{6})"
_LARGEST_AB = 160.0

InkColor: TypeAlias = str | tuple[float, float, float]
"""``#rrggbb`` of sRGB in lower case, or L*, a*, b* under D50."""
WHITE_CLOTH: InkColor = "#ffffff"
BLACK_GENERATION = 0.5
"""What of gray is printed in black where nothing is said (common practice, no source)."""


class InkChoice(StrEnum):
    """How the inks of a set are chosen."""

    PROCESS = "process"
    AUTO = "auto"
    LISTED = "listed"


class Separate(StrEnum):
    """How colors become inks: as the art and the inks ask for, or as it is said."""

    AUTO = "auto"
    SPOT = "spot"
    PROCESS = "process"
    SIMULATED = "simulated"


@dataclass(frozen=True, slots=True, kw_only=True)
class InkWish:
    """An ink as it is asked for.

    Attributes
    ----------
    name : as people call it
    color : of a solid layer on white
    opacity : 0 for a transparent ink, 1 for one that hides what is below; None for what is usual
        where colors become inks in that way
    angle : of its screen, degrees; None for one by the trade's offsets
    mesh, lpi : None for those of the profile
    overprint : whether what lies beneath the ink is not knocked out
    """

    name: str
    color: InkColor
    opacity: float | None = None
    angle: float | None = None
    mesh: Mesh | None = None
    lpi: float | None = None
    overprint: bool = False


@dataclass(frozen=True, slots=True)
class InkWishes:
    """The inks of a set.

    Attributes
    ----------
    choice : how they are chosen
    count : of those that are found in the art, how many at most
    listed : those that are named, in print order
    """

    choice: InkChoice
    count: int = 0
    listed: tuple[InkWish, ...] = ()


@dataclass(frozen=True, slots=True)
class Underbase:
    """What lies under all other inks: its name, and how far it is drawn back in millimeters."""

    ink: str = "white"
    choke_mm: float = 0.3


def read_inks(value: object) -> InkWishes | None:
    """``off`` (None), ``process``, ``auto 4``, or a list of inks in print order.

    >>> read_inks("auto 4").count
    4
    """
    if value == "off" or value is False:
        return None
    if value == "process":
        return InkWishes(InkChoice.PROCESS)
    allowed = Allowed.INKS.say(most=MOST_INKS_OF_SET)
    if isinstance(value, str):
        found = re.fullmatch(r"\s*auto\s+(\d{1,3})\s*", value)
        if found and 1 <= int(found[1]) <= MOST_INKS_OF_SET:
            return InkWishes(InkChoice.AUTO, int(found[1]))
        raise NotAWordError(("off", "process"), more=allowed)
    if not isinstance(value, list) or not 1 <= len(value) <= MOST_INKS_OF_SET:
        raise NotAWordError(("off", "process"), more=allowed)
    return InkWishes(InkChoice.LISTED, listed=_read_list(value))


def _read_list(items: list[object]) -> tuple[InkWish, ...]:
    inks: list[InkWish] = []
    faults: list[tuple[tuple[str | int, ...], object, ValueError]] = []
    taken: dict[str, str] = {}
    for place, item in enumerate(items):
        try:
            ink = _read_ink(item)
        except FaultsWithin as within:
            faults += [((place, *path), given, fault) for path, given, fault in within.faults]
            continue
        except ValueError as fault:
            faults.append(((place,), item, fault))
            continue
        name = ink_key(ink.name)
        if name in taken:
            clash = Allowed.INK_NAME_TAKEN.say(other=taken[name])
            faults.append(((place, "name"), ink.name, ValueError(clash)))
        taken.setdefault(name, ink.name)
        inks.append(ink)
    if faults:
        raise FaultsWithin(faults)
    return tuple(inks)


def _read_ink(value: object) -> InkWish:
    if not isinstance(value, Mapping):
        raise ValueError(Allowed.INK.say())
    readers: dict[str, Callable[[object], Any]] = {
        "name": read_ink_name,
        "color": read_color,
        "opacity": number(0, 1),
        "angle": number(0, 180),
        "mesh": _read_own_mesh,
        "lpi": number(5, 200),
        "overprint": read_flag,
    }
    lacking = [
        ValueError(Allowed.INK_WITH.say(key=key)) for key in ("name", "color") if key not in value
    ]
    return InkWish(**read_group(value, readers, lacking))


def _read_own_mesh(value: object) -> Mesh:
    mesh = read_mesh(value)
    if mesh is None:
        raise ValueError(Allowed.INK_MESH.say())
    return mesh


PROCESS_NAMES = ("cyan", "magenta", "yellow", "black")
"""The inks of ``inks: process``, in print order."""


def ink_folders(inks: InkWishes | None, underbase: Underbase | None) -> tuple[str, ...]:
    """What the folders of the inks are called that may have readings of their own.

    Inks that are found in art have none: nobody knows them before.

    >>> ink_folders(InkWishes(InkChoice.PROCESS), None)
    ('cyan', 'magenta', 'yellow', 'black')
    """
    if inks is None or inks.choice is InkChoice.AUTO:
        return ()
    names = [ink.name for ink in inks.listed] or list(PROCESS_NAMES)
    names += [] if underbase is None else [underbase.ink]
    folders = {ink_file_name(name).casefold(): ink_file_name(name) for name in names}
    folders.pop(OF_FILM, None)
    return tuple(folders.values())


def folder_of_ink(ink: str, inks: InkWishes | None, underbase: Underbase | None) -> str:
    """What the folder of an ink is called, by its name in any case; empty where it has none.

    >>> folder_of_ink("Cyan", InkWishes(InkChoice.PROCESS), None)
    'cyan'
    """
    try:
        wanted = ink_file_name(ink).casefold()
    except ValueError:
        return ""
    return next((one for one in ink_folders(inks, underbase) if one.casefold() == wanted), "")


def read_ink_name(value: object) -> str:
    """An ink's name, which films' names end in."""
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise ValueError(Allowed.INK_NAME.say(most=LONGEST_INK_NAME))
    ink_file_name(str(value))
    return " ".join(str(value).split())


def ink_file_name(name: str) -> str:
    """An ink's name as files have it: letters, digits, hyphens and underscores.

    Raises
    ------
    ValueError
        For other signs than those and spaces, for none, and for more than
        :data:`LONGEST_INK_NAME` bytes.

    >>> ink_file_name(" Dark  red 2 ")
    'Dark-red-2'
    """
    word = "-".join(unicodedata.normalize("NFC", name).split())
    kinds = {unicodedata.category(sign)[0] for sign in word if sign not in "-_"}
    # Marks are parts of letters in many scripts, and alone they are nothing.
    if not kinds & {"L", "N"} or kinds - {"L", "M", "N"} or len(word.encode()) > LONGEST_INK_NAME:
        raise ValueError(Allowed.INK_NAME.say(most=LONGEST_INK_NAME))
    return word


def ink_key(name: str) -> str:
    """A name as it is compared with those of other inks: what people take for one is one.

    Case does not count, nor how words are joined, nor in which form of Unicode letters come. That a
    plate is called like an ink is told by the same, so one plate is never two inks'.

    >>> ink_key("Dark_Red") == ink_key(" dark  red") == ink_key("dark-red")
    True
    """
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    return " ".join(plain.replace("_", " ").replace("-", " ").split())


def read_color(value: object) -> InkColor:
    """``#b3261e`` of sRGB, or [L*, a*, b*] under D50."""
    if isinstance(value, str):
        found = re.fullmatch(_HEX, value.strip())
        if found:
            return f"#{found[1].lower()}"
    if isinstance(value, list) and len(value) == 3 and all(map(is_number, value)):
        lightness, a, b = (float(one) for one in value)
        if 0 <= lightness <= 100 and max(abs(a), abs(b)) <= _LARGEST_AB:
            return lightness, a, b
    raise ValueError(Allowed.COLOR.say())


def read_underbase(value: object) -> Underbase | None:
    """``off`` (None), or a group with the ink and how far it is drawn back."""
    if value == "off" or value is False:
        return None
    if not isinstance(value, dict):
        raise NotAWordError(("off",), more=Allowed.UNDERBASE.say())
    choke = read_short_length(0, LARGEST_CHOKE_MM, example="0.3")
    found = read_parts(value, {"ink": read_ink_name, "choke": choke})
    if "choke" in found:
        found["choke_mm"] = found.pop("choke")
    return Underbase(**found)


def read_percent(low: float, high: float) -> Callable[[object], float]:
    """A reader of percentages, with the sign or without; gives them as a share."""

    def read(value: object) -> float:
        found = re.fullmatch(r"\s*(\d{1,5}(?:\.\d{1,6})?)\s*%?\s*", str(value))
        plain = isinstance(value, str) or is_number(value)
        if found and plain and low <= float(found[1]) <= high:
            return float(found[1]) / 100
        raise NotANumberError(Allowed.PERCENT.say(low=f"{low:g}", high=f"{high:g}"))

    return read


def read_total_ink(value: object) -> float | None:
    """``auto`` (None), or the most that the inks of a place add up to, as a share: 3 for 300 %."""
    return None if value == "auto" else read_percent(100, 100 * MOST_INKS_OF_SET)(value)
