"""What `filmhand doctor` looks at where a profile names a printer."""

from __future__ import annotations

from collections.abc import Iterator

from filmhand.disk.folders import Folders
from filmhand.printer.choice import choose_job
from filmhand.printer.media_sizes import lengths_text
from filmhand.printer.print_request import PWG, FilmSheet, OpenPrinter, PrintJobRequest
from filmhand.printer.reasons import printer_reasons
from filmhand.printer.trouble import PrinterTrouble, TroubleKind
from filmhand.prints.print_requests import orders_of
from filmhand.profile.model import Profile
from filmhand.service.doctor.folder_probe import Finding, Level

_PASSES = frozenset({TroubleKind.BUSY, TroubleKind.STOPPED, TroubleKind.OTHER_SHEET})


def examine_printing(name: str, profile: Profile, open_printer: OpenPrinter) -> Iterator[Finding]:
    """Whether the profile's printer answers, and would print the profile's films as they are."""
    wishes = profile.print
    if wishes is None or wishes.printer is None:
        return
    yield Finding(
        Level.NOTE,
        name,
        "positives",
        "This profile's films go to its printer by themselves.",
        "Let nothing else watch positives/, or each film is printed twice.",
    )
    sheet = FilmSheet(
        profile.sheet.width_mm100,
        profile.sheet.height_mm100,
        profile.margin.mm100,
        profile.dpi,
        in_inches=profile.sheet.in_inches,
    )
    try:
        can = open_printer(wishes.printer, wishes.certificate).capabilities()
        copies = profile.film.stack * wishes.copies
        job = choose_job(can, sheet, wishes, name=name, copies=copies)
    except PrinterTrouble as trouble:
        level = Level.NOTE if trouble.kind in _PASSES else Level.WRONG
        yield Finding(level, name, "printer", trouble.say)
        return
    yield Finding(
        Level.OK, name, "printer", f"{can.name} would print its films: {_way(job, sheet)}."
    )
    for say in job.warnings:
        yield Finding(Level.NOTE, name, "printer", say)
    if why := printer_reasons(can.reasons):
        yield Finding(Level.NOTE, name, "printer", f"{can.name} says: {', '.join(why)}.")


def examine_orders(name: str, profile: Profile, folders: Folders) -> Iterator[Finding]:
    """Whether films wait for a printer that the profile does not name any more."""
    if profile.print is not None and profile.print.printer is not None:
        return
    count = sum(1 for _ in orders_of(folders))
    if count:
        films = "1 film waits" if count == 1 else f"{count} films wait"
        yield Finding(
            Level.WRONG,
            name,
            "printer",
            f"{films} to be printed, and the profile names no printer any more.",
            "Name one as print.printer; `filmhand cancel` then lets go of those that nobody wants.",
        )


def _way(job: PrintJobRequest, sheet: FilmSheet) -> str:
    parts = [
        "PWG Raster of one bit" if job.document_format == PWG else "PDF",
        lengths_text(*job.size, in_inches=sheet.in_inches),
        *([job.media_type] if job.media_type else []),
        *([f"tray {job.media_source}"] if job.media_source else []),
    ]
    return ", ".join(parts)
