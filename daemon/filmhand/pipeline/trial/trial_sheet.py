"""The trial sheet: one detail of the art at several settings, side by side.

Each patch holds the bits that the film itself would have at that place - the same tones, the same
screen in the same phase - and is then mended and measured by itself like a film.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from filmhand.art.analysis.busiest_place import busiest_place
from filmhand.art.files.open_art import Art
from filmhand.errors import Reason, Refused
from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.components import Components
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.mesh.checks import Check, Verdict
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.film_language import in_film_language
from filmhand.pipeline.job_limits import check_file, check_time
from filmhand.pipeline.judged import JudgedFilm, open_page
from filmhand.pipeline.opening import screen_and_tile
from filmhand.pipeline.render.background import ClearedBackground
from filmhand.pipeline.render.render import open_mask, rows_of
from filmhand.pipeline.render.strips import STRIP, AreaOfSheet, CutRows
from filmhand.pipeline.trial.patches import CAPTION_MM, Patch, TrialSheetPlan, patch_named, sheet_of
from filmhand.pipeline.trial.trial_words import TrialCaption, TrialNote
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.pipeline.verdict.judge import judge_film, judge_plan
from filmhand.pipeline.verdict.ways_to_ask import name_asking
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.terms import Treat
from filmhand.profile.ticket.trial import Trial
from filmhand.profile.ticket.wishes import name_without
from filmhand.rows import RowEnum
from filmhand.sheet.layout import Box, Layout, in_millimeters
from filmhand.sheet.lettering import text_bits
from filmhand.units import MM_PER_INCH, PixelsPerInch, size_text
from filmhand.values import dataclass

_NAME_MM, _NAME_ROW_MM, _ROW_MM = 3.2, 4.4, 2.7
_FIGURES = re.compile(r"\d+(?:\.\d+)?")


class PatchVerdict(RowEnum):
    """What the mesh makes of a patch, as records have it and as it stands below the patch."""

    caption: TrialCaption

    BLANK = "blank", TrialCaption.BLANK
    TOO_FINE = "too fine", TrialCaption.TOO_FINE
    FAILS = "fails", TrialCaption.FAILS
    WARNS_WITHOUT_MESH = "warns, no mesh", TrialCaption.WARNS_WITHOUT_MESH
    NO_MESH = "no mesh", TrialCaption.NO_MESH
    WARNS = "warns", TrialCaption.WARNS
    HOLDS = "holds", TrialCaption.HOLDS


@dataclass(frozen=True, slots=True)
class TrialReport:
    """What a trial sheet reports besides its bits.

    Attributes
    ----------
    count : number of patches
    shown_mm : width and height of the detail
    detail : (from the left %, from the top %) of its middle on the upright art
    record : an entry for each patch
    """

    count: int
    shown_mm: tuple[float, float]
    detail: tuple[float, float]
    record: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class _Made:
    """One patch on the sheet: what was found and counted there.

    ``counted`` is None where nothing, or everything, would print; ``notes`` are of the treatment.
    """

    work: FilmInWork
    counted: CountedFilm | None
    notes: list[str]

    @property
    def place(self) -> Box:
        """Where it lies on the film."""
        return self.work.area

    @property
    def verdict(self) -> PatchVerdict:
        """What the mesh makes of the patch."""
        if self.counted is None:
            return PatchVerdict.BLANK
        failed = [check for check in self.work.checks if check.verdict is Verdict.FAIL]
        if failed:
            is_size = failed[0].name.row.feature is not None
            return PatchVerdict.TOO_FINE if is_size else PatchVerdict.FAILS
        warned = any(check.verdict is Verdict.WARN for check in self.work.checks)
        if self.work.profile.mesh is None:
            return PatchVerdict.WARNS_WITHOUT_MESH if warned else PatchVerdict.NO_MESH
        return PatchVerdict.WARNS if warned else PatchVerdict.HOLDS


def with_patch(wished: WishedPage, page: int | None) -> WishedPage:
    """The page with the settings of the patch that its ticket names.

    ``page`` is counted from 1, None where the art has one page only. Pages of different kinds have
    patches of their own.

    Raises
    ------
    Refused
        ``bad-ticket`` where there is no such patch; else as :func:`open_page` does
    """
    profile, ticket = wished.profile, wished.ticket
    assert ticket.patch is not None
    opened, _ = open_page(wished)
    zone = _one_sheet(opened.layout).zone
    sheet = sheet_of(profile, ticket.trial or Trial(), opened.treated, zone)
    patch = patch_named(ticket.patch, sheet, page)
    sentence = TrialNote.MADE_AS.say(patch=patch.name, settings=", ".join(patch.words()))
    chosen = replace(ticket, trial=None, patch=None, told=(*ticket.told, sentence))
    return replace(wished, profile=patch.applied(profile), ticket=chosen)


@contextmanager
def trial_bits(wished: WishedPage, sheet: Path) -> Iterator[tuple[JudgedFilm, TrialReport]]:
    """The trial sheet of one page, captions included, for as long as the ``with`` lasts.

    Parameters and what is raised are as for :func:`filmhand.pipeline.judged.judged_bits`, but that
    a patch which would not hold refuses nothing.
    """
    profile, trial = wished.profile, wished.ticket.trial
    assert trial is not None
    opened, art = open_page(wished)
    layout = _one_sheet(opened.layout)
    plan = sheet_of(profile, trial, opened.treated, layout.zone)
    window = _window(layout.art, plan.side_mm, profile.acetate_dpi)
    barred = open_mask(opened)
    middle = _middle(opened, art, window, trial.detail)
    detail = _about(middle, window, layout.art)
    cells = plan.cells(layout.zone, window, profile.acetate_dpi)
    marks = replace(profile.marks, steps=False, register=False)
    work = replace(
        opened,
        profile=replace(profile, marks=marks),
        layout=replace(layout, art=Box.around(cells)),
        screen=None,
        tile=None,
        cleared=ClearedBackground(),
    )
    check_file(work)
    check_time(work, wished.pages)
    try:
        with BitSheet.create(sheet, width=layout.sheet.width, height=layout.sheet.height) as bits:
            made = [
                _make(opened, art, patch, bits, layout, detail=detail, cell=cell, barred=barred)
                for patch, cell in zip(plan.patches, cells, strict=True)
            ]
            with in_film_language(profile):
                for patch, cell, one in zip(plan.patches, cells, made, strict=True):
                    _write_caption(bits, patch, cell, one, work)
            report = _report(plan, made, detail, replace(opened, layout=layout))
            _note(work, made, report)
            yield JudgedFilm(work, bits, _together(made, work.area)), report
    finally:
        sheet.unlink(missing_ok=True)


def _one_sheet(layout: Layout) -> Layout:
    """The sheet that the printer prints, with one of the copies, or all of the joined art."""
    sheet = layout.films[0] if layout.films else layout
    return replace(sheet, art=layout.copies[0], grid=None, films=(), part=None)


def _window(art: Box, side_mm: float, dpi: PixelsPerInch) -> tuple[int, int]:
    """Device pixels of the detail: a square, or as much of it as the art has."""
    across, down = (int(side_mm / MM_PER_INCH * each) for each in (dpi.x, dpi.y))
    return min(across, art.width), min(down, art.height)


def _middle(
    opened: FilmInWork, art: Art, window: tuple[int, int], asked: tuple[float, float] | None
) -> tuple[float, float]:
    """The detail's middle as shares of the art as it lies on the sheet, before any mirroring."""
    layout = opened.layout
    place = layout.copies[0]
    if asked is not None:
        x, y = asked[0] / 100, asked[1] / 100
        return (y, 1 - x) if layout.turned else (x, y)
    lying = np.rot90(art.coded) if layout.turned else art.coded
    height, width = lying.shape
    across = round(window[0] * width / place.width)
    down = round(window[1] * height / place.height)
    masked = opened.cleared.masked
    if masked is not None and opened.profile.film.mirror:
        masked = masked[:, ::-1]
    return busiest_place(lying, (across, down), clear=masked)


