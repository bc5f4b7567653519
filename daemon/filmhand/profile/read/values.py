"""Readers of single settings: what YAML gives to what the program uses.

Each raises :class:`ValueError` with a phrase that completes "must be …", its kin
:class:`NotAWordError` and :class:`NotANumberError`, or
:class:`~filmhand.profile.read.curve.CurveError` with a whole predicate.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from ipaddress import ip_address
from pathlib import Path
from typing import Any, Literal, TypeVar

from filmhand.expression import ExpressionError, read_expression
from filmhand.film.formats import Format
from filmhand.language import languages, or_list
from filmhand.profile.profile_words import Allowed
from filmhand.profile.read.curve import ReadCurve, curve_from_points, curve_from_text
from filmhand.profile.read.hints import american
from filmhand.profile.terms import Fit, GainCurve, Margin
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.units import read_bytes, read_length_mm, read_length_um, read_seconds
from filmhand.values import dataclass

Word = TypeVar("Word", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class NeedsCurves:
    """Marks a reader that may have to read a curve file beside the profile."""

    read: Callable[[object, ReadCurve | None], object]


LARGEST_SHEET_MM = 2000.0
LARGEST_GAIN = 40
ELLIPSES = (0.4, 0.95)
_FLAGS = {"yes": True, "on": True, "no": False, "off": False}
_NUMBER = r"(?:\d{1,6}(?:\.\d{1,9})?|\.\d{1,9})"
_LENGTH = rf"{_NUMBER}\s*(?:mm|cm|in|pt)"


class NotAWordError(ValueError):
    """The value is none of the allowed words."""

    def __init__(self, words: tuple[str, ...], *, more: str = "") -> None:
        """Take the words, and what else is allowed as a phrase."""
        super().__init__(or_list([*words, *([more] if more else [])]))
        self.words = words


class PartsError(ValueError):
    """A setting written as a group has faults inside.

    Attributes
    ----------
    parts : pairs of key and phrase for "must be …"
    strange : keys that stand in it and do not belong
    keys : those that do
    """

    def __init__(
        self, parts: list[tuple[str, str]], *, strange: list[str], keys: tuple[str, ...]
    ) -> None:
        """Take what is wrong with known keys, the unknown keys, and all known ones."""
        super().__init__("; ".join(f"{key}: {phrase}" for key, phrase in parts))
        self.parts = tuple(parts)
        self.strange = tuple(strange)
        self.keys = keys


class FaultsWithin(ValueError):
    """Settings inside a list or group have faults, each with its own path.

    Attributes
    ----------
    faults : of each the path below the setting, what was given there, and what is wrong with it
    """

    def __init__(self, faults: list[tuple[tuple[str | int, ...], object, ValueError]]) -> None:
        """Take the faults."""
        super().__init__("; ".join(str(fault) for _, _, fault in faults))
        self.faults = tuple(faults)


class NotANumberError(ValueError):
    """A plain number was meant; a text with a number in it gets a hint."""


def read_parts(
    group: Mapping[str, object], readers: Mapping[str, Callable[[object], Any]]
) -> dict[str, Any]:
    """What each key of a group gives to its reader; PartsError for all that is wrong with them."""
    found: dict[str, Any] = {}
    parts: list[tuple[str, str]] = []
    for key, given in group.items():
        if key in readers:
            try:
                found[key] = readers[key](given)
            except ValueError as fault:
                parts.append((key, str(fault)))
    strange = [str(key) for key in group if key not in readers]
    if parts or strange:
        raise PartsError(parts, strange=strange, keys=tuple(readers))
    return found


def read_group(
    group: Mapping[str, object],
    readers: Mapping[str, Callable[[object], Any]],
    lacking: Sequence[ValueError] = (),
) -> dict[str, Any]:
    """As :func:`read_parts`, but that each fault stands at its own key: FaultsWithin.

    ``lacking`` are faults of the group as a whole.
    """
    found: dict[str, Any] = {}
    faults: list[tuple[tuple[str | int, ...], object, ValueError]] = []
    for key, given in group.items():
        if key in readers:
            try:
                found[key] = readers[key](given)
            except ValueError as fault:
                faults.append(((key,), given, fault))
    strange = [str(key) for key in group if key not in readers]
    if strange:
        faults.append(((), group, PartsError([], strange=strange, keys=tuple(readers))))
    faults += [((), group, fault) for fault in lacking]
    if faults:
        raise FaultsWithin(faults)
    return found


def is_number(value: object) -> bool:
    """Whether YAML gave a number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def number(low: float, high: float) -> Callable[[object], float]:
    """A reader of numbers from low to high."""

    def read(value: object) -> float:
        if isinstance(value, int | float) and is_number(value) and low <= value <= high:
            return float(value)
        raise NotANumberError(Allowed.NUMBER.say(low=f"{low:g}", high=f"{high:g}"))

    return read


