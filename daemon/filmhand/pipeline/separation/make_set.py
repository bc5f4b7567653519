"""One page of art to the films of its inks: read, separate, judge, mark, write, record."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from filmhand.arrays import UInt8Array
from filmhand.ink.cielab import lab_to_srgb
from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.page.proof_page import ProofWords
from filmhand.page.set_proof import SmallFilm, small_light, write_set_proof
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.finished import finished_film
from filmhand.pipeline.proof_words import proof_words
from filmhand.pipeline.separation.color_page import open_color_page
from filmhand.pipeline.separation.judged_set import FilmFailed, JudgedSet, judged_set
from filmhand.pipeline.separation.planning.set_plan import separation_record
from filmhand.pipeline.separation.planning.wanted_inks import known_inks
from filmhand.pipeline.separation.plates.own_plates import pages_for
from filmhand.pipeline.separation.set_words import SetCount, SetFact
from filmhand.pipeline.wished_page import WishedPage, page_number
from filmhand.profile.model import Profile
from filmhand.request import FinishedFilm, FinishedSet, JobRequest

_MOST_WARNINGS = 6


def pages_of_sets(
    request: JobRequest, profile: Profile, count: int, pages: list[int]
) -> tuple[int, list[int]]:
    """How many pages the art has, and which become sets of films, from 0.

    Pages that are named after inks are the plates of one picture, and count as one.

    Parameters
    ----------
    count, pages : as for films without inks
    """
    known = known_inks(profile)
    if known is None or len(pages) < 2:
        return count, pages
    names = [ink.name for ink in known.wishes]
    if pages_for(request.art, name=request.name, limits=profile.limits, inks=names):
        return 1, pages[:1]
    return count, pages


def make_set(wished: WishedPage, pages: int) -> tuple[list[FinishedFilm], FinishedSet]:
    """The films of one page, one an ink in print order, and the proof that shows all of them.

    Parameters
    ----------
    pages : how many the art has

    Raises
    ------
    Refused
        where any film cannot be made; the set then has none
    """
    number, suffix = page_number(wished, pages)
    page = open_color_page(wished)
    try:
        with judged_set(wished, page, wished.request.scratch / f"bits{suffix}") as judged:
            return _finished(judged, wished.request.out, suffix, number)
    except FilmFailed as failed:
        from filmhand.pipeline.separation.set_remedies import refusal_with_offers  # noqa: PLC0415

        del page
        # The frames of what was raised hold all of the page, and it is opened again for each try.
        failed.__traceback__ = failed.failed.__traceback__ = None
        raise refusal_with_offers(wished, failed) from None


def _finished(
    judged: JudgedSet, out: Path, suffix: str, number: int | None
) -> tuple[list[FinishedFilm], FinishedSet]:
    separation = separation_record(judged.wanted.mode, judged.print.difference)
    made = []
    for film, plan in zip(judged.films, judged.plan.films, strict=True):
        told = {"set": plan.record(judged.plan.id), "separation": separation}
        made.append(finished_film(film, suffix + plan.name_end, number, told=told))
    proof = out / f"set-proof{suffix}.jpg"
    _write_proof(judged, proof, number)
    return made, FinishedSet(suffix, proof)


def _write_proof(judged: JudgedSet, path: Path, number: int | None) -> None:
    words = _words(judged, number)
    first = judged.films[0].work
    of, resolution = len(judged.films), first.profile.acetate_dpi
    films = [
        SmallFilm(
            plan.place,
            of,
            plan.ink.name,
            plan.ink.color,
            small_light(film.bits, resolution, of=of, sideways=words.turn != 0),
        )
        for film, plan in zip(judged.films, judged.plan.films, strict=True)
    ]
    printed: UInt8Array = np.rint(lab_to_srgb(judged.picture.printed) * 255).astype(np.uint8)
    write_set_proof(path, films, printed, size_mm=first.layout.art_mm, words=words)


def _words(judged: JudgedSet, number: int | None) -> ProofWords:
    """Title, facts and warnings of all films together."""
    first = judged.films[0]
    # What was mended differs from film to film; their own proofs tell it.
    counted = replace(first.counted, spotted=SpottedOut())
    alone = proof_words(replace(first.work, of_set=None), counted, page=number)
    size, _, _, *others = alone.facts
    screens = ", ".join(_screen(film.work) for film in judged.films)
    facts = (
        size,
        SetCount.FILMS.say(len(judged.films), screens=screens),
        SetFact.FAR.say(mean=f"{judged.print.difference.mean:.1f}"),
        *others,
    )
    told: dict[str, list[str]] = {}
    for film, plan in zip(judged.films, judged.plan.films, strict=True):
        for warned in film.work.warned:
            told.setdefault(warned.on_proof, []).append(plan.ink.name)
    warnings = [
        said if len(names) == len(judged.films) else f"{', '.join(names)}: {said}"
        for said, names in told.items()
    ]
    return ProofWords(alone.title, facts, tuple(warnings[:_MOST_WARNINGS]), alone.turn)


def _screen(work: FilmInWork) -> str:
    assert work.of_set is not None
    ink, screen = work.of_set.ink.name, work.screen
    if screen is None:
        return SetFact.LINE.say(ink=ink)
    lpi, angle = f"{round(screen.grid.lpi, 1):g}", screen.angle_made()
    if angle is None:
        return SetFact.SCREEN_WITHOUT_ANGLE.say(ink=ink, lpi=lpi)
    return SetFact.SCREEN.say(ink=ink, lpi=lpi, angle=f"{round(angle, 1):g}")