def _about(middle: tuple[float, float], window: tuple[int, int], art: Box) -> Box:
    """The detail's box on the sheet, moved so that it lies on the art."""
    left = round(middle[0] * art.width - window[0] / 2)
    top = round(middle[1] * art.height - window[1] / 2)
    return Box(
        art.left + max(0, min(left, art.width - window[0])),
        art.top + max(0, min(top, art.height - window[1])),
        *window,
    )


def _make(
    whole: FilmInWork,
    art: Art,
    patch: Patch,
    bits: BitSheet,
    layout: Layout,
    *,
    detail: Box,
    cell: Box,
    barred: CutRows | None,
) -> _Made:
    """Lay one patch down on the trial's sheet, mend it and judge it."""
    profile = patch.applied(whole.profile)
    screen = tile = None
    if whole.treated is not Treat.LINE:
        screen, tile = screen_and_tile(profile, whole.request.tiles)
    full = replace(
        whole,
        profile=profile,
        # Patches are there to be compared, so none is refused.
        ticket=replace(whole.ticket, anyway=True),
        screen=screen,
        tile=tile,
        notes=[],
        checks=[],
        cleared=ClearedBackground(),
    )
    # Clearing and parting work in the picture itself, and each patch has tones of its own.
    own_picture = bool(profile.tone.dropout) or whole.treated is Treat.MIXED
    if own_picture:
        art = replace(art, coded=art.coded.copy())
    here = Box(cell.left, cell.top, detail.width, detail.height)
    own = replace(full, layout=replace(layout, art=here), notes=[], warned=[], checks=[], seen=None)
    if profile.film.mirror:
        detail = detail.mirrored(whole.layout.sheet.width)
    ink_rows = rows_of(full, art, barred)
    lines = None if ink_rows.lines is None else _cut_out(ink_rows.lines, full.area, detail)
    rows = _cut_out(ink_rows.ink, full.area, detail)
    barred_here = None if barred is None else _cut_out(barred, full.area, detail)
    judge_plan(own)
    area = AreaOfSheet(bits, own.area)
    for first in range(0, own.area.height, STRIP):
        area.write(first, rows(first, min(STRIP, own.area.height - first)))
    counted = None
    try:
        counted = judge_film(own, bits, barred=barred_here, lines=lines)
    except Refused as refused:
        if refused.reason is not Reason.BLANK:
            raise
    return _Made(own, counted, full.notes)


