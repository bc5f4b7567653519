"""From a file of art to bits that were mended and judged, but not yet marked and written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from filmhand.art.analysis.classify import ArtKind
from filmhand.art.files.open_art import Art
from filmhand.art.repair.deskew import straightened
from filmhand.art.repair.repair_note import RepairKind
from filmhand.film.bits import BitSheet
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.free_memory import give_back_memory
from filmhand.pipeline.job_limits import check_file, check_time
from filmhand.pipeline.opening import ReadPage, read_wished
from filmhand.pipeline.printer_films.printer_words import printer_notes
from filmhand.pipeline.readings.measured_press import reading_warnings
from filmhand.pipeline.render.art_repairs import begin_look, repair_drawing
from filmhand.pipeline.render.render import begin_plan, open_mask, render_art
from filmhand.pipeline.render.seen_small import seen_small
from filmhand.pipeline.render.size_note import size_note
from filmhand.pipeline.render.treatment import begin_trial, treatment
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.pipeline.verdict.judge import judge_film, judge_plan
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.terms import Treat
from filmhand.request import Step
from filmhand.sheet.layout import Box
from filmhand.sheet.placement import place_art
from filmhand.speaking_pool import SpareThread
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class JudgedFilm:
    """The art on its sheet, mended and judged."""

    work: FilmInWork
    bits: BitSheet
    counted: CountedFilm


def open_page(wished: WishedPage, *, read: ReadPage | None = None) -> tuple[FilmInWork, Art]:
    """Read one page if that has not been done, choose its treatment and lay it out.

    Raises
    ------
    Refused
        where the art cannot be read or placed
    """
    request, profile, ticket = wished.request, wished.profile, wished.ticket
    read = read or read_wished(wished)
    art, kept, repaired = read.take_art(), read.kept, read.repaired
    screen, tile = read.screen, read.tile
    judgment: list[str] = []
    reminders: list[str] = []
    before, seen = art.coded, seen_small(art.coded)
    with SpareThread(request.threads) as spare:
        trial = begin_trial(art, profile, seen, spare)
        look = begin_look(art, spare)
        treated, reading = treatment(art, profile, seen, judgment, reminders, trial=trial)
        plan = begin_plan(art, profile, treated, reading, look, spare)
        masked = request.mask is not None
        mended = repair_drawing(art, profile, treated, masked=masked, look=look)
    repaired += mended
    for repair in mended:
        if repair.kind is RepairKind.SKEW:
            straight = straightened(seen, repair.found)
            seen = seen if straight is None else straight
    if reading is not None and art.coded is not before and reading.has_places:
        judgment.clear()
        reminders.clear()
        treated, reading = treatment(art, profile, seen, judgment, reminders)
    if reading is not None and any(repair.kind is RepairKind.SCREENED for repair in repaired):
        reading = replace(reading, kind=ArtKind.SCREENED)
    if treated is not Treat.LINE:
        reminders += reading_warnings(profile)
    notes = [
        *ticket.told,
        *printer_notes(profile),
        *art.notes,
        *judgment,
        *reminders,
        *(repair.say for repair in repaired),
    ]
    layout = place_art(profile, art_px=(art.width_px, art.height_px), art_ppi=art.ppi)
    notes += size_note(kept.own_in, layout, profile, scanned=art.format != "JPEG")
    source = {
        "name": request.name,
        "sha256": wished.art_sha256,
        "format": art.format,
        "width_px": kept.whole_px[0],
        "height_px": kept.whole_px[1],
    }
    if treated is Treat.LINE:
        screen = tile = None
    work = FilmInWork(
        request,
        profile,
        ticket,
        layout,
        treated,
        kept,
        source,
        screen,
        tile,
        notes,
        reminders=reminders,
        repaired=repaired,
        reading=reading,
        plan=plan if art.coded is before else None,
        seen=seen,
    )
    if any(repair.kind in (RepairKind.LIGHT, RepairKind.PAPER) for repair in mended):
        work.evened, work.grain = seen_small(art.coded), True
    return work, art


@contextmanager
def judged_bits(
    wished: WishedPage, sheet: Path, *, at: Box | None = None, read: ReadPage | None = None
) -> Iterator[JudgedFilm]:
    """The judged bits of one page, in a file that is there only inside the ``with``.

    Parameters
    ----------
    sheet : where the bits are kept meanwhile
    at : where on the sheet the art lies, if not where it would lie alone
    read : the page, if it has been read already

    Raises
    ------
    Refused
        where the art gets no film by this profile;
        :class:`~filmhand.pipeline.verdict.refusals.CheckFailed` where one of the checks says so
    """
    work, art = open_page(wished, read=read)
    if at is not None:
        work.layout = replace(work.layout, art=at)
    layout = work.layout
    tell = work.request.progress
    check_file(work)
    check_time(work, wished.pages)
    judge_plan(work)
    tell(Step.SCREENING, Step.SCREENING.begins)
    barred = open_mask(work)
    try:
        with BitSheet.create(sheet, width=layout.sheet.width, height=layout.sheet.height) as bits:
            lines = render_art(work, art, bits, barred=barred)
            del art
            give_back_memory()
            tell(Step.MEASURING, Step.MEASURING.begins)
            counted = judge_film(work, bits, barred=barred, lines=lines)
            give_back_memory()
            yield JudgedFilm(work, bits, counted)
    finally:
        sheet.unlink(missing_ok=True)
