"""Art to the bits of its area of the sheet, by tone or by line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.art.analysis.auto_levels import auto_levels, describe_levels, percentile_codes
from filmhand.art.analysis.classify import Reading
from filmhand.art.analysis.exact_flats import PaleInk, find_pale_ink
from filmhand.art.analysis.line_work import CLEAR_TONE, SOLID_TONE, LineWork, find_line_work
from filmhand.art.analysis.paper_estimate import LookForPaper, PaperEstimate
from filmhand.art.files.gray import Codes
from filmhand.art.files.open_art import Art, open_art
from filmhand.art.repair.line_cleaning import Cleaning, LinePlan, plan_line, prepare_line
from filmhand.art.repair.mixed_page import in_parts
from filmhand.errors import Quantity
from filmhand.film.bits import BitSheet
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.free_memory import give_back_memory
from filmhand.pipeline.press_curve import press_curve_of, press_notes
from filmhand.pipeline.render.background import clear_background, map_box
from filmhand.pipeline.render.cropping import part_of
from filmhand.pipeline.render.cut_level import cut_level, level_of
from filmhand.pipeline.render.render_words import RenderCount, RenderNote, RenderRefusal
from filmhand.pipeline.render.seen_small import on_clear_film
from filmhand.pipeline.render.strips import (
    CutRows,
    EdgeStrips,
    LightRows,
    LineRows,
    ScreenedRows,
    fill_rows_of_sheet,
    mask_rows,
    not_barred,
    oriented,
)
from filmhand.profile.model import Profile
from filmhand.profile.terms import Automatic, Channel, Treat
from filmhand.screen.screener import Screener
from filmhand.speaking_pool import SpareThread
from filmhand.tone import (
    FULL,
    Levels,
    LightCuts,
    light_cuts,
    linear_table,
    tone_of_steps,
    tone_steps,
)
from filmhand.values import dataclass

# How far the proportions of a mask may be from those of its art.
_MASK_SHAPE = 0.02
# Share of the picture that line work must have to be told of.
_WORTH_A_NOTE = 0.0005


def begin_plan(
    art: Art,
    profile: Profile,
    treated: Treat,
    reading: Reading | None,
    look: LookForPaper,
    spare: SpareThread,
) -> Callable[[], LinePlan] | None:
    """Have the strokes of a scan that becomes line art measured while it is straightened.

    look : at the paper of the art as it is
    """
    if treated is not Treat.LINE or art.drawn or profile.tone.endpoints != "auto":
        return None
    rules = reading.rules if reading else ()
    return spare.begin(plan_line, art.coded, _cleaning(profile), rules=rules, look=look)


def render_art(
    work: FilmInWork, art: Art, bits: BitSheet, *, barred: CutRows | None
) -> CutRows | None:
    """Write the art's bits to the sheet.

    ``art.coded`` is given up on the way, to save memory. Gives rows that are True where a mixed
    page is line art; None for art that is treated as a whole.
    """
    rows = rows_of(work, art, barred)
    art.coded = np.empty((0, 0), np.uint16)
    give_back_memory()
    fill_rows_of_sheet(bits, work.area, rows.ink, threads=work.request.threads)
    return rows.lines


@dataclass(frozen=True, slots=True)
class Rendered:
    """Rows of the art's bits for the area where it lies, and of where a mixed page is line art."""

    ink: CutRows
    lines: CutRows | None = None


def rows_of(work: FilmInWork, art: Art, barred: CutRows | None) -> Rendered:
    """Gives rows of the art's bits, by tone, by line, or by each where it is due."""
    if work.treated is Treat.LINE:
        return Rendered(not_barred(_line(work, art), barred))
    lines = levels = None
    if work.treated is Treat.MIXED:
        lines, levels = _parted(work, art)
    ink = _tone(work, art, lines=lines, levels=levels)
    return Rendered(not_barred(ink, barred), None if lines is None else lines.where)


