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
from filmhand.service.doctor.doctor_words import DoctorCount, DoctorWord, Level, Topic
from filmhand.service.doctor.folder_probe import Finding

_PASSES = frozenset({TroubleKind.BUSY, TroubleKind.STOPPED, TroubleKind.OTHER_SHEET})


def examine_printing(name: str, profile: Profile, open_printer: OpenPrinter) -> Iterator[Finding]:
    """Whether the profile's printer answers, and would print the profile's films as they are."""
    wishes = profile.print
    if wishes is None or wishes.printer is None:
        return
    yield Finding(
        Level.NOTE,
        name,
        Topic.POSITIVES,
        DoctorWord.PRINTS_ITSELF.say(),
        DoctorWord.WATCH_NO_POSITIVES.say(),
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
        yield Finding(level, name, Topic.PRINTER, trouble.say)
        return
    fine = DoctorWord.PRINTER_FINE.say(printer=can.name, how=_way(job, sheet))
    yield Finding(Level.OK, name, Topic.PRINTER, fine)
    for say in job.warnings:
        yield Finding(Level.NOTE, name, Topic.PRINTER, say)
    if why := printer_reasons(can.reasons):
        says = DoctorWord.PRINTER_SAYS.say(printer=can.name, why=", ".join(why))
        yield Finding(Level.NOTE, name, Topic.PRINTER, says)


def examine_orders(name: str, profile: Profile, folders: Folders) -> Iterator[Finding]:
    """Whether films wait for a printer that the profile does not name any more."""
    if profile.print is not None and profile.print.printer is not None:
        return
    count = sum(1 for _ in orders_of(folders))
    if count:
        say = DoctorCount.FILMS_WITHOUT_PRINTER.say(count)
        yield Finding(Level.WRONG, name, Topic.PRINTER, say, DoctorWord.NAME_PRINTER.say())


def _way(job: PrintJobRequest, sheet: FilmSheet) -> str:
    parts = [
        DoctorWord.RASTER_OF_ONE_BIT.say() if job.document_format == PWG else "PDF",
        lengths_text(*job.size, in_inches=sheet.in_inches),
        *([job.media_type] if job.media_type else []),
        *([DoctorWord.TRAY.say(tray=job.media_source)] if job.media_source else []),
    ]
    return ", ".join(parts)
