"""Pretended answers of printers, as attributes, for tests of what is read from and made of them."""

from __future__ import annotations

from filmhand.printer.ipp.message import IppValue, Members, ValueTag
from filmhand.printer.ipp.words import (
    boolean,
    collection,
    enum_value,
    integer,
    keywords,
    resolution_value,
    text_value,
)
from filmhand.units import Resolution

LETTER, LARGE = (21590, 27940), (33020, 48260)


def sheet(width, height, margins=None, **words) -> tuple[IppValue, ...]:
    """A media-col; a length is a number or a range, margins are top, right, bottom, left."""
    members: Members = {
        "media-size": collection({"x-dimension": length(width), "y-dimension": length(height)})
    }
    for side, margin in zip(("top", "right", "bottom", "left"), margins or (), strict=False):
        members[f"media-{side}-margin"] = integer(margin)
    members |= {f"media-{name}": keywords(word) for name, word in words.items()}
    return collection(members)


def length(value) -> tuple[IppValue, ...]:
    return (IppValue(ValueTag.RANGE, value),) if isinstance(value, tuple) else integer(value)


def film_printer(**changes) -> Members:
    """A printer that does all that a film wants; changes by attribute, None takes one away."""
    told: Members = {
        "printer-make-and-model": text_value(ValueTag.TEXT, "Acme Film 3"),
        "printer-state": enum_value(3),
        "printer-state-reasons": keywords("none"),
        "printer-is-accepting-jobs": boolean(True),
        "document-format-supported": tuple(
            IppValue(ValueTag.MIME_TYPE, one) for one in ("application/pdf", "image/pwg-raster")
        ),
        "media-col-supported": keywords(
            "media-size",
            "media-type",
            "media-source",
            *(f"media-{side}-margin" for side in ("top", "right", "bottom", "left")),
        ),
        "media-col-database": sheet(*LETTER, (423,) * 4) + sheet(*LARGE, (300, 423, 1270, 423)),
        "media-col-ready": sheet(*LETTER, type="transparency", source="main"),
        "media-type-supported": keywords("stationery", "transparency"),
        "media-source-supported": keywords("auto", "main", "manual"),
        "print-color-mode-supported": keywords("auto", "color", "monochrome", "bi-level"),
        "print-scaling-supported": keywords("auto", "fit", "none"),
        "print-quality-supported": tuple(one for k in (3, 4, 5) for one in enum_value(k)),
        "printer-resolution-supported": resolution_value(Resolution(600, 600)),
        "pwg-raster-document-resolution-supported": resolution_value(Resolution(600, 600))
        + resolution_value(Resolution(1200, 1200)),
        "pwg-raster-document-type-supported": keywords("black_1", "sgray_8"),
        "sides-supported": keywords("one-sided"),
        "copies-supported": (IppValue(ValueTag.RANGE, (1, 20)),),
        "operations-supported": tuple(
            one for code in (2, 4, 5, 6, 8, 9, 10, 11) for one in enum_value(code)
        ),
    }
    for name, value in changes.items():
        key = name.replace("_", "-")
        if value is None:
            del told[key]
        else:
            told[key] = value
    return told
