"""The words on the film."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from filmhand import __version__
from filmhand.mesh.checks import Verdict
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.film_language import in_film_language
from filmhand.pipeline.label_words import LabelCount, LabelWord
from filmhand.pipeline.printer_films.printer_words import dpi_words
from filmhand.pipeline.verdict.judge import warnings
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.sheet.lettering import SEPARATOR
from filmhand.units import size_text

if TYPE_CHECKING:
    from filmhand.pipeline.trial.trial_sheet import TrialReport

_SHORT = 8


def label_lines(
    work: FilmInWork, *, page: int | None, trial: TrialReport | None = None
) -> list[str]:
    """Three lines: whose and what, how it was made, and what to mind.

    ``page`` is counted from 1, None where the art has one page only.
    """
    with in_film_language(work.profile):
        made = _made(work, trial)
        mind = LabelWord.BELOW_EACH_PATCH.say() if trial is not None else _joined_warnings(work)
        return [_whose(work, page), made, SEPARATOR.join([side_up(work.profile), mind])]


def _whose(work: FilmInWork, page: int | None) -> str:
    """Whose art it is, which one, and what its name asks for, as it is best written there."""
    told = work.request.shown
    if page is not None:
        told = LabelWord.PAGE.say(name=told, page=page)
    if work.layout.part is not None:
        told = LabelWord.PART.say(told=told, part=work.layout.part)
    if work.ticket.for_whom:
        told = LabelWord.FOR.say(whom=work.ticket.for_whom, told=told)
    if work.of_set is not None:
        film = work.of_set
        ink = LabelWord.INK.say(ink=film.ink.name, k=film.place, of=film.of)
        told = SEPARATOR.join([ink, told])
    if not work.ticket.wishes:
        return told
    wishes = ", ".join(wish.written for wish in work.ticket.wishes)
    return SEPARATOR.join([told, LabelWord.ASKED_BY_NAME.say(wishes=wishes)])


def _made(work: FilmInWork, trial: TrialReport | None) -> str:
    profile, grid = work.profile, work.layout.grid
    size = size_text(work.layout.art_mm, profile.sheet, decimals=1)
    if trial is not None:
        shown = size_text(trial.shown_mm, profile.sheet, decimals=1)
        how = LabelCount.TRIAL.say(trial.count, size=shown)
    else:
        how = _how(work)
        if work.treated is Treat.MIXED:
            how = LabelWord.MIXED.say(screen=how, threshold=f"{work.cut_at:g}")
    parts = [
        profile.name,
        how,
        mesh_words(profile),
        LabelWord.ART.say(size=size)
        if grid is None
        else LabelWord.COPIES.say(columns=grid.columns, rows=grid.rows, size=size),
        dpi_words(profile),
        LabelWord.DIGESTS.say(art=_digest(work), profile=profile.sha256[:_SHORT]),
        f"filmhand {__version__}",
    ]
    return SEPARATOR.join(parts)


def art_lines(work: FilmInWork) -> list[str]:
    """Three lines for one of several art files on a sheet; the sheet's own label has the rest."""
    with in_film_language(work.profile):
        whose = work.request.shown
        if work.ticket.for_whom:
            whose = LabelWord.FOR.say(whom=work.ticket.for_whom, told=whose)
        size = size_text(work.layout.art_mm, work.profile.sheet, decimals=1)
        digests = LabelWord.ART_DIGEST.say(art=_digest(work))
        return [whose, SEPARATOR.join([size, _how(work), digests]), _joined_warnings(work)]


def sheet_lines(profile: Profile, names: Sequence[str]) -> list[str]:
    """The label of a sheet with several art files: what all on it have in common."""
    with in_film_language(profile):
        parts = [
            profile.name,
            mesh_words(profile),
            dpi_words(profile),
            LabelWord.PROFILE_DIGEST.say(profile=profile.sha256[:_SHORT]),
            f"filmhand {__version__}",
        ]
        together = LabelCount.ON_ONE_SHEET.say(len(names), names=", ".join(names))
        return [together, SEPARATOR.join(parts), side_up(profile)]


def side_up(profile: Profile) -> str:
    """Which side of the film is up when its words can be read."""
    sides = [(LabelWord.MIRRORED if profile.film.mirror else LabelWord.RIGHT_READING).say()]
    if profile.film.negative:
        sides.append(LabelWord.NEGATIVE.say())
    if profile.film.stack > 1:
        sides.append(LabelWord.STACK.say(stack=profile.film.stack))
    return SEPARATOR.join(sides)


def mesh_words(profile: Profile) -> str:
    """The mesh as labels name it."""
    if profile.mesh is None:
        return LabelWord.NO_MESH.say()
    said = LabelWord.MESH_ASSUMED if profile.mesh.assumed else LabelWord.MESH
    return said.say(mesh=profile.mesh.label)


def _digest(work: FilmInWork) -> str:
    digest: str = work.source["sha256"]
    return digest[:_SHORT]


def _how(work: FilmInWork) -> str:
    screen = work.screen
    if screen is None:
        return LabelWord.LINE_ART.say(threshold=f"{work.cut_at:g}")
    angle, lpi = screen.angle_made(), f"{round(screen.grid.lpi, 1):g}"
    dot = LabelWord.OWN_DOT.say() if screen.dot.kind.own else str(screen.dot)
    if angle is None:
        return LabelWord.SCREEN_WITHOUT_ANGLE.say(lpi=lpi, dot=dot)
    return LabelWord.SCREEN.say(lpi=lpi, angle=f"{round(angle, 1):g}", dot=dot)


def _joined_warnings(work: FilmInWork) -> str:
    found = warnings(work)
    joined = "; ".join(found) if found else LabelWord.NO_WARNINGS.say()
    if any(check.verdict is Verdict.FAIL for check in work.checks):
        joined = LabelWord.MADE_ANYWAY.say(warnings=joined)
    return joined
