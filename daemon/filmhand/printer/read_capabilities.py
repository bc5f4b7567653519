"""Capabilities from the attributes of a printer (RFC 8011, section 5.4; PWG 5100.7 and 5100.14).

What is absent is not missed, what has another form than it must is passed over: a printer that
tells nonsense of its trays may still print.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from fractions import Fraction

from filmhand.printer.capabilities import Capabilities, MediaEntry, PrinterState, SupplyLevel
from filmhand.printer.ipp.message import PER_CENTIMETER, PER_INCH, IppValue, Members, ValueTag
from filmhand.printer.printer_words import MediaWord
from filmhand.units import Resolution

_MARGINS = ("media-top-margin", "media-right-margin", "media-bottom-margin", "media-left-margin")
_MOST_MEDIA = 20_000
_LONGEST_MM100 = 10_000_000
# Self-describing names of media (PWG 5101.1): class, name, width x height with a unit.
_MEDIA_NAME = re.compile(
    r"([a-z0-9]+)_([a-z0-9.-]+)_(\d{1,6}(?:\.\d{1,6})?)x(\d{1,6}(?:\.\d{1,6})?)(in|mm)"
)
_PER_UNIT = {"in": 2540, "mm": 100}
_RANGE_CLASSES = frozenset({"custom", "roll"})

REQUESTED = (
    "printer-name",
    "printer-make-and-model",
    "printer-info",
    "printer-state",
    "printer-state-reasons",
    "printer-state-message",
    "printer-is-accepting-jobs",
    "document-format-supported",
    "media-supported",
    "media-ready",
    "media-col-supported",
    "media-col-database",
    "media-col-ready",
    "media-size-supported",
    *(f"{name}-supported" for name in _MARGINS),
    "media-type-supported",
    "media-source-supported",
    "print-color-mode-supported",
    "print-scaling-supported",
    "print-quality-supported",
    "printer-resolution-supported",
    "pwg-raster-document-resolution-supported",
    "pwg-raster-document-type-supported",
    "sides-supported",
    "copies-supported",
    "operations-supported",
    "job-creation-attributes-supported",
    "marker-names",
    "marker-levels",
    "printer-type",
    "cups-version",
    "device-uri",
)
"""What is asked for; "media-col-database" comes only where it is named (PWG 5100.7)."""


def read_capabilities(told: Members) -> Capabilities:
    """What a printer's attributes say."""
    queue = bool({"printer-type", "cups-version"} & told.keys())
    model = _text(told, "printer-make-and-model")
    # The scheduler calls a queue without filters so; all others lay documents down anew.
    raw = "raw" in model.lower().split() or not model
    return Capabilities(
        name=model
        or _text(told, "printer-info")
        or _text(told, "printer-name")
        or MediaWord.NAMELESS.say(),
        state=_state(told),
        reasons=tuple(_words(told, "printer-state-reasons")),
        accepting=_first(told, "printer-is-accepting-jobs") is not False,
        message=_text(told, "printer-state-message"),
        formats=tuple(word.lower() for word in _words(told, "document-format-supported")),
        media=tuple(_media(told)),
        ready=_ready(told),
        types=tuple(_words(told, "media-type-supported")),
        sources=tuple(_words(told, "media-source-supported")),
        color_modes=tuple(_words(told, "print-color-mode-supported")),
        scalings=tuple(_words(told, "print-scaling-supported")),
        qualities=tuple(_numbers(told, "print-quality-supported")),
        sides=tuple(_words(told, "sides-supported")),
        copies=_copies(told),
        resolutions=tuple(_resolutions(told, "printer-resolution-supported")),
        raster_resolutions=tuple(_resolutions(told, "pwg-raster-document-resolution-supported")),
        raster_types=tuple(_words(told, "pwg-raster-document-type-supported")),
        operations=frozenset(_numbers(told, "operations-supported")),
        job_attributes=_names(told, "job-creation-attributes-supported"),
        media_members=_names(told, "media-col-supported"),
        supplies=tuple(_supplies(told)),
        queue=queue,
        filters=queue and not raw,
    )


# --- single values -------------------------------------------------------------------------------


def _values(told: Members, name: str) -> tuple[IppValue, ...]:
    return told.get(name, ())


def _words(told: Members, name: str) -> list[str]:
    return [one.text for one in _values(told, name) if one.text is not None]


def _text(told: Members, name: str) -> str:
    """A text of one line, as it can be shown."""
    words = _words(told, name)
    return "".join(c for c in words[0] if c.isprintable())[:200].strip() if words else ""


def _names(told: Members, name: str) -> frozenset[str] | None:
    words = _words(told, name)
    return frozenset(words) if words else None


def _numbers(told: Members, name: str) -> list[int]:
    found = (one.value for one in _values(told, name))
    return [value for value in found if isinstance(value, int) and not isinstance(value, bool)]


def _first(told: Members, name: str) -> object:
    values = _values(told, name)
    return values[0].value if values else None


def _state(told: Members) -> PrinterState:
    value = _first(told, "printer-state")
    return next((state for state in PrinterState if state == value), PrinterState.IDLE)


def _span(values: Iterable[IppValue]) -> tuple[int, int] | None:
    """The smallest and the largest of one number or range."""
    for one in values:
        value = one.value
        if isinstance(value, int) and not isinstance(value, bool):
            return value, value
        if one.tag == ValueTag.RANGE and isinstance(value, tuple):
            low, high = value
            return int(low), int(high)
    return None


