"""What a printer can do for film, in words, and the `print:` group that a profile would have."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from filmhand.printer.capabilities import Capabilities, MediaEntry
from filmhand.printer.choice import BLACK, FILM_TYPES
from filmhand.printer.media_sizes import dpi_list, sizes_list
from filmhand.printer.print_request import PDF, PWG, OpenPrinter
from filmhand.printer.reasons import printer_reasons
from filmhand.printer.trouble import PrinterTrouble, UnknownCertificate


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
            says.append(
                "Nobody vouches for its certificate: compare the SHA-256 below with what the "
                "printer's own page or panel tells."
            )
            can = open_printer(uri, certificate).capabilities()
    except PrinterTrouble as trouble:
        return PrinterReport(name, uri, (trouble.say,), ())
    able = way_of_films(can)
    says += [able or _UNABLE, *_details(can)]
    group = print_group(uri, can, certificate) if able else ()
    return PrinterReport(name, uri, tuple(says), group)


def way_of_films(can: Capabilities) -> str:
    """How films go there, as a sentence; empty where their dots would not be kept."""
    if can.filters:
        return ""
    if PWG in can.formats and BLACK in can.raster_types and can.raster_resolutions:
        return f"Films go as PWG Raster of one bit, at {dpi_list(can.raster_resolutions)} dpi."
    if can.queue and PWG in can.formats:
        return "It is a raw queue: films go as PWG Raster, if its printer takes that."
    if PDF in can.formats and ("none" in can.scalings or not can.scalings):
        known = f"at {dpi_list(can.resolutions)} dpi" if can.resolutions else "at its own dpi"
        return f"Films go as PDF, {known}; look at the first one's ruler and checkers."
    return ""


_UNABLE = (
    "It takes nothing that keeps a film's dots: no raster of one bit, and no PDF that it leaves "
    "as it is."
)


def _details(can: Capabilities) -> list[str]:
    film_types = [one for one in FILM_TYPES if one in can.types]
    told = [
        f"Sheets: {sizes_list(can.media)}." if can.media else "It does not say which sheets.",
        f"Media for film: {', '.join(film_types)}."
        if film_types
        else "It lists no media for film.",
    ]
    if can.sources:
        told.append(f"Trays: {', '.join(can.sources)}.")
    if can.ready:
        told.append(f"Loaded: {', '.join(dict.fromkeys(map(_load, can.ready)))}.")
    if why := printer_reasons(can.reasons):
        told.append(f"Now: {', '.join(why)}.")
    low = [f"{one.name} {one.percent} %" for one in can.supplies if one.percent is not None]
    if low:
        told.append(f"Ink or toner: {', '.join(low)}.")
    return told


def _load(one: MediaEntry) -> str:
    where = f" in {one.source}" if one.source else ""
    return sizes_list([one]) + (f" of {one.type}" if one.type else "") + where


def print_group(uri: str, can: Capabilities, certificate: str | None) -> tuple[str, ...]:
    """The lines of a profile, with the words that the printer offers beside them."""
    media = next((one for one in FILM_TYPES if one in can.types), "auto")
    lines = ["print:", f"  printer: {uri}", f"  media: {media}"]
    if can.types and media == "auto":
        lines[-1] += f"   # or {', '.join(can.types[:8])}"
    trays = [one for one in can.sources if one != "auto"]
    lines.append("  tray: auto" + (f"   # or {', '.join(trays[:8])}" if trays else ""))
    if certificate is not None:
        lines.append(f"  certificate: {certificate}")
    return tuple("".join(c for c in line if c.isprintable()) for line in lines)