def open_mask(work: FilmInWork) -> CutRows | None:
    """Where film must stay bare, by the mask beside the art and between copies, if anywhere."""
    copies = work.copies
    if work.request.mask is None:
        return copies.gaps()
    mask = open_art(
        work.request.mask,
        name=work.request.name + ".clear.png",
        limits=work.profile.limits,
        channel=Channel.LUMINANCE,
    )
    whole = work.kept.whole_px
    here, there = whole[0] / whole[1], mask.width_px / mask.height_px
    if abs(here / there - 1) > _MASK_SHAPE:
        raise RenderRefusal.MASK_OF_ANOTHER_SHAPE.refused(
            found=Quantity(round(there, 3), "width / height"),
            needed=Quantity(round(here, 3), "width / height"),
            mask=f"{mask.width_px} x {mask.height_px}",
            art=f"{whole[0]} x {whole[1]}",
        )
    work.notes.append(RenderNote.MASK.say())
    kept = part_of(mask.coded, work.kept.window)
    picture = oriented(kept, turned=work.layout.turned, mirror=work.profile.film.mirror)
    small = map_box(copies.copy)
    work.cleared.masked = mask_rows(picture, small)(0, small.height)
    return copies.spread(mask_rows(picture, copies.copy), beyond=True)


def _parted(work: FilmInWork, art: Art) -> tuple[EdgeStrips, tuple[int, int]]:
    """The line parts of a mixed page, whose art is made ready in place, and the others' levels."""
    profile = work.profile
    assert work.reading is not None and work.reading.regions is not None
    parts = in_parts(
        art.coded,
        work.reading.regions,
        drawn=art.drawn,
        endpoints=profile.tone.endpoints,
        cleaning=_cleaning(profile),
    )
    work.notes += parts.notes
    work.repaired += parts.repairs
    _take_paper_off(work, parts.paper)
    art.coded = parts.coded
    where = oriented(parts.lines, turned=work.layout.turned, mirror=profile.film.mirror)
    half = np.float32(1 - cut_level(work.profile))
    found = LineWork(where, (1, 1))
    copies = work.copies
    dark_inks = not profile.film.negative
    return EdgeStrips(found, where.shape, copies, half, dark_inks), parts.levels


def _tone(
    work: FilmInWork, art: Art, *, lines: EdgeStrips | None, levels: tuple[int, int] | None
) -> CutRows:
    profile, area = work.profile, work.area
    negative, press = profile.film.negative, press_curve_of(profile)
    with SpareThread(work.request.threads) as spare:
        steps = spare.begin(tone_of_steps)
        stretched = work.levels = _levels(work, art, levels)
        steps()
        curve = tone_steps(profile.tone, levels=stretched, negative=negative, press=press)
        cutting = spare.begin(light_cuts, curve, negative=negative)
        work.notes += press_notes(profile)
        coded = oriented(art.coded, turned=work.layout.turned, mirror=profile.film.mirror)
        _clear_background(work, coded, stretched, dark_inks=True)
        copies = work.copies
        light = copies.spread(LightRows(coded, copies.copy, drawn=art.drawn), beyond=np.float32(1))
        cuts = cutting()
    assert work.tile is not None
    screener = Screener(
        work.tile, column=area.left, width=area.width, cuts=cuts.at, dark_inks=cuts.dark_inks
    )
    edges = [_edges(work, coded, cuts, noted=lines is None), lines]
    return ScreenedRows(light, area, screener, [some for some in edges if some is not None])


def _edges(work: FilmInWork, coded: Codes, cuts: LightCuts, *, noted: bool) -> EdgeStrips | None:
    """The line work inside a picture, if the profile wants its edges kept; ``told`` in a note."""
    profile, copies = work.profile, work.copies
    area = copies.copy
    if profile.art.detail is Automatic.OFF:
        return None
    assert profile.lpi is not None
    light = linear_table()
    solid, half, clear = (cuts.at[round(tone * FULL)] for tone in (SOLID_TONE, 0.5, CLEAR_TONE))
    # The dots of an edge reach half a cell to either side of it; the ringing of JPEG goes farther.
    scale = coded.shape[0] / area.height, coded.shape[1] / area.width
    reach = [
        dpi / profile.lpi * along
        for dpi, along in zip((profile.acetate_dpi.y, profile.acetate_dpi.x), scale, strict=True)
    ]
    found = find_line_work(
        coded,
        solid=light <= solid if cuts.dark_inks else light >= solid,
        clear=light > clear if cuts.dark_inks else light < clear,
        reach=(reach[0], reach[1]),
        threads=work.request.threads,
    )
    if found is None:
        return None
    if noted and found.share >= _WORTH_A_NOTE:
        work.notes.append(RenderNote.EDGES_KEPT.say(share=f"{100 * found.share:.2g}"))
    return EdgeStrips(found, coded.shape, copies, half, cuts.dark_inks)


