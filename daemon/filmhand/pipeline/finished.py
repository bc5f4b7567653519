"""The finished films of one page of art: judged, marked, written, read back, recorded."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from filmhand.digest import sha256_of
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.kernels.loops import compiled
from filmhand.language import and_list
from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.page.proof import write_proof
from filmhand.page.proof_page import ProofWords
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.judged import JudgedFilm, judged_bits
from filmhand.pipeline.label import label_lines
from filmhand.pipeline.make_words import MakeNote
from filmhand.pipeline.opening import ReadPage
from filmhand.pipeline.predict.flat_tints import conditions_of
from filmhand.pipeline.proof_words import proof_words
from filmhand.pipeline.record import film_record
from filmhand.pipeline.render.strips import AreaOfSheet, fill_rows_of_sheet
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.pipeline.verdict.refusals import CheckFailed
from filmhand.pipeline.wished_page import WishedPage, page_number
from filmhand.request import FinishedFilm, PrintWork, Step
from filmhand.screen.screener import Screener
from filmhand.sheet.layout import Box, Layout
from filmhand.sheet.marks import Mark, draw_furniture
from filmhand.speaking_pool import SpeakingPool
from filmhand.tone import FULL

if TYPE_CHECKING:
    from filmhand.pipeline.trial.trial_sheet import TrialReport

# The forms in which a printer may take a film; the same bits in each.
DOCUMENTS = (Format.PWG, Format.PDF)
_ROWS_AT_ONCE = 128  # the rulers are high, and their rows are those of the whole sheet


def films_of_page(wished: WishedPage, pages: int, read: ReadPage | None) -> list[FinishedFilm]:
    """The films of one page: one, or several where the art is larger than the sheet.

    ``pages`` is how many the art has, and ``read`` the page if it has been read already.
    """
    number, suffix = page_number(wished, pages)
    sheet = wished.request.scratch / f"bits{suffix}"
    if wished.ticket.patch is not None:
        from filmhand.pipeline.trial.trial_sheet import with_patch  # noqa: PLC0415 - a rare wish

        wished = with_patch(wished, number)
    if wished.ticket.trial is not None:
        from filmhand.pipeline.trial.trial_sheet import trial_bits  # noqa: PLC0415 - a rare wish

        with trial_bits(wished, sheet) as (judged, trial):
            return [finished_film(judged, suffix, number, trial)]
    try:
        with judged_bits(wished, sheet, read=read) as judged:
            layouts = judged.work.layout.films
            if not layouts:
                return [finished_film(judged, suffix, number)]
            films = []
            for layout in layouts:
                assert layout.part is not None
                with part_of_film(judged, layout, sheet.with_name("bits-part")) as part:
                    films.append(finished_film(part, suffix + layout.part.suffix, number))
            return films
    except CheckFailed as failed:
        from filmhand.pipeline.verdict.remedies import offers_that_pass  # noqa: PLC0415

        raise failed.with_offers(offers_that_pass(wished, failed)) from None


@contextmanager
def part_of_film(judged: JudgedFilm, layout: Layout, sheet: Path) -> Iterator[JudgedFilm]:
    """One film of a joined one, in a file that is there only inside the ``with``.

    All is screened, mended and judged on the joined film, so that what neighbors share is the same
    to the pixel.

    Parameters
    ----------
    judged : the joined film
    layout : of the one film, among ``films`` of the joined one's
    sheet : where its bits are kept meanwhile
    """
    part = layout.part
    assert part is not None
    joined = judged.work
    shown = part.shown
    if joined.profile.film.mirror:
        shown = shown.mirrored(judged.bits.width)
    work = replace(
        joined,
        layout=layout,
        notes=list(joined.notes),
        reminders=list(joined.reminders),
        checks=list(joined.checks),
    )
    work.remind(MakeNote.PART_OF_JOINED.say(part=part))
    work.cleared = joined.cleared.shown(joined.area, shown, work.area)
    source = AreaOfSheet(judged.bits, shown)
    try:
        with BitSheet.create(sheet, width=layout.sheet.width, height=layout.sheet.height) as bits:
            fill_rows_of_sheet(
                bits,
                work.area,
                lambda first, count: source.read(first, first + count),
                threads=joined.request.threads,
            )
            yield replace(
                judged,
                work=work,
                bits=bits,
                counted=replace(
                    judged.counted,
                    likeness=None
                    if judged.counted.likeness is None
                    else judged.counted.likeness.shown(shown, work.area),
                    spotted=_spotted_there(judged, shown),
                    worst=[
                        spot.moved(work.area.left - shown.left, work.area.top - shown.top)
                        for spot in judged.counted.worst
                        if shown.holds(spot.x_px, spot.y_px)
                    ],
                ),
            )
    finally:
        sheet.unlink(missing_ok=True)


def _spotted_there(judged: JudgedFilm, shown: Box) -> SpottedOut:
    """The mending of the joined film with only the places on this one, counted from its art."""
    mended, area = judged.counted.spotted, judged.work.area
    x, y = shown.left - area.left, shown.top - area.top
    return replace(
        mended,
        places=[
            (column - x, row - y)
            for column, row in mended.places
            if shown.holds(column + area.left, row + area.top)
        ],
    )


def finished_film(
    judged: JudgedFilm,
    suffix: str,
    page: int | None,
    trial: TrialReport | None = None,
    *,
    told: Mapping[str, Any] | None = None,
) -> FinishedFilm:
    """Mark, write, read back and record judged bits.

    Parameters
    ----------
    page : counted from 1, None where the art has one page only
    told : what the record tells besides
    """
    work, bits = judged.work, judged.bits
    work.request.progress(Step.WRITING, Step.WRITING.begins)
    draw_marks(work, bits, label_lines(work, page=page, trial=trial))
    words = proof_words(work, judged.counted, page=page, trial=trial)
    draw = partial(draw_proof, work, bits, judged.counted, suffix, words)
    # All of these only read the bits, so they go on side by side.
    with SpeakingPool(1) as aside:
        written, (proof,) = write_beside([draw], aside, work, bits, suffix)
        for kind, path in written.items():
            verify_film(path, bits, format=kind, dpi=work.profile.dpi, threads=work.request.threads)
    files = asked_for(work, written)
    digests = {kind: sha256_of(path) for kind, path in files.items()}
    record = film_record(work, judged.counted, digests)
    if trial is not None:
        record["trial"] = trial.record
    record |= told or {}
    return FinishedFilm(suffix, files, proof.result(), record, print_work(work, written))


def draw_marks(work: FilmInWork, bits: BitSheet, lines: list[str]) -> None:
    """Put label, rulers and patches on the sheet, mirrored with it."""
    mirror, tile = work.profile.film.mirror, work.tile

    def screen_flat(box: Box, tone: float) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
        assert tile is not None
        place = box.mirrored(bits.width) if mirror else box
        flat = np.full((box.height, box.width), round(tone * FULL), np.uint16)
        dots = Screener(tile, column=place.left, width=place.width).cut(flat, row=place.top)
        return dots[:, ::-1] if mirror else dots

    furniture = draw_furniture(
        work.profile, work.layout, lines=lines, screen_flat=None if tile is None else screen_flat
    )
    for mark in furniture.marks:
        draw_mark(bits, mark, mirror=mirror)
    if furniture.left_off:
        work.remind(MakeNote.NO_ROOM.say(marks=and_list(furniture.left_off)))
    if work.profile.film.negative:
        work.remind(MakeNote.NEGATIVE.say())


def draw_mark(bits: BitSheet, mark: Mark, *, mirror: bool) -> None:
    """Add the ink of a mark to the sheet."""
    box, ink = mark.box, mark.bits
    if mirror:
        box, ink = box.mirrored(bits.width), ink[:, ::-1]
    area = AreaOfSheet(bits, box)
    for first in range(0, box.height, _ROWS_AT_ONCE):
        part = ink[first : first + _ROWS_AT_ONCE]
        area.write(first, area.read(first, first + len(part)) | part)


def write_beside(
    draws: Sequence[Callable[[], Path]],
    aside: SpeakingPool,
    work: FilmInWork,
    bits: BitSheet,
    suffix: str,
) -> tuple[dict[Format, Path], list[Future[Path]]]:
    """What :func:`write_formats` writes, and the proofs, which are drawn meanwhile.

    Where the loops in C were not built, a fork of this process codes, and for that it must have one
    thread only (:mod:`filmhand.film.fork_pool`); so there the proofs come after.
    """
    if compiled() is None:
        written = write_formats(work, bits, suffix)
        return written, [aside.submit(draw) for draw in draws]
    proofs = [aside.submit(draw) for draw in draws]
    try:
        return write_formats(work, bits, suffix), proofs
    except BaseException:  # to be told at once
        for proof in proofs:
            proof.cancel()
        raise


def write_formats(work: FilmInWork, bits: BitSheet, suffix: str) -> dict[Format, Path]:
    """The film in every format asked for, and in those that a printer takes if one is named."""
    kinds = dict.fromkeys((*work.profile.write, *(DOCUMENTS if _goes_to_printer(work) else ())))
    files = {kind: work.request.out / f"film{suffix}{kind.suffix}" for kind in kinds}
    write_films(bits, files, dpi=work.profile.dpi, threads=work.request.threads)
    return files


def asked_for(work: FilmInWork, written: dict[Format, Path]) -> dict[Format, Path]:
    """Of the files written those that the profile asks for."""
    return {kind: written[kind] for kind in work.profile.write}


def print_work(work: FilmInWork, written: dict[Format, Path]) -> PrintWork | None:
    """What the printer gets of the film; None where the profile names none."""
    if not _goes_to_printer(work):
        return None
    profile, wishes = work.profile, work.profile.print
    assert wishes is not None
    return PrintWork(
        documents={kind: written[kind] for kind in DOCUMENTS},
        sheets=profile.film.stack * wishes.copies * work.ticket.copies,
        size=(profile.sheet.width_mm100, profile.sheet.height_mm100),
        margin=profile.margin.mm100,
        dpi=(profile.dpi.x, profile.dpi.y),
    )


def _goes_to_printer(work: FilmInWork) -> bool:
    wishes = work.profile.print
    return work.request.documents and wishes is not None and wishes.printer is not None


def draw_proof(
    work: FilmInWork, bits: BitSheet, counted: CountedFilm, suffix: str, words: ProofWords
) -> Path:
    """The proof of one art on its sheet."""
    path = work.request.out / f"proof{suffix}.jpg"
    area = work.area
    places = [(x + area.left, y + area.top) for x, y in counted.spotted.places]
    worst = [(spot.x_px, spot.y_px) for spot in counted.worst]
    copy, shifts = work.copies.copy, work.copies.shifts
    write_proof(
        bits,
        path,
        resolution=work.profile.acetate_dpi,
        mended=places,
        circled=worst,
        conditions=conditions_of(work.profile),
        art=area,
        cleared=[
            (x + across, y + down) for x, y in work.cleared.islands for across, down in shifts
        ],
        bared=[
            (Box(copy.left + across, copy.top + down, copy.width, copy.height), shown)
            for shown in (work.cleared.floor, work.cleared.masked)
            if shown is not None
            for across, down in shifts
        ],
        gone=() if counted.likeness is None else counted.likeness.not_shown,
        detail_at=worst[0] if worst else None,
        words=words,
        sheet=work.profile.sheet,
    )
    return path
