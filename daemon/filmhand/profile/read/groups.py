"""Readers of settings with parts: what is cut off the art, how often it lies, where checks fail.

Limits are groups of ``fail`` and ``warn``, so that no order is to be remembered.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from filmhand.profile.profile_words import Allowed
from filmhand.profile.read.values import (
    NotAWordError,
    PartsError,
    is_number,
    number,
    read_between,
    read_micrometers,
    read_parts,
)
from filmhand.profile.terms import Crop, FailWarn, MoireLimits, Repeat, Side
from filmhand.units import matched, read_length_mm

SIDES = ("left", "top", "right", "bottom")
LARGEST_CUT = 0.95
"""The share of the art that two opposite sides may lose together."""
MOST_COPIES_A_SIDE = 50
LONGEST_SHAPE = 20
_NUMBER = r"\d{1,4}(?:\.\d{1,6})?"


def read_crop(value: object) -> Crop | None:
    """``off`` (None), or what is cut off each side, and the shape to be cut ``to``."""
    if value == "off":
        return None
    if not isinstance(value, dict):
        raise NotAWordError(("off",), more=Allowed.CROP.say())
    readers: dict[str, Callable[[object], object]] = {
        **dict.fromkeys(SIDES, _read_side),
        "to": _read_shape,
    }
    found = read_parts(value, readers)
    too_much = _too_much(found)
    if too_much:
        raise PartsError(too_much, strange=[], keys=tuple(readers))
    return Crop(**found)


def _read_side(value: object) -> Side:
    if value == 0 and is_number(value):
        return Side()
    if not isinstance(value, str):
        raise ValueError(Allowed.SIDE.say())
    percent = re.fullmatch(rf"\s*({_NUMBER})\s*%\s*", value)
    if percent:
        share = float(percent[1]) / 100
        if share > LARGEST_CUT:
            raise ValueError(Allowed.SHARE.say(most=f"{100 * LARGEST_CUT:g}"))
        return Side(share=share)
    try:
        return Side(mm=read_length_mm(value))
    except ValueError:
        raise ValueError(Allowed.SIDE.say()) from None


def _read_shape(value: object) -> tuple[float, float]:
    allowed = Allowed.SHAPE.say(longest=LONGEST_SHAPE)
    found = matched(rf"({_NUMBER})\s*[x×:]\s*({_NUMBER})", value, allowed)
    width, height = float(found[1]), float(found[2])
    if not (min(width, height) > 0 and max(width, height) <= LONGEST_SHAPE * min(width, height)):
        raise ValueError(allowed)
    return width, height


def _too_much(found: dict[str, object]) -> list[tuple[str, str]]:
    """What two opposite sides lose together, where that is nearly all."""
    for one, other in (("left", "right"), ("top", "bottom")):
        sides = [side for side in (found.get(one), found.get(other)) if isinstance(side, Side)]
        if sum(side.share for side in sides) > LARGEST_CUT:
            most = f"{100 * LARGEST_CUT:g}"
            return [(other, Allowed.SHARE_TOGETHER.say(one=one, other=other, most=most))]
    return []


def read_repeat(value: object) -> Repeat | None:
    """``off`` (None), ``fill``, or how often across x down."""
    if value == "off":
        return None
    if value == "fill":
        return Repeat()
    found = re.fullmatch(r"\s*(\d{1,3})\s*[x×]\s*(\d{1,3})\s*", str(value))
    if not isinstance(value, str) or not found:
        raise NotAWordError(("off", "fill"), more=Allowed.REPEAT.say())
    columns, rows = int(found[1]), int(found[2])
    if not (1 <= columns <= MOST_COPIES_A_SIDE and 1 <= rows <= MOST_COPIES_A_SIDE):
        raise ValueError(Allowed.REPEAT_EACH.say(most=MOST_COPIES_A_SIDE))
    return Repeat(columns, rows)


def read_short_length(low: float, high: float, *, example: str = "") -> Callable[[object], float]:
    """A reader of lengths in millimeters, from low to high; a plain 0 needs no unit."""

    def read(value: object) -> float:
        if value == 0 and is_number(value) and low == 0:
            return 0.0
        shown = example or f"{max(low, 6):g}"
        allowed = Allowed.SHORT_LENGTH.say(low=f"{low:g}", high=f"{high:g}", example=shown)
        return read_between(value, low, high, read_length_mm, allowed)

    return read


_KEYS = ("fail", "warn")
_LARGEST_UM = 5000.0
_DISTANCE_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}


def read_sizes(value: object) -> FailWarn | None:
    """``auto`` (None), or the sizes in micrometers at which a check fails and warns."""
    if value == "auto":
        return None
    return _read_pair(value, read_micrometers(0, _LARGEST_UM), Allowed.SIZES.say())


def read_moire(value: object) -> MoireLimits:
    """``auto``, or the visibility over which moire warns and fails, and from how far it is seen."""
    if value == "auto":
        return MoireLimits()
    if not isinstance(value, Mapping):
        raise ValueError(Allowed.MOIRE.say())
    share = number(0, 1)
    found = read_parts(value, {"warn": share, "fail": share, "distance": _read_distance})
    distance = {"distance_mm": found.pop("distance")} if "distance" in found else {}
    limits = MoireLimits(**found, **distance)
    if limits.warn > limits.fail:
        raise ValueError(Allowed.MOIRE_ORDER.say())
    return limits


def _read_distance(value: object) -> float:
    """A distance to look from, in millimeters."""
    allowed = Allowed.DISTANCE.say()
    found = matched(rf"({_NUMBER})\s*(mm|cm|m|in|ft)", value, allowed)
    mm = round(float(found[1]) * _DISTANCE_MM[found[2]], 6)
    if not 100 <= mm <= 100_000:
        raise ValueError(allowed)
    return mm


def numbers(low: float, high: float, example: str) -> Callable[[object], FailWarn]:
    """A reader of two numbers from low to high, under which a check fails and warns."""
    read = number(low, high)
    return lambda value: _read_pair(value, read, Allowed.GROUP_SUCH_AS.say(example=example))


def _read_pair(value: object, read: Callable[[object], float], allowed: str) -> FailWarn:
    """A group of ``fail`` and ``warn``, of which the film must not warn later than it fails."""
    if not isinstance(value, Mapping):
        raise ValueError(_with_meant(allowed, value))
    found = read_parts(value, dict.fromkeys(_KEYS, read))
    if len(found) < len(_KEYS):
        raise ValueError(Allowed.PAIR_BOTH.say(allowed=allowed))
    limits = FailWarn(**found)
    if limits.fail > limits.warn:
        raise ValueError(Allowed.PAIR_ORDER.say(allowed=allowed))
    return limits


def _with_meant(allowed: str, value: object) -> str:
    """What is allowed, and what a list, as these were written once, would be as a group."""
    if not isinstance(value, list) or len(value) != len(_KEYS):
        return allowed
    inside = ", ".join(f"{key}: {item}" for key, item in zip(_KEYS, value, strict=True))
    return Allowed.PAIR_FOR_LIST.say(allowed=allowed, here=f"{{{inside}}}")
