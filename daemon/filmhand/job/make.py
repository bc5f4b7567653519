"""One art to its films: read, plan, lay down, mend and judge, mark, write, read back, record."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from filmhand.art.read import count_pages
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.job.advice import CheckFailed
from filmhand.job.flats import conditions_of
from filmhand.job.inspect import Counted
from filmhand.job.judged import Judged, judged_bits
from filmhand.job.label import label_lines
from filmhand.job.lay_down import AreaOfSheet
from filmhand.job.record import film_record
from filmhand.job.remedy import offers_that_pass
from filmhand.job.request import FinishedFilm, JobRequest, JobResult
from filmhand.job.work import Work
from filmhand.page.proof import write_proof
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.profile.ticket import Ticket, load_ticket
from filmhand.screen.apply import Screener
from filmhand.screen.tile import Tile
from filmhand.sheet.layout import Box
from filmhand.sheet.marks import Mark, draw_furniture
from filmhand.tone import FULL

_ROWS_AT_ONCE = 128  # the rulers are high, and their rows are those of the whole sheet


def make_films(request: JobRequest) -> JobResult:
    """All films of one art, or a refusal.

    Raises
    ------
    Refused
        where the art gets no film; nothing in ``request.out`` counts then
    OSError
        where the disk or the rights fail
    """
    profile, ticket = request.profile, Ticket()
    if request.ticket is not None:
        profile, ticket = load_ticket(
            request.ticket, profile=profile, file=request.name + ".ticket.yaml"
        )
    pages = count_pages(request.art, name=request.name, limits=profile.limits)
    digest = _sha256(request.art)
    return JobResult(
        [
            _make_page(request, profile, ticket, digest, page=page, pages=pages)
            for page in range(pages)
        ]
    )


def _make_page(
    request: JobRequest, profile: Profile, ticket: Ticket, art_sha256: str, *, page: int, pages: int
) -> FinishedFilm:
    suffix = "" if pages == 1 else f"-p{page + 1:02d}"
    sheet = request.scratch / f"bits{suffix}"
    try:
        with judged_bits(request, profile, ticket, art_sha256, page=page, sheet=sheet) as judged:
            return _finished(judged, art_sha256, suffix)
    except CheckFailed as failed:
        offers = offers_that_pass(request, failed, profile, ticket, page=page)
        raise failed.with_offers(offers) from None


def _finished(judged: Judged, art_sha256: str, suffix: str) -> FinishedFilm:
    """Mark, write, read back and record judged bits."""
    work, bits, screen = judged.work, judged.bits, judged.screen
    lines = label_lines(work, screen=screen, art_sha256=art_sha256, suffix=suffix)
    _draw_marks(work, bits, lines, judged.tile)
    files = _write(work, bits, suffix)
    # Proofing and reading back only read the bits, so they go on side by side.
    with ThreadPoolExecutor(1) as aside:
        proof = aside.submit(_proof, work, bits, judged.counted, suffix)
        for kind, path in files.items():
            verify_film(path, bits, format=kind, dpi=work.profile.dpi, threads=work.request.threads)
    digests = {kind: _sha256(path) for kind, path in files.items()}
    record = film_record(
        work, screen=screen, counted=judged.counted, source=judged.source, sha256=digests
    )
    return FinishedFilm(suffix, files, proof.result(), record)


def _draw_marks(work: Work, bits: BitSheet, lines: list[str], tile: Tile | None) -> None:
    """Put label, rulers and patches on the sheet, mirrored with it."""
    mirror = work.profile.film.mirror

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
        _draw(bits, mark, mirror=mirror)
    if furniture.left_off:
        work.notes.append(
            "There was no room on the sheet for " + ", ".join(furniture.left_off) + "."
        )
    if work.profile.film.negative:
        work.notes.append("Negative: beyond the art the film stays clear and wants covering.")


def _draw(bits: BitSheet, mark: Mark, *, mirror: bool) -> None:
    box, ink = mark.box, mark.bits
    if mirror:
        box, ink = box.mirrored(bits.width), ink[:, ::-1]
    area = AreaOfSheet(bits, box)
    for first in range(0, box.height, _ROWS_AT_ONCE):
        part = ink[first : first + _ROWS_AT_ONCE]
        area.write(first, area.read(first, first + len(part)) | part)


def _write(work: Work, bits: BitSheet, suffix: str) -> dict[Format, Path]:
    """The film in every format asked for."""
    files = {kind: work.request.out / f"film{suffix}{kind.suffix}" for kind in work.profile.write}
    write_films(bits, files, dpi=work.profile.dpi, threads=work.request.threads)
    return files


def _proof(work: Work, bits: BitSheet, counted: Counted, suffix: str) -> Path:
    path = work.request.out / f"proof{suffix}.jpg"
    area = work.area
    places = [(x + area.left, y + area.top) for x, y in counted.mended.places]
    worst = [(spot.x_px, spot.y_px) for spot in counted.worst]
    write_proof(
        bits,
        path,
        resolution=work.profile.dpi,
        ringed=places,
        circled=worst,
        conditions=conditions_of(work.profile),
        art=area,
        # Line art has no middle tones to be busy in.
        cleared=work.cleared.islands,
        bared=[shown for shown in (work.cleared.floor, work.cleared.masked) if shown is not None],
        detail_at=worst[0] if worst and work.treated is Treat.LINE else None,
    )
    return path


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
