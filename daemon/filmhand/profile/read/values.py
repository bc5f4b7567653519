"""Readers of single settings: what YAML gives to what the program uses.

Each raises :class:`ValueError` with a phrase that completes "must be …", its kin
:class:`NotAWordError` and :class:`NotANumberError`, or
:class:`~filmhand.profile.read.curve.CurveError` with a whole predicate.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from ipaddress import ip_address
from pathlib import Path
from typing import Any, Literal, TypeVar

from filmhand.expression import ExpressionError, read_expression
from filmhand.film.formats import Format
from filmhand.language import languages
from filmhand.profile.read.curve import ReadCurve, curve_from_points, curve_from_text
from filmhand.profile.read.hints import american
from filmhand.profile.terms import Fit, GainCurve, Margin
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.units import read_bytes, read_length_mm, read_length_um, read_seconds

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
        super().__init__(listing([*words, *([more] if more else [])]))
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


def listing(words: Sequence[str], *, last: str = " or ") -> str:
    """Words joined as in a sentence: ``a, b or c``."""
    return last.join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def is_number(value: object) -> bool:
    """Whether YAML gave a number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def number(low: float, high: float) -> Callable[[object], float]:
    """A reader of numbers from low to high."""

    def read(value: object) -> float:
        if isinstance(value, int | float) and is_number(value) and low <= value <= high:
            return float(value)
        raise NotANumberError(f"a number from {low:g} to {high:g}")

    return read


def whole(low: int, high: int) -> Callable[[object], int]:
    """A reader of whole numbers from low to high."""

    def read(value: object) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        raise NotANumberError(f"a whole number from {low} to {high}")

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
    raise ValueError("true or false (or yes or no)")


def read_margin(value: object) -> Margin:
    """One length for all edges, or four in the order top, right, bottom, left."""
    allowed = "one length such as 0.25 in, or four (top, right, bottom, left)"
    if isinstance(value, str):
        if not re.fullmatch(rf"\s*{_LENGTH}(?:[\s,]+{_LENGTH})*\s*", value):
            raise ValueError(allowed)
        lengths: list[object] = list(re.findall(_LENGTH, value))
    elif isinstance(value, list):
        if not all(isinstance(item, str) and re.fullmatch(_LENGTH, item) for item in value):
            raise ValueError(f"{allowed}, each with its unit")
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
    allowed = NotAWordError(written, more="spot and a function of x and y")
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
        raise ValueError(f"{kind} with a ratio of height by width from {low:g} to {high:g}")
    if name == Dot.SPOT:
        try:
            return DotShape(Dot.SPOT, spot=read_expression(rest).text)
        except ExpressionError as fault:
            raise ValueError(f"spot and a function of x and y that is {fault}") from fault
    raise allowed


def read_fit(value: object) -> Fit:
    """``page``, ``own``, ``width 7 in``, ``height 9 in``, or ``7 x 9 in`` to lie inside both."""
    allowed = NotAWordError(
        ("page", "own"), more="a size such as width 7 in, height 9 in or 7 x 9 in"
    )
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
        raise ValueError("page, own or a width or height from 5 mm to 2000 mm")
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
    value: object, high: float, ends: str
) -> Literal["auto", "off"] | tuple[float, float]:
    if value == "auto":
        return "auto"
    if value == "off":
        return "off"
    pair = read_pair(value, 0, high)
    if pair is None:
        raise NotAWordError(("auto", "off"), more=f"{ends}, each from 0 to {high:g}")
    return pair


def read_endpoints(value: object) -> Literal["auto", "off"] | tuple[float, float]:
    """``auto``, ``off`` or the percent clipped at the black and the white end."""
    return _word_or_pair(value, 40, "[black %, white %]")


def read_hold(value: object) -> Literal["auto", "off"] | tuple[float, float]:
    """``auto``, ``off`` or the smallest and largest tone in percent."""
    hold = _word_or_pair(value, 100, "[min %, max %]")
    if isinstance(hold, tuple) and hold[0] >= hold[1]:
        raise ValueError("[min %, max %] with the min smaller than the max")
    return hold


