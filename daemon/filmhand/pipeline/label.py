"""The words on the film."""

from __future__ import annotations

from filmhand import __version__
from filmhand.mesh.checks import Verdict
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.printer_films.printer_words import dpi_words
from filmhand.pipeline.trial.trial_sheet import TrialReport
from filmhand.pipeline.verdict.judge import warnings
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.units import size_text

_SHORT = 8


def label_lines(
    work: FilmInWork, *, page: int | None, trial: TrialReport | None = None
) -> list[str]:
    """Three lines: whose and what, how it was made, and what to mind.

    ``page`` is counted from 1, None where the art has one page only.
    """
    profile = work.profile
    first = work.request.shown + ("" if page is None else f" page {page}")
    if work.layout.part is not None:
        first += f": {work.layout.part}"
    if work.ticket.for_whom:
        first = f"for {work.ticket.for_whom}: {first}"
    if work.ticket.wishes:
        first += " | asked for by name: " + ", ".join(wish.words for wish in work.ticket.wishes)
    size = size_text(work.layout.art_mm, profile.sheet, decimals=1)
    grid = work.layout.grid
    art = "art" if grid is None else f"{grid.columns} x {grid.rows} copies of"
    how = _how(work)
    if work.treated is Treat.MIXED:
        how += f", strokes cut at {profile.threshold:g} %"
    if trial is not None:
        how = "TRIAL of {} patches, {:.1f} x {:.1f} mm each".format(trial.count, *trial.shown_mm)
    second = (
        f"{profile.name} | {how} | {mesh_words(profile)} | {art} {size} | "
        f"{dpi_words(profile)} | art {_digest(work)} profile {profile.sha256[:_SHORT]} | "
        f"filmhand {__version__}"
    )
    verdict = (
        _joined_warnings(work) if trial is None else "what the mesh makes of each stands below it"
    )
    return [first, second, f"{side_up(profile)} | {verdict}"]


def art_lines(work: FilmInWork) -> list[str]:
    """Three lines for one of several art files on a sheet; the sheet's own label has the rest."""
    whose = f"for {work.ticket.for_whom}: " if work.ticket.for_whom else ""
    size = size_text(work.layout.art_mm, work.profile.sheet, decimals=1)
    return [
        whose + work.request.shown,
        f"{size} | {_how(work)} | art {_digest(work)}",
        _joined_warnings(work),
    ]


def side_up(profile: Profile) -> str:
    """Which side of the film is up when its words can be read."""
    side = (
        "MIRRORED: right-reading, image side down"
        if profile.film.mirror
        else "right-reading, image side up"
    )
    if profile.film.negative:
        side += " | NEGATIVE"
    if profile.film.stack > 1:
        side += f" | STACK {profile.film.stack}: lay {profile.film.stack} of this film in register"
    return side


def mesh_words(profile: Profile) -> str:
    """The mesh as labels name it."""
    if profile.mesh is None:
        return "no mesh: not judged"
    return f"mesh {profile.mesh.label}" + (", thread assumed" if profile.mesh.assumed else "")


def _digest(work: FilmInWork) -> str:
    digest: str = work.source["sha256"]
    return digest[:_SHORT]


def _how(work: FilmInWork) -> str:
    screen = work.screen
    if screen is None:
        return f"line art, threshold {work.profile.threshold:g} %"
    angle = screen.angle_made()
    turned = "" if angle is None else f" {angle:.2f} deg"
    dot = "own spot" if screen.dot.kind.own else str(screen.dot)
    return f"{screen.grid.lpi:.2f} lpi{turned} {dot}"


def _joined_warnings(work: FilmInWork) -> str:
    found = warnings(work)
    joined = "; ".join(found) if found else "no warnings"
    if any(check.verdict is Verdict.FAIL for check in work.checks):
        joined = "MADE ANYWAY. " + joined
    return joined