def _cut_out(rows: CutRows, area: Box, part: Box) -> CutRows:
    """Gives rows of a part of the area; both on the sheet."""
    top, left = part.top - area.top, part.left - area.left
    return lambda first, count: np.ascontiguousarray(
        rows(top + first, count)[:, left : left + part.width]
    )


def _write_caption(bits: BitSheet, patch: Patch, cell: Box, made: _Made, work: FilmInWork) -> None:
    """Name, verdict and settings below the patch, and which checks do not pass."""
    dpi = work.profile.acetate_dpi
    rows = [round(mm / MM_PER_INCH * dpi.y) for mm in (CAPTION_MM, _NAME_ROW_MM, _ROW_MM, 0.6)]
    height, name_row, row, space = rows
    width = cell.width
    ink = np.zeros((height, width), np.bool_)
    verdict = made.verdict.caption.say()
    name = TrialCaption.NAME_AND_VERDICT.say(name=patch.name, verdict=verdict)
    ink[space : space + name_row] = text_bits(
        [name], width, name_row, name_row, dpi, tall_mm=_NAME_MM
    )
    lines = [", ".join(patch.words()), *_doubts(made.work.checks)][:3]
    below = height - name_row - space
    ink[space + name_row :] = text_bits(lines, width, below, row, dpi)
    box = Box(cell.left, made.place.bottom, width, height)
    if work.profile.film.mirror:
        box, ink = box.mirrored(bits.width), ink[:, ::-1]
    AreaOfSheet(bits, box).write(0, ink)


