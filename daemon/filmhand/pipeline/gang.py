"""Several art files to one film: each judged for itself on its own part, all written together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from filmhand.digest import sha256_of
from filmhand.errors import Refused
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.finished import (
    asked_for,
    draw_mark,
    draw_marks,
    draw_proof,
    print_work,
    write_beside,
)
from filmhand.pipeline.judged import JudgedFilm, judged_bits, open_page
from filmhand.pipeline.label import art_lines, sheet_lines
from filmhand.pipeline.make import chosen_pages, wished
from filmhand.pipeline.make_words import SharesNoSheet
from filmhand.pipeline.opening import screen_and_tile
from filmhand.pipeline.proof_words import proof_words
from filmhand.pipeline.record import film_record
from filmhand.pipeline.render.background import ClearedBackground
from filmhand.pipeline.render.strips import STRIP, AreaOfSheet
from filmhand.pipeline.verdict.refusals import CheckFailed
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile
from filmhand.profile.ticket.gang import GangWishes, goes_alone
from filmhand.profile.ticket.ticket import Ticket
from filmhand.profile.ticket.wishes import as_settings
from filmhand.request import ArtSize, FinishedFilm, GangResult, JobRequest, SheetSpace
from filmhand.sheet.layout import Box, sheet_boxes
from filmhand.sheet.packing import Cell, around, cells_of, fits_on_sheet, label_mark
from filmhand.speaking_pool import SpeakingPool
from filmhand.units import MM_PER_INCH
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class _Member:
    """One art that may share a sheet."""

    number: int
    wished: WishedPage
    size: ArtSize


@dataclass(frozen=True, slots=True)
class _PlacedArt:
    """One art that is on the sheet; of ``judged`` the bits are gone."""

    member: _Member
    cell: Cell
    judged: JudgedFilm

    @property
    def work(self) -> FilmInWork:
        return self.judged.work


def make_gang(requests: Sequence[JobRequest]) -> GangResult:
    """One film of as many of the art files as fit, or word that they go alone.

    Each is opened twice, once for its size. Where one is refused when it has been laid down, the
    others are laid out anew without it.

    Parameters
    ----------
    requests : one for each art, in the order of their coming, all of one profile; files go to the
        ``out`` of the first

    Raises
    ------
    OSError
        where the disk or the rights fail
    """
    first = requests[0]
    profile, result = first.profile, GangResult()
    gang = profile.gang or GangWishes(wait=0.0)
    members: dict[int, _Member] = {}
    for number, request in enumerate(requests):
        try:
            found = _member(number, request)
        except Refused as refused:
            result.refused[number] = refused
            continue
        if isinstance(found, str):
            result.alone[number] = found
        else:
            members[number] = found
    sheet = sheet_boxes(profile)[0]
    path = first.scratch / "sheet"
    while len(members) > 1:
        waiting = list(members.values())
        chosen, cells = cells_of(profile, [one.size for one in waiting], gap_mm=gang.gap_mm)
        together = [waiting[n] for n in chosen]
        if len(together) < 2:
            break
        # Emptied at each round, and left for whoever gave the scratch folder.
        with BitSheet.create(path, width=sheet.width, height=sheet.height) as bits:
            placed, refused_now = _lay_down(together, cells, bits)
            if not refused_now:
                result.left = [one.number for one in waiting if one not in together]
                result.placed = _finished(placed, profile, bits)
                return result
        result.refused |= refused_now
        for number in refused_now:
            del members[number]
    if members:
        number, *result.left = members
        result.alone[number] = SharesNoSheet.NOTHING_FITS.say()
    return result


def find_room(requests: Sequence[JobRequest], known: Mapping[int, ArtSize | None]) -> SheetSpace:
    """The size of each art on film, and who of them finds room on one sheet.

    Parameters
    ----------
    requests : as for :func:`make_gang`
    known : sizes by number; only the files of the others are opened
    """
    profile = requests[0].profile
    sizes = [
        known[number] if number in known else _size_to_share(number, request)
        for number, request in enumerate(requests)
    ]
    there = [(number, size) for number, size in enumerate(sizes) if size is not None]
    gap_mm = profile.gang.gap_mm if profile.gang is not None else 0.0
    chosen, _ = cells_of(profile, [size for _, size in there], gap_mm=gap_mm)
    return SheetSpace(sizes, [there[n][0] for n in chosen])


def _size_to_share(number: int, request: JobRequest) -> tuple[int, int] | None:
    try:
        found = _member(number, request)
    except Refused:
        return None
    return None if isinstance(found, str) else found.size


def _member(number: int, request: JobRequest) -> _Member | str:
    """The member, or why it goes alone."""
    profile, ticket = wished(request)
    asked = {**as_settings(ticket.wishes), **ticket.raw}
    why = goes_alone(asked)
    if why:
        return why
    if profile.art.repeat is not None:
        return SharesNoSheet.REPEATED.say()
    count, pages = chosen_pages(request, profile, ticket)
    if count > 1:
        return SharesNoSheet.PAGES.say()
    page = WishedPage(request, profile, ticket, sha256_of(request.art), *pages)
    art = open_page(page)[0].layout.art
    size = art.width, art.height
    if not fits_on_sheet(request.profile, size):
        return SharesNoSheet.TOO_LARGE.say()
    return _Member(number, page, size)


def _lay_down(
    members: Sequence[_Member], cells: Sequence[Cell], sheet: BitSheet
) -> tuple[list[_PlacedArt], dict[int, Refused]]:
    """Put each art that passes onto the sheet; those that do not, with their refusals."""
    placed: list[_PlacedArt] = []
    refused: dict[int, Refused] = {}
    for member, cell in zip(members, cells, strict=True):
        bits = member.wished.request.scratch / f"bits-{member.number}"
        try:
            with judged_bits(member.wished, bits, at=cell.art) as judged:
                _copy(judged.bits, sheet, judged.work.area)
                judged.work.tile = None  # one in the memory at a time
                placed.append(_PlacedArt(member, cell, judged))
        except CheckFailed as failed:
            from filmhand.pipeline.verdict.remedies import offers_that_pass  # noqa: PLC0415

            offers = offers_that_pass(member.wished, failed)
            refused[member.number] = failed.with_offers(offers)
        except Refused as known:
            refused[member.number] = known
    return placed, refused


def _copy(source: BitSheet, target: BitSheet, area: Box) -> None:
    """The bits of the area, which are the ones that were judged."""
    one, other = AreaOfSheet(source, area), AreaOfSheet(target, area)
    for first in range(0, area.height, STRIP):
        stop = min(first + STRIP, area.height)
        other.write(first, one.read(first, stop))


def _finished(
    placed: Sequence[_PlacedArt], profile: Profile, bits: BitSheet
) -> dict[int, FinishedFilm]:
    """Label, mark, write, read back and record the sheet."""
    whole = _whole_sheet(placed, profile)
    names = [one.work.request.shown for one in placed]
    draw_marks(whole, bits, sheet_lines(profile, names))
    for one in placed:  # before their proofs, on which it stands too
        for said in whole.reminders:
            one.work.remind(said)
    for one in placed:
        if one.cell.label is not None:
            lines = art_lines(one.work)
            mark = label_mark(one.cell, lines, profile.acetate_dpi)
            draw_mark(bits, mark, mirror=profile.film.mirror)
    threads = whole.request.threads
    draws = [
        partial(
            draw_proof,
            _proof_beside(one, whole),
            bits,
            one.judged.counted,
            f"-{number}",
            proof_words(one.work, one.judged.counted),
        )
        for number, one in enumerate(placed)
    ]
    with SpeakingPool(1) as aside:
        written, proofs = write_beside(draws, aside, whole, bits, "")
        for kind, path in written.items():
            verify_film(path, bits, format=kind, dpi=profile.dpi, threads=threads)
    files, printing = asked_for(whole, written), print_work(whole, written)
    digests = {kind: sha256_of(path) for kind, path in files.items()}
    films = {}
    for one, proof in zip(placed, proofs, strict=True):
        record = _record(one, placed, digests)
        films[one.member.number] = FinishedFilm("", files, proof.result(), record, printing)
    return films


def _proof_beside(one: _PlacedArt, whole: FilmInWork) -> FilmInWork:
    """The art's work, with its proof where the film goes."""
    return replace(one.work, request=replace(one.work.request, out=whole.request.out))


