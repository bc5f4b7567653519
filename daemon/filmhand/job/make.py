"""One art to its films: read, plan, lay down, mend and judge, mark, write, read back, record."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from filmhand.art.judge import judge
from filmhand.art.read import Art, count_pages, open_art
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.job.develop import lay_down, open_mask
from filmhand.job.inspect import Counted, census_of
from filmhand.job.label import label_lines
from filmhand.job.lay_down import AreaOfSheet
from filmhand.job.record import film_record, source_of
from filmhand.job.request import FinishedFilm, JobRequest, JobResult
from filmhand.job.screen_plan import ScreenPlan, plan_screen
from filmhand.job.tiles import tile_of
from filmhand.job.verdict import judge_film, judge_plan, sizes_to_mend
from filmhand.job.work import Work
from filmhand.page.proof import write_proof
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.profile.ticket import Ticket, load_ticket
from filmhand.screen.apply import Screener
from filmhand.screen.tile import Tile
from filmhand.sheet.layout import Box, plan_sheet
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
    with ThreadPoolExecutor(1) as aside:
        # The screen follows from the profile alone, so it is made while the art is read.
        ready = aside.submit(_screen_and_tile, profile, request.tiles)
        art = open_art(
            request.art,
            name=request.name,
            limits=profile.limits,
            channel=profile.art.channel,
            page=page,
        )
        screen, tile = ready.result()
    notes = list(art.notes)
    treated = _treatment(art, profile, notes)
    layout = plan_sheet(profile, art_px=(art.width_px, art.height_px), art_ppi=art.ppi)
    work = Work(request, profile, ticket, layout, treated, notes)
    if treated is Treat.LINE:
        screen = tile = None
    judge_plan(work, screen)
    source = source_of(work, art, art_sha256)
    barred = open_mask(work, art)
    sheet = request.scratch / f"bits{suffix}"
    with BitSheet.create(sheet, width=layout.sheet.width, height=layout.sheet.height) as bits:
        census = census_of(work.area, smallest=sizes_to_mend(work, screen), barred=barred)
        lay_down(work, art, bits, tile=tile, barred=barred, census=census)
        del art
        counted = judge_film(work, bits, screen=screen, barred=barred, census=census)
        lines = label_lines(work, screen=screen, art_sha256=art_sha256, suffix=suffix)
        _draw_marks(work, bits, lines, tile)
        files = _write(work, bits, suffix)
        # Proofing and reading back only read the bits, so they go on side by side.
        with ThreadPoolExecutor(1) as aside:
            proof = aside.submit(_proof, work, bits, counted, suffix)
            for kind, path in files.items():
                verify_film(path, bits, format=kind, dpi=profile.dpi, threads=request.threads)
    sheet.unlink()
    digests = {kind: _sha256(path) for kind, path in files.items()}
    record = film_record(work, screen=screen, source=source, sha256=digests)
    return FinishedFilm(suffix, files, proof.result(), record)


def _screen_and_tile(profile: Profile, tiles: Path | None) -> tuple[ScreenPlan | None, Tile | None]:
    if profile.art.treat is Treat.LINE:
        return None, None
    screen = plan_screen(profile)
    return screen, tile_of(screen, tiles)


def _treatment(art: Art, profile: Profile, notes: list[str]) -> Treat:
    if profile.art.treat is not Treat.AUTO:
        return profile.art.treat
    verdict = judge(art.coded, drawn=art.drawn)
    notes.append(verdict.why)
    return Treat(verdict.treat)


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
    write_proof(bits, path, resolution=work.profile.dpi, ringed=places)
    return path


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
