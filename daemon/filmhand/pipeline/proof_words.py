"""What a proof says of its film, in words for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from filmhand.mesh.checks import Verdict
from filmhand.page.proof_page import ProofWords
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.label import side_up
from filmhand.pipeline.printer_films.printer_words import dpi_words
from filmhand.pipeline.proof_facts import ProofCount, ProofFact
from filmhand.pipeline.readings.measured_press import held_notes
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.pipeline.verdict.told_places import proof_turn
from filmhand.profile.terms import Treat
from filmhand.sheet.layout import turn_size
from filmhand.sheet.lettering import SEPARATOR
from filmhand.units import size_text

if TYPE_CHECKING:
    from filmhand.pipeline.trial.trial_sheet import TrialReport

_MOST_WARNINGS = 4


def proof_words(
    work: FilmInWork,
    counted: CountedFilm,
    *,
    page: int | None = None,
    trial: TrialReport | None = None,
) -> ProofWords:
    """Name, facts and warnings of one film.

    ``page`` is counted from 1, None where the art has one page only.
    """
    title = work.request.shown
    if page is not None:
        title = ProofFact.PAGE.say(name=title, page=page)
    if work.ticket.for_whom:
        title = ProofFact.FOR.say(told=title, whom=work.ticket.for_whom)
    if work.of_set is not None:
        film = work.of_set
        title = ProofFact.INK.say(told=title, ink=film.ink.name, k=film.place, of=film.of)
    if work.layout.part is not None:
        title = ProofFact.PART.say(told=title, part=work.layout.part)
    facts = [_size(work), _screen(work) if trial is None else _trial(work, trial), _mesh(work)]
    profile, side = work.profile, side_up(work.profile).replace(SEPARATOR, "; ")
    facts.append(ProofFact.PROFILE.say(profile=profile.name, dpi=dpi_words(profile), side=side))
    if work.layout.turned:
        left = profile.film.mirror
        said = ProofFact.LIES_TURNED_LEFT if left else ProofFact.LIES_TURNED_RIGHT
        facts.append(said.say())
    if work.screen is not None:
        facts += held_notes(profile)
    facts += _mended(work, counted)
    facts += work.reminders
    return ProofWords(
        title, tuple(facts), tuple(_warnings(work)), proof_turn(work.profile, work.layout)
    )


def _size(work: FilmInWork) -> str:
    def lengths(mm: tuple[float, float]) -> str:
        return size_text(mm, work.profile.sheet, decimals=1)

    # As the proof shows it, upright.
    size = lengths(turn_size(work.layout.art_mm, work.layout.turned))
    sheet, grid = lengths(work.profile.sheet.mm), work.layout.grid
    if grid is None:
        return ProofFact.ART.say(size=size, sheet=sheet)
    return ProofFact.COPIES.say(columns=grid.columns, rows=grid.rows, size=size, sheet=sheet)


def _screen(work: FilmInWork) -> str:
    screen, threshold = work.screen, f"{work.cut_at:g}"
    if screen is None:
        return ProofFact.LINE_ART.say(threshold=threshold)
    mixed, angle = work.treated is Treat.MIXED, screen.angle_made()
    if angle is None:
        said = ProofFact.MIXED_WITHOUT_ANGLE if mixed else ProofFact.SCREEN_WITHOUT_ANGLE
    else:
        said = ProofFact.MIXED if mixed else ProofFact.SCREEN
    own = screen.dot.kind.own
    return said.say(
        lpi=f"{round(screen.grid.lpi, 1):g}",
        angle="" if angle is None else f"{round(angle, 1):g}",
        dots=ProofFact.OWN_DOT.say() if own else ProofFact.DOTS.say(shape=screen.dot),
        threshold=threshold,
    )


def _trial(work: FilmInWork, trial: TrialReport) -> str:
    size = size_text(trial.shown_mm, work.profile.sheet, decimals=1)
    return ProofCount.TRIAL.say(trial.count, size=size)


def _mesh(work: FilmInWork) -> str:
    mesh = work.profile.mesh
    if mesh is None:
        return ProofFact.NO_MESH.say()
    return (ProofFact.MESH_ASSUMED if mesh.assumed else ProofFact.MESH).say(
        inch=mesh.label.split()[0],
        threads=f"{mesh.threads_per_cm:g}",
        thread=f"{mesh.thread_um:g}",
        pair=mesh.pair,
    )


def _mended(work: FilmInWork, counted: CountedFilm) -> list[str]:
    """What was taken off or put on, beside how much there is."""
    told = []
    spotted = counted.spotted
    if spotted.count and counted.dots is not None:
        share = _share(spotted.pixels / max(1, counted.dots.pixels) * 100)
        on_all = work.layout.part is not None
        said = ProofCount.SPOTTED_OUT_ON_ALL if on_all else ProofCount.SPOTTED_OUT
        told.append(said.say(spotted.count, share=share))
    cleared = work.cleared.record()
    for key, fact in (
        ("floor_pct", ProofFact.CLEARED_BACKGROUND),
        ("mask_pct", ProofFact.CLEARED_BY_MASK),
    ):
        if cleared[key]:
            told.append(fact.say(share=_share(cleared[key])))
    if cleared["islands"]:
        told.append(ProofCount.ISLANDS.say(cleared["islands"]))
    return told


def _share(percent: float) -> str:
    if percent < 0.01:
        return ProofFact.LESS_THAN.say(percent="0.01")
    return ProofFact.PERCENT.say(percent=f"{percent:.2g}")


def _warnings(work: FilmInWork) -> list[str]:
    told = []
    if any(check.verdict is Verdict.FAIL for check in work.checks):
        told.append(ProofFact.MADE_ANYWAY.say())
    told += [warned.on_proof for warned in work.warned[:_MOST_WARNINGS]]
    more = len(work.warned) - _MOST_WARNINGS
    if more > 0:
        told.append(ProofCount.MORE_WARNINGS.say(more))
    return told