def _whole_sheet(placed: Sequence[_PlacedArt], profile: Profile) -> FilmInWork:
    """The sheet as if all that lies on it were one art."""
    sheet, printable, zone, _ = sheet_boxes(profile)
    first = placed[0].work
    art = around([one.cell for one in placed])
    layout = replace(first.layout, sheet=sheet, printable=printable, zone=zone, art=art)
    return replace(
        first,
        profile=profile,
        ticket=Ticket(),
        layout=layout,
        # That of the step wedge, which is the profile's own.
        tile=screen_and_tile(profile, first.request.tiles)[1] if profile.marks.steps else None,
        notes=[],
        warned=[],
        reminders=[],
        checks=[],
        cleared=ClearedBackground(),
    )


def _record(
    one: _PlacedArt, placed: Sequence[_PlacedArt], digests: dict[Format, str]
) -> dict[str, Any]:
    """The art's record; the shared film's name is filled in on publishing."""
    record = film_record(one.work, one.judged.counted, digests)
    area, dpi = one.work.area, one.work.profile.acetate_dpi
    record["gang"] = {
        "film": None,
        "x_mm": round(area.left / dpi.x * MM_PER_INCH, 3),
        "y_mm": round(area.top / dpi.y * MM_PER_INCH, 3),
        "with": [other.work.request.name for other in placed if other is not one],
    }
    return record
