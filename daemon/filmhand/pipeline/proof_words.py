"""What a proof says of its film, in words for people."""

from __future__ import annotations

from filmhand.mesh.checks import Verdict
from filmhand.page.proof_page import ProofWords
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.label import side_up
from filmhand.pipeline.printer_films.printer_words import dpi_words
from filmhand.pipeline.trial.trial_sheet import TrialReport
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.profile.terms import Treat
from filmhand.sheet.layout import turn_size
from filmhand.sheet.lettering import SEPARATOR
from filmhand.units import size_text

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
    title = work.request.shown + ("" if page is None else f", page {page}")
    if work.ticket.for_whom:
        title += f", for {work.ticket.for_whom}"
    if work.layout.part is not None:
        title += f" ({work.layout.part})"
    facts = [_size(work), _screen(work) if trial is None else _trial(trial), _mesh(work)]
    side = side_up(work.profile).replace(SEPARATOR, "; ")
    facts.append(f"Profile {work.profile.name}, {dpi_words(work.profile)}, {side}.")
    if work.layout.turned:
        head = "left" if work.profile.film.mirror else "right"
        facts.append(
            "The art lies on its side on the film; here it is shown upright, with the top of the "
            f"sheet at the {head}."
        )
    facts += _mended(work, counted)
    return ProofWords(title, tuple(facts), tuple(_warnings(work)), _turn(work))


def _turn(work: FilmInWork) -> int:
    """By how much the film's picture is turned, counter-clockwise, for its art to stand upright."""
    if not work.layout.turned:
        return 0
    # A mirror that swaps left and right leaves what leaned to the left leaning to the right.
    return 90 if work.profile.film.mirror else 270


def _size(work: FilmInWork) -> str:
    def lengths(mm: tuple[float, float]) -> str:
        return size_text(mm, work.profile.sheet, decimals=1)

    # As the proof shows it, upright.
    size = turn_size(work.layout.art_mm, work.layout.turned)
    grid = work.layout.grid
    art = "The art is" if grid is None else f"{grid.columns} x {grid.rows} copies, each"
    return f"{art} {lengths(size)} on a sheet of {lengths(work.profile.sheet.mm)}."


def _screen(work: FilmInWork) -> str:
    screen = work.screen
    if screen is None:
        return f"Line art: solid where the tone is over {work.profile.threshold:g} %."
    angle = screen.angle_made()
    at = "" if angle is None else f" at {angle:.1f}°"
    dot = "a spot of its own" if screen.dot.kind.own else f"{screen.dot} dots"
    told = f"{screen.grid.lpi:.1f} lines per inch{at}, {dot}"
    if work.treated is Treat.MIXED:
        told += f"; strokes are cut at {work.profile.threshold:g} %"
    return told + "."


def _trial(trial: TrialReport) -> str:
    return "A trial of {} patches, {:.1f} x {:.1f} mm each.".format(trial.count, *trial.shown_mm)


def _mesh(work: FilmInWork) -> str:
    mesh = work.profile.mesh
    if mesh is None:
        return "No mesh is named, so nothing was judged by one."
    inch = mesh.label.split()[0]
    told = f"Mesh {inch} per inch, which is {mesh.threads_per_cm:g} threads per cm of "
    told += f"{mesh.thread_um:g} µm ({mesh.pair})"
    return told + ("; the thread is assumed." if mesh.assumed else ".")


def _mended(work: FilmInWork, counted: CountedFilm) -> list[str]:
    """What was taken off or put on, beside how much there is."""
    told = []
    spotted = counted.spotted
    if spotted.count and counted.dots is not None:
        share = spotted.pixels / max(1, counted.dots.pixels) * 100
        places = "1 place" if spotted.count == 1 else f"{spotted.count} places"
        together = "" if work.layout.part is None else ", on all films together"
        told.append(f"Spotted out: {places}, {_share(share)} of the ink{together}.")
    cleared = work.cleared.record()
    for key, what in (("floor_pct", "background"), ("mask_pct", "by the mask")):
        if cleared[key]:
            told.append(f"Cleared {what}: {_share(cleared[key])} of the art.")
    if cleared["islands"]:
        told.append(f"Cleared small islands: {cleared['islands']}.")
    return told


def _share(percent: float) -> str:
    return "less than 0.01 %" if percent < 0.01 else f"{percent:.2g} %"


def _warnings(work: FilmInWork) -> list[str]:
    told = []
    if any(check.verdict is Verdict.FAIL for check in work.checks):
        told.append("Made anyway: it does not pass, and the ticket asks for it.")
    told += work.warned[:_MOST_WARNINGS]
    more = len(work.warned) - _MOST_WARNINGS
    if more > 0:
        told.append(f"And {more} more; the record has all.")
    return told