def _copies(told: Members) -> tuple[int, int] | None:
    span = _span(_values(told, "copies-supported"))
    return span if span and 1 <= span[0] <= span[1] else None


def _resolutions(told: Members, name: str) -> Iterator[Resolution]:
    for one in _values(told, name):
        if one.tag == ValueTag.RESOLUTION and isinstance(one.value, tuple):
            x, y, unit = (int(part) for part in one.value)
            if unit == PER_CENTIMETER:
                x, y = round(x * 2.54), round(y * 2.54)
            if unit in {PER_INCH, PER_CENTIMETER} and x > 0 and y > 0:
                yield Resolution(x, y)


def _supplies(told: Members) -> Iterator[SupplyLevel]:
    """PWG 5100.9: levels in percent; -1, -2 and -3 where a printer does not know."""
    levels = _numbers(told, "marker-levels")
    for name, level in zip(_words(told, "marker-names"), levels, strict=False):
        shown = "".join(c for c in name if c.isprintable())[:80]
        yield SupplyLevel(shown, level if 0 <= level <= 100 else None)


# --- media ---------------------------------------------------------------------------------------


def _media(told: Members) -> Iterator[MediaEntry]:
    """All sheets, from the fullest of the lists that there are."""
    fallback = _general_margins(told)
    entries = [one for one in _entries(told, "media-col-database") if one]
    if not entries:
        sizes = _values(told, "media-size-supported")[:_MOST_MEDIA]
        entries = [one for value in sizes if (one := _entry({"media-size": (value,)}))]
    named = list(_named(_words(told, "media-supported"), fallback))
    if not entries:
        yield from named
        return
    for one in entries:
        yield one if one.margins else _with_margins(one, fallback)
    known = {(one.width, one.height) for one in entries}
    yield from (one for one in named if (one.width, one.height) not in known)


def _ready(told: Members) -> tuple[MediaEntry, ...] | None:
    """What is loaded: nothing only where the printer says "no value" (RFC 8011, section 5.1.1)."""
    values = _values(told, "media-col-ready") + _values(told, "media-ready")
    columns = [one for one in _entries(told, "media-col-ready") if one]
    loaded = tuple(columns or _named(_words(told, "media-ready"), None))
    is_empty = bool(values) and all(one.tag == ValueTag.NO_VALUE for one in values)
    return loaded if loaded or is_empty else None


def _entries(told: Members, name: str) -> Iterator[MediaEntry | None]:
    for value in _values(told, name)[:_MOST_MEDIA]:
        if isinstance(value.value, dict):
            yield _entry(value.value)


def _entry(members: Members) -> MediaEntry | None:
    size = _first(members, "media-size")
    if not isinstance(size, dict):
        return None
    width, height = _span(size.get("x-dimension", ())), _span(size.get("y-dimension", ()))
    if not width or not height or not _is_length(width) or not _is_length(height):
        return None
    sides = [_span(members.get(name, ())) for name in _MARGINS]
    margins = None
    if all(side and 0 <= side[0] <= _LONGEST_MM100 for side in sides):
        top, right, bottom, left = (side[0] for side in sides if side)
        margins = (top, right, bottom, left)
    kind, source = _words(members, "media-type"), _words(members, "media-source")
    return MediaEntry(
        width, height, margins, kind[0] if kind else None, source[0] if source else None
    )


def _is_length(span: tuple[int, int]) -> bool:
    return 0 < span[0] <= span[1] <= _LONGEST_MM100


def _general_margins(told: Members) -> tuple[int, int, int, int] | None:
    """The margins of sheets that have none of their own: the smallest that is not borderless."""
    sides = [[one for one in _numbers(told, f"{name}-supported") if one >= 0] for name in _MARGINS]
    if not all(sides):
        return None
    top, right, bottom, left = (min([one for one in side if one] or [0]) for side in sides)
    return top, right, bottom, left


def _with_margins(one: MediaEntry, margins: tuple[int, int, int, int] | None) -> MediaEntry:
    return MediaEntry(one.width, one.height, margins, one.type, one.source, one.name)


def _named(names: Iterable[str], margins: tuple[int, int, int, int] | None) -> Iterator[MediaEntry]:
    """Sheets by their self-describing names; pairs of a smallest and a largest are ranges."""
    ends: dict[tuple[str, str], dict[str, tuple[int, int]]] = {}
    for name in names:
        found = _MEDIA_NAME.fullmatch(name)
        if not found:
            continue
        per_unit = _PER_UNIT[found[5]]
        width, height = (round(Fraction(found[k]) * per_unit) for k in (3, 4))
        end = found[2].partition("-")[0]
        if found[1] in _RANGE_CLASSES and end in {"min", "max"}:
            ends.setdefault((found[1], found[2][len(end) :]), {})[end] = (width, height)
        elif width and height:
            yield MediaEntry((width, width), (height, height), margins, name=name)
    for pair in ends.values():
        if len(pair) == 2:
            (low_x, low_y), (high_x, high_y) = pair["min"], pair["max"]
            if 0 < low_x <= high_x and 0 < low_y <= high_y:
                yield MediaEntry((low_x, high_x), (low_y, high_y), margins)