def whole(low: int, high: int) -> Callable[[object], int]:
    """A reader of whole numbers from low to high."""

    def read(value: object) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        raise NotANumberError(Allowed.WHOLE.say(low=low, high=high))

    return read


def word(words: type[Word]) -> Callable[[object], Word]:
    """A reader of one of an enum's words, in American or British spelling."""

    def read(value: object) -> Word:
        if isinstance(value, str) and american(value) in {str(member) for member in words}:
            return words(american(value))
        raise NotAWordError(tuple(str(member) for member in words))

    return read


def read_flag(value: object) -> bool:
    """True or false; yes, no, on and off mean the same."""
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.lower() in _FLAGS:
        return _FLAGS[value.lower()]
    raise ValueError(Allowed.FLAG.say())


def read_flag_or_auto(value: object) -> bool | None:
    """``auto`` (None), or as :func:`read_flag`."""
    if value == "auto":
        return None
    try:
        return read_flag(value)
    except ValueError:
        raise ValueError(Allowed.FLAG_OR_AUTO.say()) from None


def read_margin(value: object) -> Margin:
    """One length for all edges, or four in the order top, right, bottom, left."""
    allowed = Allowed.MARGIN.say()
    if isinstance(value, str):
        if not re.fullmatch(rf"\s*{_LENGTH}(?:[\s,]+{_LENGTH})*\s*", value):
            raise ValueError(allowed)
        lengths: list[object] = list(re.findall(_LENGTH, value))
    elif isinstance(value, list):
        if not all(isinstance(item, str) and re.fullmatch(_LENGTH, item) for item in value):
            raise ValueError(Allowed.MARGIN_WITH_UNITS.say())
        lengths = value
    else:
        raise ValueError(allowed)
    if len(lengths) == 1 and isinstance(value, str):
        lengths *= 4
    if len(lengths) != 4:
        raise ValueError(allowed)
    top, right, bottom, left = (read_length_mm(length) for length in lengths)
    return Margin(top, right, bottom, left)


def read_dot(value: object) -> DotShape:
    """A dot's word; ``ellipse 0.6`` with a ratio; or ``spot`` and a function of x and y."""
    written = tuple(str(dot) for dot in Dot if not dot.own)
    allowed = NotAWordError(written, more=Allowed.SPOT.say())
    if not isinstance(value, str):
        raise allowed
    name, _, rest = value.strip().partition(" ")
    kind = Dot.words().get(name)
    if kind is not None and not rest:
        return DotShape(kind)
    if kind is not None and kind.row.with_ratio is not None:
        low, high = ELLIPSES
        if re.fullmatch(r"\s*\d?\.?\d{1,4}\s*", rest) and low <= float(rest) <= high:
            return DotShape(kind, ratio=float(rest))
        raise ValueError(Allowed.RATIO.say(dot=kind, low=f"{low:g}", high=f"{high:g}"))
    if name == Dot.SPOT:
        try:
            return DotShape(Dot.SPOT, spot=read_expression(rest).text)
        except ExpressionError as fault:
            raise ValueError(Allowed.SPOT_THAT_IS.say(fault=fault)) from fault
    raise allowed