def _levels(work: FilmInWork, art: Art, known: tuple[int, int] | None) -> Levels:
    """The end points that the profile asks for; ``known`` is "auto" of a part of the art."""
    endpoints = work.profile.tone.endpoints
    if endpoints == "off":
        return Levels()
    if endpoints == "auto":
        ends = known or auto_levels(art.coded, drawn=art.drawn)
    else:
        ends = percentile_codes(art.coded, black=endpoints[0], white=endpoints[1])
    if ends[0] >= ends[1]:
        return Levels()
    noted = describe_levels(ends)
    if noted:
        work.notes.append(noted)
    return Levels(float(ends[0]), float(ends[1]))


def _line(work: FilmInWork, art: Art) -> CutRows:
    profile = work.profile
    ink = _pale_ink(work, art)
    # It holds the art, which is let go of when this is done.
    plan, work.plan = None if work.plan is None else work.plan(), None
    with SpareThread(work.request.threads) as spare:
        evened = None
        if plan is not None and plan.paper is not None and work.seen is not None:
            evened = spare.begin(on_clear_film, work.seen, plan.paper.light, plan.gain)
        line = prepare_line(
            art.coded,
            drawn=art.drawn,
            endpoints=profile.tone.endpoints,
            cleaning=_cleaning(profile),
            rules=work.reading.rules if work.reading else (),
            ink=ink,
            plan=plan,
        )
        work.notes += line.notes
        work.repaired += line.repairs
        if work.seen is not None and ink is not None and line.repairs:
            work.evened = ink.brought_up(work.seen)
        else:
            _take_paper_off(work, line.paper, line.gain, evened)
    share = oriented(line.share, turned=work.layout.turned, mirror=profile.film.mirror)
    _clear_background(work, share, Levels(), dark_inks=False)
    copies = work.copies
    rows = LineRows(
        share, copies.copy, level=cut_level(work.profile), negative=profile.film.negative
    )
    return copies.spread(rows, beyond=False)


def _pale_ink(work: FilmInWork, art: Art) -> PaleInk | None:
    """The ink to bring up: of art in one pale ink, or where nothing would print without."""
    if work.reading is not None and work.reading.ink is not None:
        return work.reading.ink
    assert work.profile.threshold is not None
    ink = find_pale_ink(art.coded) if art.drawn else None
    return ink if ink is not None and ink.tone <= work.profile.threshold / 100 else None


def _take_paper_off(
    work: FilmInWork,
    paper: PaperEstimate | None,
    gain: float = 1.0,
    evened: Callable[[], Codes] | None = None,
) -> None:
    """From here the film is held against the art as it is on clear film.

    evened : gives that, where it was begun before
    """
    if paper is not None:
        work.grain = paper.has_grain
        if evened is not None:
            work.evened = evened()
        elif work.seen is not None:
            work.evened = on_clear_film(work.seen, paper.light, gain)


def _cleaning(profile: Profile) -> Cleaning:
    wishes = profile.repair
    light, paper, faded = (
        mend is Automatic.AUTO for mend in (wishes.light, wishes.paper, wishes.faded)
    )
    return Cleaning(light=light, paper=paper, faded=faded)


def _clear_background(work: FilmInWork, picture: Codes, levels: Levels, *, dark_inks: bool) -> None:
    """Where the profile clears faint tones, small islands far from the subject go too."""
    profile = work.profile
    if not profile.tone.dropout:
        return
    with_floor = replace(profile.tone, hold="off")
    without = replace(with_floor, dropout=0.0)
    if work.treated is Treat.LINE:
        assert profile.threshold is not None
        before, after = (
            _inked_above(level_of(wishes, profile.threshold)) for wishes in (without, with_floor)
        )
    else:
        before, after = (tone_steps(wishes, levels=levels) for wishes in (without, with_floor))
    clear_background(
        picture,
        work.cleared,
        before=before,
        after=after,
        dark_inks=dark_inks,
        area=work.copies.copy,
        dpi=profile.acetate_dpi,
        lpi=profile.lpi,
    )
    count = len(work.cleared.islands)
    if count:
        # The proof of a trial is that of its sheet, and shows nothing of what was cleared.
        on_trial = work.ticket.trial is not None
        said = RenderCount.ISLANDS_ON_TRIAL if on_trial else RenderCount.ISLANDS
        work.notes.append(said.say(count))


def _inked_above(level: float) -> Callable[[Float64Array], Float64Array]:
    return lambda share: (share > level).astype(np.float64)
