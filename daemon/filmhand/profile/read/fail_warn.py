"""Readers of where checks fail and warn: groups, so that no order is to be remembered."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from filmhand.profile.read.values import number, read_micrometers, read_parts
from filmhand.profile.terms import FailWarn
from filmhand.units import read_length_mm

_KEYS = ("fail", "warn")
_LARGEST_UM = 5000.0
MOIRE_MM = FailWarn(warn=1.5, fail=4.0)
"""The periods over which moire warns and fails where the profile says ``auto``."""


def read_sizes(value: object) -> FailWarn | None:
    """``auto`` (None), or the sizes in micrometers at which a check fails and warns."""
    if value == "auto":
        return None
    example = "{fail: 110 um, warn: 310 um}"
    read = read_micrometers(0, _LARGEST_UM)
    return _read_pair(value, read, f"auto, or a group such as {example}", fails_below=True)


def read_moire(value: object) -> FailWarn:
    """``auto``, or the periods in millimeters over which moire warns and fails."""
    if value == "auto":
        return MOIRE_MM
    allowed = "auto, or a group such as {warn: 1.5 mm, fail: 4 mm}"
    return _read_pair(value, _read_period, allowed, fails_below=False)


def numbers(
    low: float, high: float, example: str, *, fails_below: bool
) -> Callable[[object], FailWarn]:
    """A reader of two numbers from low to high.

    Parameters
    ----------
    fails_below : a check fails under what it warns under; else over what it warns over
    """
    read, allowed = number(low, high), f"a group such as {example}"
    return lambda value: _read_pair(value, read, allowed, fails_below=fails_below)


def _read_period(value: object) -> float:
    try:
        return read_length_mm(value)
    except ValueError:
        raise ValueError("a length such as 1.5 mm, with its unit") from None


def _read_pair(
    value: object, read: Callable[[object], float], allowed: str, *, fails_below: bool
) -> FailWarn:
    """A group of ``fail`` and ``warn``, of which the film must not warn later than it fails."""
    if not isinstance(value, Mapping):
        raise ValueError(allowed + _meant(value, fails_below=fails_below))
    found = read_parts(value, dict.fromkeys(_KEYS, read))
    if len(found) < len(_KEYS):
        raise ValueError(f"{allowed}, with both in it")
    limits = FailWarn(**found)
    first, last = (limits.fail, limits.warn) if fails_below else (limits.warn, limits.fail)
    if first > last:
        order = "fail no larger than warn" if fails_below else "warn no larger than fail"
        raise ValueError(f"{allowed}, with {order}")
    return limits


def _meant(value: object, *, fails_below: bool) -> str:
    """What a list, as these were written once, would be as a group."""
    if not isinstance(value, list) or len(value) != len(_KEYS):
        return ""
    keys = _KEYS if fails_below else reversed(_KEYS)
    inside = ", ".join(f"{key}: {item}" for key, item in zip(keys, value, strict=True))
    return f", here {{{inside}}}"
