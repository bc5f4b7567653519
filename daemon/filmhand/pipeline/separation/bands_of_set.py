"""The bands that the screens of a set make with each other, on the record of each film."""

from __future__ import annotations

from collections.abc import Sequence

from filmhand.film.bits import BitSheet
from filmhand.ink.mixing import PrintModel
from filmhand.language import and_list
from filmhand.mesh.checks import CheckName, Verdict, check_moire
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.render.render_words import MoireWord
from filmhand.pipeline.render.screen_moire import film_strength, sight_of
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.separation.moire_advice import TurnedScreen, turn_that_passes
from filmhand.pipeline.separation.moire_of_films import ROSETTE_CELLS, FilmScreen, moire_of_films
from filmhand.pipeline.separation.set_words import SetNote
from filmhand.pipeline.verdict.judge import check_sentence
from filmhand.pipeline.verdict.refusals import refuse_on
from filmhand.screen.grain import Grain
from filmhand.units import length_text


def judge_bands(works: Sequence[FilmInWork], sheets: Sequence[BitSheet], model: PrintModel) -> None:
    """The bands that screens make with each other, on the record of each film."""
    profile, layout = works[0].profile, works[0].layout
    screens: list[FilmScreen | None] = []
    for work, bits in zip(works, sheets, strict=True):
        if work.screen is None or isinstance(work.screen.grid, Grain):
            screens.append(None)
            continue
        vectors = work.screen.grid.frequencies()
        strength = film_strength(AreaOfSheet(bits, work.area), vectors, profile.acetate_dpi)
        lines = work.screen.dot.kind.row.lines
        screens.append(FilmScreen(vectors[1:] if lines else vectors, strength))
    limits = profile.verdict.moire
    sight = sight_of(limits, max(layout.art_mm))
    bands = moire_of_films(screens, model, sight, most=1, shortest=ROSETTE_CELLS)
    detail = ""
    if bands:
        names = [work.of_set.ink.name for work in works if work.of_set is not None]
        said = MoireWord.BANDS.say(
            period=length_text(bands[0].period_mm, profile.sheet, decimals=1),
            change=f"{bands[0].strength * 100:.1f}",
            distance=f"{limits.distance_mm / 1000:g} m",
        )
        between = and_list([names[place] for place in bands[0].films])
        detail = SetNote.BANDS_OF.say(bands=said, inks=between)
    check = check_moire(
        bands[0].visibility if bands else 0.0,
        (limits.warn, limits.fail),
        refuse=str(profile.limits.moire) == "refuse",
        detail=detail,
        name=CheckName.MOIRE_BETWEEN_FILMS,
    )
    for work in works:
        work.checks.append(check)
        if check.verdict is not Verdict.PASS:
            work.warn(check_sentence(check, work.profile.sheet))
    if check.verdict is not Verdict.PASS:
        better = turn_that_passes(screens, model, sight, bands[0], limits.warn)
        for work in works:
            work.remind(_advice(works, better))
    if not works[0].ticket.anyway:
        refuse_on([check], profile, layout)


def _advice(works: Sequence[FilmInWork], better: TurnedScreen | None) -> str:
    """What would show less bands."""
    if better is None:
        return SetNote.FINER_WOULD_HELP.say()
    work = works[better.film]
    assert work.of_set is not None and work.screen is not None
    around = 180 if work.screen.dot.kind.row.lines else 90
    angle = (work.screen.angle_asked + better.turn) % around
    return SetNote.ANGLE_WOULD_HELP.say(ink=work.of_set.ink.name, angle=f"{angle:g}")