def read_gain(value: object, read_curve: ReadCurve | None) -> float | GainCurve:
    """Points at the 50 % tone, inline [film, print] pairs, or the name of a curve file."""
    allowed = f"a number from 0 to {LARGEST_GAIN}, a list of [film %, print %] pairs"
    if isinstance(value, list):
        pairs = [read_pair(item, 0, 100) for item in value]
        if not value or any(pair is None for pair in pairs):
            raise ValueError(f"{allowed} such as [[10, 14], [50, 65], [90, 97]]")
        return curve_from_points([pair for pair in pairs if pair is not None])
    if isinstance(value, str) and read_curve is not None and _may_be_file(value):
        return curve_from_text(read_curve(value), name=value)
    if isinstance(value, int | float) and is_number(value) and 0 <= value <= LARGEST_GAIN:
        return float(value)
    raise NotANumberError(f"{allowed} or the name of a curve file")


def _may_be_file(name: str) -> bool:
    return bool(name.strip()) and not re.fullmatch(r"\s*[-+]?[\d.,]+\s*%?\s*", name)


def read_formats(value: object) -> tuple[Format, ...]:
    """One format or a list of different ones, in the order given."""
    given = value if isinstance(value, list) else [value]
    known = {str(form): form for form in Format}
    formats = [known[item] for item in given if isinstance(item, str) and item in known]
    if not given or len(formats) < len(given):
        raise NotAWordError(tuple(known), more="a list of them")
    if len(set(formats)) < len(formats):
        raise ValueError("a list with each format once")
    return tuple(formats)


def read_micrometers(low: float, high: float) -> Callable[[object], float]:
    """A reader of small lengths, in micrometers, that are written in um or mm."""
    allowed = f"a length from {low:g} µm to {high:g} µm, with its unit"
    return lambda value: read_between(value, low, high, read_length_um, allowed)


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
    allowed = "auto or a duration from 10 ms to 1 h, such as 2 s"
    return read_between(value, 0.01, 3600, read_seconds, allowed)


_KEPT = re.compile(r"\s*(\d{1,6}(?:\.\d{1,3})?)\s*(h|days?|weeks?)\s*")
_KEPT_SECONDS = {"h": 3600.0, "day": 86400.0, "week": 7 * 86400.0}


def read_keep(value: object) -> float | None:
    """``forever`` (None), or how long something is kept, in seconds."""
    if value == "forever":
        return None
    found = _KEPT.fullmatch(value) if isinstance(value, str) else None
    seconds = float(found[1]) * _KEPT_SECONDS[found[2].rstrip("s")] if found else -1.0
    if not 3600 <= seconds <= 36500 * 86400:
        raise ValueError("forever, or a time from 1 h to 36500 days, such as 30 days or 8 weeks")
    return seconds


def read_takeover(value: object) -> float:
    """A duration long enough that a host which only pauses keeps its jobs."""
    allowed = "a duration from 1 s to 168 h, such as 15 min"
    return read_between(value, 1, 168 * 3600, read_seconds, allowed)


def read_memory(value: object) -> int:
    """An amount of memory that a worker can start in."""
    allowed = "an amount of memory from 64 MiB to 1024 GiB, such as 2 GiB"
    return int(read_between(value, 64 * 2**20, 2**40, read_bytes, allowed))


_CLUSTER = re.compile(
    r"dask(?:\+tls)?://(?:[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\]):(\d{1,5})"
)


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
        raise ValueError("a group that says at, such as {at: dask://shop:8786, unencrypted: true}")
    return _read_scheduler(found["at"], unencrypted=found.get("unencrypted", False))


def _read_any_scheduler(value: object) -> str:
    return _read_scheduler(value, unencrypted=True)


def _read_scheduler(value: object, *, unencrypted: bool) -> str:
    found = _CLUSTER.fullmatch(value) if isinstance(value, str) else None
    if not isinstance(value, str) or found is None or not 1 <= int(found[1]) <= 65535:
        raise ValueError("own, or a scheduler with its port such as dask://127.0.0.1:8786")
    if is_unencrypted(value) and not unencrypted:
        tls = value.replace("dask://", "dask+tls://")
        raise ValueError(
            f"encrypted where the cluster is another computer's, as {tls}, or the group "
            f"{{at: {value}, unencrypted: true}} if everybody on the way may read and send jobs"
        )
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
        raise ValueError("null or a full path such as /mnt/share/small-sheet")
    return Path(value)