def _doubts(checks: Sequence[Check]) -> list[str]:
    """The checks that do not pass, the worst first, in as few words as a caption has room for."""
    order = (Verdict.FAIL, Verdict.WARN)
    found = [check for verdict in order for check in checks if check.verdict is verdict]
    figures = []
    for check in found:
        assert check.measured is not None
        row, limit = check.name.row, check.decisive_limit
        figure, _ = row.told(check.measured, limit or 0.0)
        figures.append(row.caption.say(figure=figure))
    return figures


def _report(
    plan: TrialSheetPlan, made: Sequence[_Made], detail: Box, work: FilmInWork
) -> TrialReport:
    profile, art = work.profile, work.layout.art
    x = (detail.left + detail.width / 2 - art.left) / art.width
    y = (detail.top + detail.height / 2 - art.top) / art.height
    upright = (1 - y, x) if work.layout.turned else (x, y)
    dpi = profile.acetate_dpi
    return TrialReport(
        len(made),
        in_millimeters((detail.width, detail.height), dpi),
        (round(100 * upright[0], 1), round(100 * upright[1], 1)),
        [
            {
                **patch.record(),
                "verdict": str(one.verdict),
                "x_mm": round(one.place.left / dpi.x * MM_PER_INCH, 2),
                "y_mm": round(one.place.top / dpi.y * MM_PER_INCH, 2),
                "width_mm": round(one.place.width / dpi.x * MM_PER_INCH, 2),
                "height_mm": round(one.place.height / dpi.y * MM_PER_INCH, 2),
                "screen": None if one.work.screen is None else one.work.screen.record(),
                "checks": [check.record() for check in one.work.checks],
            }
            for patch, one in zip(plan.patches, made, strict=True)
        ],
    )


def _note(work: FilmInWork, made: Sequence[_Made], sheet: TrialReport) -> None:
    """What the record says of the sheet."""
    work.notes += _once([note for one in made for note in one.notes])
    x, y = sheet.detail
    size = size_text(sheet.shown_mm, work.profile.sheet, decimals=1)
    work.notes.append(TrialNote.SHEET.say(count=sheet.count, size=size, x=f"{x:g}", y=f"{y:g}"))
    if work.profile.mesh is not None:
        held, warned = (
            sum(one.verdict is verdict for one in made)
            for verdict in (PatchVerdict.HOLDS, PatchVerdict.WARNS)
        )
        refused = len(made) - held - warned
        mesh = work.profile.mesh.label
        work.notes.append(TrialNote.HELD.say(mesh=mesh, held=held, warned=warned, refused=refused))
    last = sheet.record[-1]["patch"]
    if "trial" in work.ticket.raw:
        work.notes.append(TrialNote.CHOOSE_BY_TICKET.say(patch=last))
    else:
        plain = name_without(work.request.name, ("trial",))
        name = name_asking(plain, ("patch",), last, f"patch {last}") or f"[patch {last}]"
        work.notes.append(TrialNote.CHOOSE_BY_NAME.say(name=name))


def _once(notes: Sequence[str]) -> list[str]:
    """The notes of all patches, those that differ in their figures once."""
    alike: dict[str, list[str]] = {}
    for note in dict.fromkeys(notes):
        alike.setdefault(_FIGURES.sub("#", note), []).append(note)
    return [
        some[0] if len(some) == 1 else TrialNote.FIGURES_DIFFER.say(note=some[0])
        for some in alike.values()
    ]


def _together(made: Sequence[_Made], area: Box) -> CountedFilm:
    """What was counted and mended on all patches, in pixels of the sheet's own area."""
    counted = [(one, one.counted) for one in made if one.counted is not None]
    mended = SpottedOut()
    for one, found in counted:
        x, y = one.place.left - area.left, one.place.top - area.top
        places = [(column + x, row + y) for column, row in found.spotted.places]
        mended.add(replace(found.spotted, places=places, rows=set()))
    dots, shadow_dots = (
        Components(
            AreaCounts.joined([part.areas for part in parts]),
            sum(part.cut for part in parts),
            sum(part.pixels for part in parts),
            SmallRuns.joined([]),
        )
        for parts in (
            [found.dots for _, found in counted],
            [found.shadow_dots for _, found in counted],
        )
    )
    return CountedFilm(dots, shadow_dots, mended)