def read_fit(value: object) -> Fit:
    """``page``, ``own``, ``width 7 in``, ``height 9 in``, or ``7 x 9 in`` to lie inside both."""
    allowed = NotAWordError(("page", "own"), more=Allowed.ART_SIZE.say())
    if not isinstance(value, str):
        raise allowed
    if value == "page":
        return Fit("page")
    if value == "own":
        return Fit("own")
    both = re.fullmatch(rf"\s*({_NUMBER})\s*(mm|cm|in|pt)?\s*[x×]\s*({_LENGTH})\s*", value)
    if both:
        height = read_length_mm(both[3])
        unit = both[2] or both[3].lstrip("0123456789. ")
        return Fit("inside", _art_side(read_length_mm(f"{both[1]} {unit}")), _art_side(height))
    found = re.fullmatch(rf"\s*(width|height)\s+({_LENGTH})\s*", value)
    if not found:
        raise allowed
    size = _art_side(read_length_mm(found[2]))
    kind: Literal["width", "height"] = "width" if found[1] == "width" else "height"
    return Fit(kind, size)


def _art_side(mm: float) -> float:
    if not 5 <= mm <= LARGEST_SHEET_MM:
        raise ValueError(Allowed.ART_SIDE.say(largest=f"{LARGEST_SHEET_MM:g}"))
    return mm


def read_pair(value: object, low: float, high: float) -> tuple[float, float] | None:
    """A list of two numbers from low to high; None for anything else."""
    if not isinstance(value, list) or len(value) != 2:
        return None
    read = number(low, high)
    try:
        first, second = (read(item) for item in value)
    except ValueError:
        return None
    return first, second


def _word_or_pair(
    value: object, high: float, ends: Allowed
) -> Literal["auto", "off"] | tuple[float, float]:
    if value == "auto":
        return "auto"
    if value == "off":
        return "off"
    pair = read_pair(value, 0, high)
    if pair is None:
        raise NotAWordError(("auto", "off"), more=ends.say(high=f"{high:g}"))
    return pair


def read_endpoints(value: object) -> Literal["auto", "off"] | tuple[float, float]:
    """``auto``, ``off`` or the percent clipped at the black and the white end."""
    return _word_or_pair(value, 40, Allowed.ENDPOINTS)


def read_hold(value: object) -> Literal["auto", "off"] | tuple[float, float]:
    """``auto``, ``off`` or the smallest and largest tone in percent."""
    hold = _word_or_pair(value, 100, Allowed.HOLD)
    if isinstance(hold, tuple) and hold[0] >= hold[1]:
        raise ValueError(Allowed.HOLD_ORDER.say())
    return hold


def read_gain(value: object, read_curve: ReadCurve | None) -> float | GainCurve:
    """Points at the 50 % tone, inline [film, print] pairs, or the name of a curve file.

    The newest reading for ``measured``: 0 where nothing was read yet, as nothing is known then.
    """
    if isinstance(value, list):
        pairs = [read_pair(item, 0, 100) for item in value]
        if not value or any(pair is None for pair in pairs):
            raise ValueError(Allowed.GAIN_PAIRS.say(most=LARGEST_GAIN))
        return curve_from_points([pair for pair in pairs if pair is not None])
    if isinstance(value, str) and read_curve is not None and _may_be_file(value):
        curve = read_curve(value)
        return 0.0 if curve is None else curve_from_text(curve.text, name=curve.name)
    if isinstance(value, int | float) and is_number(value) and 0 <= value <= LARGEST_GAIN:
        return float(value)
    raise NotANumberError(Allowed.GAIN.say(most=LARGEST_GAIN))


def _may_be_file(name: str) -> bool:
    return bool(name.strip()) and not re.fullmatch(r"\s*[-+]?[\d.,]+\s*%?\s*", name)


def read_formats(value: object) -> tuple[Format, ...]:
    """One format or a list of different ones, in the order given."""
    given = value if isinstance(value, list) else [value]
    known = {str(form): form for form in Format}
    formats = [known[item] for item in given if isinstance(item, str) and item in known]
    if not given or len(formats) < len(given):
        raise NotAWordError(tuple(known), more=Allowed.FORMATS.say())
    if len(set(formats)) < len(formats):
        raise ValueError(Allowed.FORMATS_ONCE.say())
    return tuple(formats)


