"""Mending, measuring and judging a film before it is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from filmhand.errors import Quantity, Reason, Refused
from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.components import Census
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
from filmhand.mesh.figures import figures_apart
from filmhand.mesh.limits import MeshLimits
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.render.screen_moire import film_moire, moire_check
from filmhand.pipeline.render.screen_plan import ScreenPlan, limits_of, screen_checks
from filmhand.pipeline.render.strips import AreaOfSheet, CutRows
from filmhand.pipeline.verdict.film_likeness import film_likeness
from filmhand.pipeline.verdict.inspection import (
    CountedFilm,
    SmallestHeld,
    measure_lines,
    spot_out_art,
    thin_in_halftone,
    worst_places,
)
from filmhand.pipeline.verdict.refusals import refuse_on, where_it_passes
from filmhand.profile.model import Profile
from filmhand.profile.read.values import listing
from filmhand.sheet.screen_frame import frame_warnings
from filmhand.units import size_text


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
    work: FilmInWork,
    bits: BitSheet,
    *,
    barred: CutRows | None,
    census: Census,
    lines: CutRows | None = None,
) -> CountedFilm:
    """Mend stray bits, measure what is on the film, and refuse what the mesh would not hold.

    ``lines`` gives rows of the area that are True where a mixed page is line art.
    """
    profile = work.profile
    art = AreaOfSheet(bits, work.area)
    limits = limits_of(profile)
    counted = spot_out_art(work, art, census, smallest=sizes_to_mend(work), barred=barred)
    _refuse_blank(counted, work.copies.pixels)
    checks = _measured(work, art, counted, limits, lines)
    worst = worst_places(
        art, (counted.dots, counted.shadow_dots), checks, profile.acetate_dpi, limits, shown=lines
    )
    work.checks[:0] = checks
    if work.screen is not None:
        work.moire = film_moire(profile, work.screen, art, max(work.layout.art_mm))
        if work.moire is not None:
            work.checks.append(moire_check(profile, work.moire))
    _note_spotting_out(work, counted)
    if limits is None:
        work.notes.append("No mesh is named, so nothing was judged against one.")
    for check in work.checks:
        if check.verdict is not Verdict.PASS:
            said = check_sentence(check, worst_places_phrase(spots_of(check, worst), profile))
            work.warned.append(said + where_it_passes(check, profile, work.layout))
    work.warned += frame_warnings(profile.frame, work.layout, profile.acetate_dpi)
    work.notes += work.warned
    _refuse(work, worst)
    likeness = None if work.seen is None else film_likeness(work, art, barred)
    if likeness is not None:
        missed = likeness.sentences(profile)
        work.notes += missed
        work.warned += missed
        work.missed = likeness.missed()
    return replace(counted, worst=worst, likeness=likeness)


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


def worst_places_phrase(spots: Sequence[WorstPlace], profile: Profile) -> str:
    """Where on the profile's sheet the spots are, as the end of a sentence; nothing for none."""
    if not spots:
        return ""
    places = [size_text(spot.millimeters(profile.acetate_dpi), profile.sheet) for spot in spots]
    return f"worst at {listing(places, last=' and ')} from the sheet's top left corner"


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


def _refuse_blank(counted: CountedFilm, pixels: int) -> None:
    ink = counted.dots.pixels
    if 0 < ink < pixels:
        return
    share = Quantity(0.0 if not ink else 100.0, "% ink")
    if not ink:
        raise Refused(
            Reason.BLANK,
            "Nothing of this art would print: every tone comes out as clear film.",
            "Check that the art is not empty, not white on a clear ground, and that neither "
            "dropout nor threshold nor a mask takes everything away.",
            found=share,
        )
    raise Refused(
        Reason.BLANK,
        "This art would print as one solid block: every tone comes out black.",
        "Check that the art is not all black, and that threshold and contrast leave clear film.",
        found=share,
    )


def _note_spotting_out(work: FilmInWork, counted: CountedFilm) -> None:
    spotted = counted.spotted
    if not spotted.count:
        return
    share = spotted.pixels / max(1, counted.dots.pixels) * 100
    work.notes.append(
        f"Spotted out {spotted.count} places, {spotted.pixels} pixels or {share:.3f} % of the ink: "
        f"{spotted.specks} specks of ink removed, {spotted.pinholes} pinholes filled, "
        f"{spotted.enlarged} enlarged to a size that the mesh holds, {spotted.joined} joined to a "
        "neighbor."
    )


def check_sentence(check: Check, where: str = "") -> str:
    """What a check that does not pass means, with its figures and where that is."""
    failed = check.verdict is Verdict.FAIL
    limit = check.decisive_limit
    assert check.measured is not None and limit is not None
    row = check.name.row
    if check.pieces is not None:
        return _pieces_sentence(check, check.pieces, where)
    wanted = "at most" if row.at_most else "more than" if failed else "at least"
    place = f"; {where}" if where else ""
    end = ", made all the same because the ticket asks for it" if failed else ""
    found, asked = _measures(check, limit)
    detail = f" ({check.detail})" if check.detail else ""
    return (
        f"{row.meaning}: {shown_name(check.name)} {found}{detail}, wanted {wanted} {asked}{end}"
        f"{place}."
    )


def _pieces_sentence(check: Check, pieces: ThinPieces, where: str) -> str:
    """What single strokes or gaps mean that are at or under a limit."""
    row, several = check.name.row, pieces.count > 1
    is_lost = check.fail_limit is None or pieces.limit_um <= check.fail_limit
    fate = row.lost if is_lost else row.uneven
    things = row.things if several else row.things[:-1]
    length = pieces.length_um / 1000
    narrowest, limit = figures_apart(pieces.narrowest_um, pieces.limit_um, figures=4)
    place = f"; {where}" if where else ""
    return (
        f"{pieces.count} thin {things} {fate}, whatever lies beside: {length:.1f} mm long"
        f"{' in all' if several else ''}, {narrowest} µm wide"
        f"{' at the narrowest' if several else ''}, wanted more than {limit} µm"
        f"{place}."
    )


def warnings(work: FilmInWork) -> list[str]:
    """What does not pass or is missed, in the few words that a label has room for."""
    found = []
    for check in work.checks:
        limit = check.decisive_limit
        if check.verdict is not Verdict.PASS:
            assert limit is not None
            name, measured = shown_name(check.name), _measures(check, limit)[0]
            found.append(f"{check.verdict.upper()} {name} {measured}")
    if frame_warnings(work.profile.frame, work.layout, work.profile.acetate_dpi):
        found.append(f"{Verdict.WARN.upper()} larger than its screen prints")
    return found + [f"{Verdict.WARN.upper()} {work.missed}"] * bool(work.missed)


def shown_name(name: CheckName) -> str:
    """The check as people call it."""
    return "mesh-to-line ratio" if name is CheckName.MESH_TO_LPI_RATIO else str(name)


def _measures(check: Check, limit: float) -> tuple[str, str]:
    """What was measured and a limit, with their unit, for people."""
    assert check.measured is not None
    if check.name is CheckName.MOIRE:
        # Two figures are all that a visibility is good for.
        found, asked = figures_apart(check.measured, limit, figures=2)
        return f"visibility {found}", asked
    if check.name is CheckName.MESH_TO_LPI_RATIO:
        found, asked = figures_apart(check.measured, limit, figures=3)
        return f"{found} : 1", f"{asked} : 1"
    unit = check.unit.replace("um", "µm")
    found, asked = figures_apart(check.measured, limit, figures=4)
    return f"{found} {unit}", f"{asked} {unit}"
