"""What a printer can do for film, in words, and the `print:` group that a profile would have."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from filmhand.printer.capabilities import Capabilities, MediaEntry
from filmhand.printer.choice import BLACK, FILM_TYPES, load_text
from filmhand.printer.media_sizes import dpi_list, sizes_list
from filmhand.printer.print_request import PDF, PWG, OpenPrinter
from filmhand.printer.printer_words import AbilityWord, MediaWord
from filmhand.printer.reasons import printer_reasons
from filmhand.printer.trouble import PrinterTrouble, UnknownCertificate
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class PrinterReport:
    """What was learned of one printer.

    Attributes
    ----------
    name, uri : as it is called, and its address
    says : plain sentences on what it can do for film, or on what is in the way
    group : lines to paste into a profile; empty where it can print no film
    """

    name: str
    uri: str
    says: tuple[str, ...]
    group: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return asdict(self)


def report_on(name: str, uri: str, open_printer: OpenPrinter) -> PrinterReport:
    """Ask the printer, and tell what it can do; never raises for a printer's sake.

    A certificate that nobody vouches for is shown, so that somebody can compare it.
    """
    certificate, says = None, []
    try:
        try:
            can = open_printer(uri, None).capabilities()
        except UnknownCertificate as unknown:
            certificate = unknown.fingerprint
            says.append(AbilityWord.COMPARE_CERTIFICATE.say())
            can = open_printer(uri, certificate).capabilities()
    except PrinterTrouble as trouble:
        return PrinterReport(name, uri, (trouble.say,), ())
    able = way_of_films(can)
    says += [able or AbilityWord.KEEPS_NO_DOTS.say(), *_details(can)]
    group = print_group(uri, can, certificate) if able else ()
    return PrinterReport(name, uri, tuple(says), group)


def way_of_films(can: Capabilities) -> str:
    """How films go there, as a sentence; empty where their dots would not be kept."""
    if can.filters:
        return ""
    if PWG in can.formats and BLACK in can.raster_types and can.raster_resolutions:
        return AbilityWord.AS_RASTER.say(able=dpi_list(can.raster_resolutions))
    if can.queue and PWG in can.formats:
        return AbilityWord.AS_RASTER_BY_QUEUE.say()
    if PDF in can.formats and ("none" in can.scalings or not can.scalings):
        if not can.resolutions:
            return AbilityWord.AS_PDF_OF_OWN_DPI.say()
        return AbilityWord.AS_PDF.say(able=dpi_list(can.resolutions))
    return ""


def _details(can: Capabilities) -> list[str]:
    sizes, media = sizes_list(can.media), [one for one in FILM_TYPES if one in can.types]
    told = [
        AbilityWord.SHEETS.say(sizes=sizes) if sizes else AbilityWord.NO_SHEETS.say(),
        AbilityWord.MEDIA.say(media=", ".join(media)) if media else AbilityWord.NO_MEDIA.say(),
    ]
    if can.sources:
        told.append(AbilityWord.TRAYS.say(trays=", ".join(can.sources)))
    if can.ready:
        told.append(AbilityWord.LOADED.say(loads=", ".join(dict.fromkeys(map(_load, can.ready)))))
    if why := printer_reasons(can.reasons):
        told.append(AbilityWord.NOW.say(reasons=", ".join(why)))
    low = [f"{one.name} {one.percent} %" for one in can.supplies if one.percent is not None]
    if low:
        told.append(AbilityWord.SUPPLIES.say(levels=", ".join(low)))
    return told


def _load(one: MediaEntry) -> str:
    load = load_text(one)
    return MediaWord.IN_TRAY.say(load=load, tray=one.source) if one.source else load


def print_group(uri: str, can: Capabilities, certificate: str | None) -> tuple[str, ...]:
    """The lines of a profile, with the words that the printer offers beside them."""
    media = next((one for one in FILM_TYPES if one in can.types), "auto")
    lines = ["print:", f"  printer: {uri}", f"  media: {media}"]
    if can.types and media == "auto":
        lines[-1] += _or_else(can.types)
    trays = [one for one in can.sources if one != "auto"]
    lines.append("  tray: auto" + (_or_else(trays) if trays else ""))
    if certificate is not None:
        lines.append(f"  certificate: {certificate}")
    return tuple("".join(c for c in line if c.isprintable()) for line in lines)


def _or_else(words: Sequence[str]) -> str:
    return f"   # {AbilityWord.OR_ELSE.say(words=', '.join(words[:8]))}"
