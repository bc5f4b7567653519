"""Mending, measuring and judging a film before it is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from filmhand.errors import Quantity
from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.strokes import ThinPieces
from filmhand.mesh.bitmap.thin_rules import ScreenOfRules
from filmhand.mesh.bitmap.worst_places import WorstPlace
from filmhand.mesh.checks import (
    Check,
    CheckName,
    Verdict,
    check_dots,
    check_line_resolution,
    check_lines,
    check_pieces,
    check_resolution,
)
from filmhand.mesh.figures import whole_apart
from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.moire.bands import Moire
from filmhand.pipeline.film_in_work import FilmInWork, Warned
from filmhand.pipeline.render.screen_moire import film_moire, moire_check
from filmhand.pipeline.render.screen_plan import ScreenPlan, limits_of, screen_checks
from filmhand.pipeline.render.strips import AreaOfSheet, CutRows
from filmhand.pipeline.verdict.film_likeness import FilmLikeness, film_likeness
from filmhand.pipeline.verdict.inspection import (
    CountedFilm,
    SmallestHeld,
    census_of,
    measure_lines,
    spot_out_art,
    thin_in_halftone,
    worst_places,
)
from filmhand.pipeline.verdict.refusals import refuse_on, where_it_passes
from filmhand.pipeline.verdict.told_places import places_told
from filmhand.pipeline.verdict.verdict_words import FilmRefusal, VerdictCount, VerdictWord
from filmhand.profile.model import Profile
from filmhand.sheet.layout import Box, Layout
from filmhand.sheet.screen_frame import frame_warnings
from filmhand.speaking_pool import SpeakingPool
from filmhand.units import SheetSize, length_text

_FOR_THE_MESH = {
    CheckName.STENCIL_STROKE: CheckName.NARROWEST_STROKE,
    CheckName.STENCIL_GAP: CheckName.NARROWEST_GAP,
}


def judge_plan(work: FilmInWork) -> None:
    """The checks that need no bitmap; refuses at once what cannot come out right."""
    profile, layout, screen = work.profile, work.layout, work.screen
    if screen is None:
        dpi, least = (
            min(profile.acetate_dpi.x, profile.acetate_dpi.y),
            profile.verdict.line_resolution,
        )
        work.checks.append(check_line_resolution(layout.ppi, dpi, least=least))
    else:
        pixels = profile.verdict.resolution
        limits = (pixels.fail, pixels.warn)
        work.checks.append(check_resolution(layout.ppi, screen.lpi_asked, limits=limits))
        work.checks += screen_checks(profile, screen)
    _refuse(work)


def judge_film(
    work: FilmInWork, bits: BitSheet, *, barred: CutRows | None, lines: CutRows | None = None
) -> CountedFilm:
    """Mend stray bits, measure what is on the film, and refuse what the mesh would not hold.

    ``lines`` gives rows of the area that are True where a mixed page is line art.
    """
    profile = work.profile
    art = AreaOfSheet(bits, work.area)
    limits = limits_of(profile)
    counted = spot_out_art(
        work,
        art,
        census_of(art, smallest=sizes_to_find(work), barred=barred),
        smallest=sizes_to_mend(work),
        barred=barred,
    )
    _refuse_blank(work, counted)
    with SpeakingPool(1) as aside:
        # All of these only read the bits, so they go on side by side.
        bands, seen = aside.submit(_moire, work, art), aside.submit(_likeness, work, art, barred)
        checks = _measured(work, art, counted, limits, lines)
        found = counted.dots, counted.shadow_dots
        worst = worst_places(art, found, checks, profile.acetate_dpi, limits, shown=lines)
    work.checks[:0] = checks
    work.moire = bands.result()
    if work.moire is not None:
        work.checks.append(moire_check(profile, work.moire))
    _note_spotting_out(work, counted)
    if limits is None:
        work.notes.append(VerdictWord.NO_MESH.say())
    work.warned += [_warned(work, check, worst) for check in checks_to_tell(work.checks)]
    larger = frame_warnings(profile.frame, work.layout, profile.acetate_dpi)
    work.warned += [Warned(said, said) for said in larger]
    work.notes += [warned.said for warned in work.warned]
    _refuse(work, worst)
    likeness = seen.result()
    if likeness is not None:
        missed = likeness.sentences(profile)
        on_proof = likeness.sentences(profile, shown=work.layout)
        work.notes += missed
        work.warned += [Warned(*both) for both in zip(missed, on_proof, strict=True)]
        work.missed = likeness.missed
    return replace(counted, worst=worst, likeness=likeness)


def _moire(work: FilmInWork, art: AreaOfSheet) -> Moire | None:
    """The bands of the film with the mesh; None of line art."""
    if work.screen is None:
        return None
    return film_moire(work.profile, work.screen, art, max(work.layout.art_mm))


def _likeness(work: FilmInWork, art: AreaOfSheet, barred: CutRows | None) -> FilmLikeness | None:
    """The film held against its art; None where no whole art lies on the sheet."""
    return None if work.seen is None else film_likeness(work, art, barred)


def _measured(
    work: FilmInWork,
    art: AreaOfSheet,
    counted: CountedFilm,
    limits: MeshLimits | None,
    lines: CutRows | None,
) -> list[Check]:
    """The checks that are measured on the finished bits: dots, strokes, or of a mixed page both."""
    dpi, threads = work.profile.acetate_dpi, work.request.threads
    in_lines: list[Check] = []
    if work.screen is None or lines is not None:
        strokes, gaps = measure_lines(art, dpi, limits, threads=threads, shown=lines)
        in_lines = check_lines(strokes, gaps, limits)
    if work.screen is None:
        return in_lines
    dots = check_dots(counted.dots.areas, counted.shadow_dots.areas, dpi, limits)
    if limits is None:
        return dots + in_lines
    thin = thin_in_halftone(art, dpi, limits, screen_of_rules(work.screen), threads=threads)
    in_pictures = {check.name: check for check in check_pieces(*thin, limits)}
    if not in_lines:
        return dots + list(in_pictures.values())
    # Of a mixed page the pictures speak where its line art passes.
    return dots + [
        in_pictures.get(check.name, check) if check.verdict is Verdict.PASS else check
        for check in in_lines
    ]


def screen_of_rules(screen: ScreenPlan) -> ScreenOfRules:
    """What of a screen may be taken for a thin rule, or break one up."""
    lines = screen.dot.kind.row.lines
    return ScreenOfRules(screen.lpi_asked, screen.angle_asked if lines else None)


def checks_to_tell(checks: Sequence[Check]) -> list[Check]:
    """Those that do not pass; of a stroke or gap that the mesh does not hold, that one alone."""
    doubtful = [check for check in checks if check.verdict is not Verdict.PASS]
    by_mesh = {check.name for check in doubtful}
    return [check for check in doubtful if _FOR_THE_MESH.get(check.name) not in by_mesh]


def _warned(work: FilmInWork, check: Check, worst: Sequence[WorstPlace]) -> Warned:
    profile, spots = work.profile, spots_of(check, worst)
    passes = where_it_passes(check, profile, work.layout, work.request, work.ticket)
    further = [said for said in (_stencil_wants(check, work.checks), passes) if said]

    def told(shown: Layout | None) -> str:
        where = worst_places_phrase(spots, profile, shown=shown)
        return " ".join([check_sentence(check, profile.sheet, where), *further])

    return Warned(told(None), told(work.layout))


def _stencil_wants(check: Check, checks: Sequence[Check]) -> str:
    """What a stencil asks for where that is more than the mesh does, and it was not told yet."""
    limit = check.decisive_limit if check.pieces is None else check.pieces.limit_um
    for other in checks:
        more = (other.warn_limit or 0.0) > (limit or 0.0)
        failed = other.verdict is not Verdict.PASS
        if _FOR_THE_MESH.get(other.name) is check.name and failed and more:
            figure = f"{other.warn_limit:.0f}"
            return VerdictWord.STENCIL_WANTS.say(limit=other.name.row.limit.say(figure=figure))
    return ""


def worst_places_phrase(
    spots: Sequence[WorstPlace], profile: Profile, *, shown: Layout | None = None
) -> str:
    """Where on the profile's sheet the spots are, as the end of a clause; nothing for none.

    ``shown`` is given for a proof, on which the sheet may be turned.
    """
    if not spots:
        return ""
    boxes = [Box(spot.x_px, spot.y_px, 0, 0) for spot in spots]
    return VerdictWord.WORST_AT.say(places=places_told(boxes, profile, shown=shown))


def spots_of(check: Check, spots: Sequence[WorstPlace]) -> list[WorstPlace]:
    """Those of the spots that a check speaks of."""
    return [spot for spot in spots if spot.feature is check.name.row.feature]


def sizes_to_mend(work: FilmInWork) -> SmallestHeld | None:
    """The sizes up to which stray bits are mended.

    None without a mesh, and for a halftone under ``hold: off``, which leaves every dot as it is.
    """
    left_alone = work.screen is not None and work.profile.tone.hold == "off"
    return None if left_alone else sizes_to_find(work)


def sizes_to_find(work: FilmInWork) -> SmallestHeld | None:
    """The sizes below which it is kept where dots and shadow dots lie; None without a mesh."""
    limits, screen = limits_of(work.profile), work.screen
    if limits is None:
        return None
    dpi = work.profile.acetate_dpi
    if screen is None or work.profile.tone.hold != "auto":
        return SmallestHeld.to_pass(limits, dpi)
    # Where the cell is too small for dots that print evenly, all are smaller; that is for the
    # checks to say, not for mending to hide.
    return SmallestHeld.to_print_evenly(limits, dpi).at_most(
        screen.smallest_dot, screen.smallest_shadow_dot
    )


def _refuse(work: FilmInWork, worst: Sequence[WorstPlace] = ()) -> None:
    if work.ticket.anyway:
        return
    failed = [check for check in work.checks if check.verdict is Verdict.FAIL]
    where = worst_places_phrase(spots_of(failed[0], worst), work.profile) if failed else ""
    refuse_on(work.checks, work.profile, work.layout, where=where)


def _refuse_blank(work: FilmInWork, counted: CountedFilm) -> None:
    ink = counted.dots.pixels
    # One ink of several may well be everywhere.
    if ink > 0 and (ink < work.copies.pixels or work.of_set is not None):
        return
    if not ink:
        raise FilmRefusal.NOTHING_PRINTS.refused(found=Quantity(0.0, "% ink"))
    raise FilmRefusal.ALL_PRINTS.refused(found=Quantity(100.0, "% ink"))


def _note_spotting_out(work: FilmInWork, counted: CountedFilm) -> None:
    spotted = counted.spotted
    if not spotted.count:
        return
    share = spotted.pixels / max(1, counted.dots.pixels) * 100
    told = VerdictCount.SPOTTED_OUT.say(
        spotted.count,
        pixels=spotted.pixels,
        share=f"{share:.3f}",
        specks=spotted.specks,
        pinholes=spotted.pinholes,
        enlarged=spotted.enlarged,
        joined=spotted.joined,
    )
    work.notes.append(told)


def check_sentence(check: Check, sheet: SheetSize, where: str = "") -> str:
    """What a check that does not pass means, with its figures and where that is."""
    limit = check.decisive_limit
    assert check.measured is not None and limit is not None
    if check.pieces is not None:
        return _pieces_sentence(check, check.pieces, sheet, where)
    row, failed = check.name.row, check.verdict is Verdict.FAIL
    measured, wanted = row.told(check.measured, limit)
    found = row.figure.say(figure=measured)
    if check.detail:
        found = VerdictWord.FOUND_AND_DETAIL.say(found=found, detail=check.detail)
    if row.at_most:
        said = VerdictWord.AT_MOST_ANYWAY if failed else VerdictWord.AT_MOST
    elif failed:
        # What is as small as the limit of a size is lost.
        is_size = row.feature is not None
        said = VerdictWord.MORE_THAN_ANYWAY if is_size else VerdictWord.AT_LEAST_ANYWAY
    else:
        said = VerdictWord.AT_LEAST
    return said.say(
        meaning=row.meaning.say(), found=found, wanted=row.limit.say(figure=wanted), where=where
    )


def _pieces_sentence(check: Check, pieces: ThinPieces, sheet: SheetSize, where: str) -> str:
    """What single strokes or gaps mean that are at or under a limit."""
    is_lost = check.fail_limit is None or pieces.limit_um <= check.fail_limit
    if check.name is CheckName.NARROWEST_STROKE:
        said = VerdictCount.STROKES_LOST if is_lost else VerdictCount.STROKES_UNEVEN
    else:
        said = VerdictCount.GAPS_LOST if is_lost else VerdictCount.GAPS_UNEVEN
    narrowest, limit = whole_apart(pieces.narrowest_um, pieces.limit_um)
    return said.say(
        pieces.count,
        length=length_text(pieces.length_um / 1000, sheet, decimals=1),
        narrowest=narrowest,
        limit=limit,
        where=where,
    )


def warnings(work: FilmInWork) -> list[str]:
    """What does not pass or is missed, in the few words that a label has room for."""
    found = []
    for check in checks_to_tell(work.checks):
        limit, row = check.decisive_limit, check.name.row
        assert check.measured is not None and limit is not None
        measured, _ = row.told(check.measured, limit)
        said = VerdictWord.FAILED if check.verdict is Verdict.FAIL else VerdictWord.WARNED
        found.append(said.say(what=row.figure.say(figure=measured)))
    others = []
    if frame_warnings(work.profile.frame, work.layout, work.profile.acetate_dpi):
        others.append(VerdictWord.LARGER_THAN_SCREEN.say())
    others += work.missed()
    return found + [VerdictWord.WARNED.say(what=other) for other in others]
