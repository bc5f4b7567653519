"""Readings as figures keep them, and which of several readings of one wedge belong together."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.language import and_list
from filmhand.pipeline.readings.reading_words import ReadingsWord
from filmhand.reading.reading import (
    READING_SCHEMA,
    PatchReading,
    ReadOf,
    SizesHeld,
    WedgeReading,
    reading_as_json,
)
from filmhand.sheet.wedge_identity import NoIdentity, WedgeIdentity
from filmhand.values import dataclass

OWN = "own"
"""The key below which figures of several scans keep what the newest scan says by itself."""
_KINDS = ("dots", "shadow_dots", "lines", "gaps")
_MOST_PATCHES = 200
_LONGEST = 500  # characters of a name, a note or a code
_MOST_NOTES = 100
# What reading figures of another shape than ours ends in; ArithmeticError for numbers too large.
_NOT_READ = (ValueError, ArithmeticError, LookupError, TypeError, AttributeError, RecursionError)
# Points that a whole scan may lie from the others, and in errors of its tones. Common practice, no
# source: prints of one run lie within some 2 points in the middle tones.
_FAR, _FAR_ERRORS = 2.0, 3.0


class NoReadingError(ValueError):
    """The text holds no reading."""


@dataclass(frozen=True, slots=True)
class NamedReading:
    """What was read off one scan, and the scan's name."""

    scan: str
    reading: WedgeReading


def own_as_json(one: NamedReading) -> dict[str, Any]:
    """A single scan as figures keep it, for :func:`named_reading`."""
    return reading_as_json(one.reading) | {"scans": [one.scan]}


def named_reading(text: str | bytes) -> NamedReading:
    """The reading of the one scan that figures are of, or of the newest of several.

    Figures lie where everybody can write, so nothing in them is taken as it is.

    Raises
    ------
    NoReadingError
        for anything that no reading can be
    """
    try:
        told = json.loads(text)
    except (ValueError, RecursionError) as fault:
        raise NoReadingError(ReadingsWord.NO_READING.say()) from fault
    return named_from_json(told)


def named_from_json(told: Any) -> NamedReading:
    """The same of what stood in the text."""
    try:
        own = told.get(OWN, told)
        scans = own["scans"]
        if own["schema"] != READING_SCHEMA or len(scans) != 1:
            raise NoReadingError
        return NamedReading(_text(scans[0]), _reading(own))
    except _NOT_READ as fault:
        raise NoReadingError(ReadingsWord.NO_READING.say()) from fault


def _reading(own: dict[str, Any]) -> WedgeReading:
    patches = [
        PatchReading(
            _number(one["film_pct"], 0, 100),
            _number(one["measured_pct"], -50, 150),
            _number(one["error_pct"], 0, 200),
        )
        for one in own["patches"][: _MOST_PATCHES + 1]
    ]
    tones = [patch.film_pct for patch in patches]
    if not 2 <= len(patches) <= _MOST_PATCHES or tones != sorted(set(tones)):
        raise NoReadingError
    held = own["held_um"]
    scale = own["scale_pct"]
    wedge = _text(own["wedge"])
    WedgeIdentity.from_text(wedge)
    return WedgeReading(
        of=ReadOf(own["of"]),
        wedge=wedge,
        patches=tuple(patches),
        smallest_held=held_from_json(held),
        none_held=tuple(_text(kind) for kind in own.get("none_held", ())[: len(_KINDS)]),
        density=None if own["density"] is None else _number(own["density"], -10, 10),
        edge_growth_um=(
            None if own["edge_growth_um"] is None else _number(own["edge_growth_um"], -5000, 5000)
        ),
        scale=None if scale is None else (_scale(scale[0]), _scale(scale[1])),
        ppi=_number(own["ppi"], 0, 1e6),
        mirrored=own["mirrored"] is True,
        notes=tuple(_text(note) for note in own["notes"][:_MOST_NOTES]),
    )


def held_from_json(held: Any) -> SizesHeld:
    """The sizes of an object by kind; NoReadingError, LookupError or TypeError for others."""
    return SizesHeld(*(_size(held[name]) for name in _KINDS))


def _number(value: Any, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NoReadingError
    if not math.isfinite(value) or not low <= value <= high:
        raise NoReadingError
    return value


def _size(value: Any) -> float | None:
    return None if value is None else _number(value, 1, 5000)


def _scale(value: Any) -> float:
    return _number(value, 50, 200) / 100


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise NoReadingError
    return "".join(c if c.isprintable() else " " for c in value)[:_LONGEST]


def of_same_wedge(one: WedgeReading, other: WedgeReading) -> bool:
    """Whether both are of one side of wedges with the same screen, printer, mesh and size.

    The profile may have been edited between: that alone makes no other film.
    """
    if one.of is not other.of:
        return False
    try:
        codes = [WedgeIdentity.from_text(reading.wedge) for reading in (one, other)]
    except NoIdentity:
        return one.wedge == other.wedge
    first, second = (replace(code, short_hash="") for code in codes)
    return first == second


def agreeing(scans: Sequence[NamedReading]) -> tuple[list[NamedReading], list[str]]:
    """The scans without those that lie far from all others, and what is said of that.

    Parameters
    ----------
    scans : at least one, all of the same wedge

    Of two that differ nobody knows which is right: both are kept, and that is said.
    """
    kept, notes = list(scans), []
    while len(kept) > 2:
        off, errors = _off(kept)
        worst = int(np.argmax(off / errors))
        others = np.delete(off, worst)
        if off[worst] <= errors[worst] or (others > np.delete(errors, worst)).sum() > len(kept) / 2:
            break
        said = ReadingsWord.LEFT_OUT.say(scan=kept[worst].scan, off=f"{off[worst]:.1f}")
        notes.append(said)
        del kept[worst]
    if len(kept) == 2:
        off, errors = _off(kept)
        if 2 * off[0] > max(errors):
            said = ReadingsWord.APART.say(
                one=kept[0].scan, other=kept[1].scan, off=f"{2 * off[0]:.1f}"
            )
            notes.append(said)
    return kept, notes


def _off(scans: Sequence[NamedReading]) -> tuple[Float64Array, Float64Array]:
    """(n,) each: by how many points a scan lies off the median of all, and what is allowed."""
    tones = sorted(set.intersection(*({p.film_pct for p in s.reading.patches} for s in scans)))
    tones = [tone for tone in tones if 5 < tone < 95]
    if not tones:
        return np.zeros(len(scans)), np.ones(len(scans))
    read = [{p.film_pct: p for p in scan.reading.patches} for scan in scans]
    measured = np.array([[one[tone].measured_pct for tone in tones] for one in read])
    errors = np.array([[one[tone].error_pct for tone in tones] for one in read])
    off = np.abs(measured - np.median(measured, axis=0)).mean(axis=1)
    return off, np.maximum(_FAR, _FAR_ERRORS * np.median(errors, axis=1))


def blend_note(scans: Sequence[NamedReading]) -> str:
    """That these were read together with the scan in hand."""
    return ReadingsWord.BLENDED.say(scans=_names_of(scans))


def alone_note(scans: Sequence[NamedReading], why: str) -> str:
    """That the scan in hand counts alone, since no curve goes through these and it."""
    return ReadingsWord.ALONE.say(scans=_names_of(scans), why=why)


def _names_of(scans: Sequence[NamedReading]) -> str:
    return and_list(list(dict.fromkeys(one.scan for one in scans)))