def read_micrometers(low: float, high: float) -> Callable[[object], float]:
    """A reader of small lengths, in micrometers, that are written in um or mm."""

    def read(value: object) -> float:
        allowed = Allowed.MICROMETERS.say(low=f"{low:g}", high=f"{high:g}")
        return read_between(value, low, high, read_length_um, allowed)

    return read


def read_between(
    value: object, low: float, high: float, read: Callable[[object], float], allowed: str
) -> float:
    """A number in the unit of ``read``; ValueError with ``allowed`` unless it lies between."""
    try:
        size = read(value)
    except ValueError:
        size = -1.0
    if not low <= size <= high:
        raise ValueError(allowed)
    return size


def read_settle(value: object) -> float | None:
    """``auto`` (None) or a duration."""
    if value == "auto":
        return None
    return read_between(value, 0.01, 3600, read_seconds, Allowed.SETTLE.say())


_KEPT = r"\s*(\d{1,6}(?:\.\d{1,3})?)\s*(h|days?|weeks?)\s*"
_KEPT_SECONDS = {"h": 3600.0, "day": 86400.0, "week": 7 * 86400.0}


def read_keep(value: object) -> float | None:
    """``forever`` (None), or how long something is kept, in seconds."""
    if value == "forever":
        return None
    found = re.fullmatch(_KEPT, value) if isinstance(value, str) else None
    seconds = float(found[1]) * _KEPT_SECONDS[found[2].rstrip("s")] if found else -1.0
    if not 3600 <= seconds <= 36500 * 86400:
        raise ValueError(Allowed.KEEP.say())
    return seconds


def read_takeover(value: object) -> float:
    """A duration long enough that a host which only pauses keeps its jobs."""
    return read_between(value, 1, 168 * 3600, read_seconds, Allowed.TAKEOVER.say())


def read_memory(value: object) -> int:
    """An amount of memory that a worker can start in."""
    return int(read_between(value, 64 * 2**20, 2**40, read_bytes, Allowed.MEMORY.say()))


_CLUSTER = r"dask(?:\+tls)?://(?:[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\]):(\d{1,5})"


def read_language(value: object) -> str | None:
    """The code of a language that sentences are said in; None for that of whoever runs filmhand."""
    if value is None:
        return None
    if isinstance(value, str) and value in languages():
        return value
    raise NotAWordError(languages())


def read_workers(value: object) -> str | None:
    """``own`` (None), or where the scheduler of a cluster listens.

    One of another computer that does not encrypt must be meant:
    ``{at: dask://shop:8786, unencrypted: true}``.
    """
    if value == "own":
        return None
    if not isinstance(value, dict):
        return _read_scheduler(value, unencrypted=False)
    parts = {"at": _read_any_scheduler, "unencrypted": read_flag}
    found = read_parts(value, parts)
    if "at" not in found:
        raise ValueError(Allowed.SCHEDULER_GROUP.say())
    return _read_scheduler(found["at"], unencrypted=found.get("unencrypted", False))


def _read_any_scheduler(value: object) -> str:
    return _read_scheduler(value, unencrypted=True)


def _read_scheduler(value: object, *, unencrypted: bool) -> str:
    found = re.fullmatch(_CLUSTER, value) if isinstance(value, str) else None
    if not isinstance(value, str) or found is None or not 1 <= int(found[1]) <= 65535:
        raise ValueError(Allowed.SCHEDULER.say())
    if is_unencrypted(value) and not unencrypted:
        tls = value.replace("dask://", "dask+tls://")
        raise ValueError(Allowed.ENCRYPTED.say(tls=tls, plain=value))
    return value


def is_unencrypted(scheduler: str) -> bool:
    """Whether what is said to this scheduler leaves the computer without encryption."""
    kind, _, place = scheduler.partition("://")
    host = place.rpartition(":")[0].strip("[]")
    if kind == "dask+tls" or host.lower() == "localhost":
        return False
    try:
        return not ip_address(host).is_loopback
    except ValueError:
        return True


def read_folder(value: object) -> Path | None:
    """Null for the station's own folder, or a full path."""
    if value is None:
        return None
    if not isinstance(value, str) or not Path(value).is_absolute():
        raise ValueError(Allowed.FOLDER.say())
    return Path(value)
