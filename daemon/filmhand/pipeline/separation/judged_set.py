"""A page of art to the judged films of its inks, none of them marked or written yet."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np

from filmhand.arrays import BoolArray, UInt16Array
from filmhand.errors import Reason, Refused
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_table import ColorTable
from filmhand.ink.mixing import PrintModel
from filmhand.ink.solids import with_solids
from filmhand.ink.solving import InkRules
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.free_memory import give_back_memory
from filmhand.pipeline.job_limits import check_file, check_time
from filmhand.pipeline.judged import JudgedFilm
from filmhand.pipeline.press_curve import press_notes
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.pipeline.separation.bands_of_set import judge_bands
from filmhand.pipeline.separation.chosen_inks import ChosenInks, chosen_inks, is_drawn
from filmhand.pipeline.separation.color_checks import (
    color_code,
    far_in_flats,
    far_in_mixtures,
    overprinted_colors,
    overprinted_note,
    refuse_far,
)
from filmhand.pipeline.separation.color_page import ColorPage
from filmhand.pipeline.separation.geometry.filled_films import (
    FilledFilm,
    NothingOfInkError,
    filled_films,
)
from filmhand.pipeline.separation.paper_ground import paper_ground
from filmhand.pipeline.separation.planning.press_of import press_for
from filmhand.pipeline.separation.planning.set_plan import (
    FilmOfSet,
    SeparationMode,
    SetPlan,
    WantedSet,
    plan_set,
)
from filmhand.pipeline.separation.planning.wanted_inks import known_inks
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.pipeline.separation.plates.plates_to_films import mode_of_plates, separated_plates
from filmhand.pipeline.separation.ready_made import table_of
from filmhand.pipeline.separation.recombined import (
    CELLS_TO_A_PLACE,
    RecombinedFilms,
    recombined_films,
)
from filmhand.pipeline.separation.separated_art import SeparatedArt, is_fine, separated_art
from filmhand.pipeline.separation.set_notes import tell_of_set
from filmhand.pipeline.separation.set_words import SetNote, SetRefusal
from filmhand.pipeline.verdict.judge import judge_film, judge_plan
from filmhand.pipeline.verdict.refusals import CheckFailed
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.request import Step
from filmhand.values import dataclass

# Films without screens are held against the art by cells so small that light which spreads within
# one hardly changes an edge, and by places of the same two millimeters.
_CELLS_AN_INCH, _CELLS_OF_PLACE = 150.0, 13
_PICTURE_SIDE = 700  # places of the expected print as its proof shows it


@dataclass(frozen=True, slots=True, eq=False)
class JudgedSet:
    """The films of a page, mended and judged.

    Attributes
    ----------
    wanted, plan : what they are
    films : in print order
    print : what they print over each other, held against the art
    picture : the same by places so small that they make a picture
    """

    wanted: WantedSet
    plan: SetPlan
    films: list[JudgedFilm]
    print: RecombinedFilms
    picture: RecombinedFilms


class FilmFailed(Refused):
    """A check says that one film of a set cannot be made by this profile.

    Attributes
    ----------
    failed : what it says
    work : the film
    """

    def __init__(self, failed: CheckFailed, work: FilmInWork) -> None:
        assert work.of_set is not None
        named = named_after_ink(failed, work.of_set)
        super().__init__(named.reason, named.say, named.do, found=named.found, needed=named.needed)
        self.failed = failed
        self.work = work


def named_after_ink(refused: Refused, film: FilmOfSet) -> Refused:
    """A refusal of one film that names its ink."""
    named = SetRefusal.OF_INK.refused(
        found=refused.found,
        needed=refused.needed,
        ink=film.ink.name,
        k=film.place,
        of=film.of,
        say=refused.say,
        do=refused.do,
    )
    return replace(named, reason=refused.reason)


@contextmanager
def judged_set(wished: WishedPage, page: ColorPage, sheet: Path) -> Iterator[JudgedSet]:
    """The judged films of one page, in files that are there only inside the ``with``.

    An ink of which nothing prints has no film, and the others are numbered without it.

    Parameters
    ----------
    sheet : where bits are kept meanwhile, with the number of the film behind

    Raises
    ------
    Refused
        where the art gets no set; the sentence names the ink.
        :class:`FilmFailed` where a check of a film says so
    """
    chosen = _chosen(wished.profile, page)
    while True:
        with ExitStack() as stack:
            try:
                found = _judged(wished, page, chosen, sheet, stack)
            except NothingOfInkError as nothing:
                chosen = chosen.without(nothing.names)
                if not chosen.inks.wishes:
                    raise SetRefusal.NO_INK.refused() from None
                continue
            yield found
            return


def _chosen(profile: Profile, page: ColorPage) -> ChosenInks:
    if page.plates is None:
        return chosen_inks(page.codes, profile, fine=is_fine(page.layout.ppi))
    inks = known_inks(profile)
    assert inks is not None
    return ChosenInks(inks, mode_of_plates(page.plates, profile), None, found=False)


def _judged(
    wished: WishedPage, page: ColorPage, chosen: ChosenInks, sheet: Path, stack: ExitStack
) -> JudgedSet:
    profile, codes = wished.profile, page.codes
    art = wished.art_sha256, wished.page
    wanted = wanted_set(profile, chosen.inks, chosen.mode, art=art)
    plan = plan_set(wanted)
    tables: list[ColorTable] = []
    drawn = is_drawn(codes)

    def table(model: PrintModel, rules: InkRules) -> ColorTable:
        # Dots of other inks under drawn black show where films do not quite meet.
        rules = replace(rules, black_alone=drawn)
        mixed = table_of(model, rules, wished.request.tiles)
        tables.append(with_solids(mixed, model, rules, based=wanted.choke_mm is not None))
        return tables[-1]

    press = press_for(profile, [ink.name for ink in wanted.inks])
    box = page.layout.art
    size = box.width, box.height
    if page.plates is not None:
        separated = separated_plates(page.plates, wanted, profile, size, profile.acetate_dpi)
    else:
        separated = separated_art(
            codes,
            wanted,
            plan,
            size,
            profile.acetate_dpi,
            flats=chosen.flats,
            table=table,
            press=press,
            drawn=drawn,
            lossy=page.lossy,
        )
    far = None
    if tables:
        far = far_in_mixtures(codes, tables[0], separated, wanted.inks)
    elif page.plates is None and press is not None:
        far = far_in_mixtures(codes, press.table, separated, wanted.inks, black=press.black)
    elif page.plates is None and wanted.mode is SeparationMode.SPOT:
        far = far_in_flats(separated, codes.shape[0] * codes.shape[1])
    if far is not None:
        refuse_far(far, wanted.inks, process=chosen.inks.transparent)
    works = [_work(wished, page, chosen, film, separated) for film in plan.films]
    tell_of_set(works, wanted, chosen, far, plates=page.plates is not None)
    paper = paper_ground(codes, np.array(wanted.cloth, float)) if chosen.found else None
    if paper is not None:
        for work in works:
            work.remind(SetNote.ON_PAPER.say(color=color_code(srgb_to_lab(paper))))
    check_file(works[0])
    check_time(works[0], wished.pages * len(works))
    for work in works:
        with _naming_ink(work):
            judge_plan(work)
    wished.request.progress(Step.SCREENING, Step.SCREENING.begins)
    filled = filled_films(works, separated.source, sheet, stack)
    give_back_memory()
    wished.request.progress(Step.MEASURING, Step.MEASURING.begins)
    films = [_judged_film(work, film) for work, film in zip(works, filled, strict=True)]
    give_back_memory()
    judged = _recombined(wanted, plan, films, separated, codes)
    if page.plates is None:
        for lost in overprinted_colors(judged.print, separated.model, wanted):
            for work in works:
                work.warn(overprinted_note(lost, wanted.inks))
    return judged


def _work(
    wished: WishedPage, page: ColorPage, chosen: ChosenInks, film: FilmOfSet, found: SeparatedArt
) -> FilmInWork:
    """One film before anything is laid down."""
    profile = chosen.inks.profile_of(film, wished.profile)
    screened = found.screened[film.place - 1] and profile.art.treat is not Treat.LINE
    screen = plan_screen(profile) if screened else None
    treated = Treat.LINE
    if screened:
        treated = Treat.MIXED if chosen.mode is SeparationMode.SPOT else Treat.TONE
    return FilmInWork(
        wished.request,
        profile,
        wished.ticket,
        page.layout,
        treated,
        page.kept,
        dict(page.source),
        screen,
        None if screen is None else tile_of(screen, wished.request.tiles),
        list(page.notes) + (press_notes(profile) if screened else []),
        of_set=film,
    )


@dataclass(frozen=True, slots=True)
class _TurnedArea(AreaOfSheet):
    """A negative read as what it prints."""

    def read(self, first: int, stop: int) -> BoolArray:
        return ~AreaOfSheet.read(self, first, stop)


def _judged_film(work: FilmInWork, film: FilledFilm) -> JudgedFilm:
    assert work.of_set is not None
    try:
        with _naming_ink(work):
            counted = judge_film(work, film.bits, barred=None, lines=film.beside_tints)
    except Refused as refused:
        if refused.reason is Reason.BLANK:
            # What little there was of it the mesh does not hold.
            raise NothingOfInkError(work.of_set.ink.name) from None
        raise
    return JudgedFilm(work, film.bits, counted)


@contextmanager
def _naming_ink(work: FilmInWork) -> Iterator[None]:
    """Have refusals of one film name its ink."""
    film = work.of_set
    assert film is not None
    try:
        yield
    except CheckFailed as failed:
        raise FilmFailed(failed, work) from None
    except Refused as refused:
        if refused.reason is Reason.BLANK:
            raise
        raise named_after_ink(refused, film) from None


def _recombined(
    wanted: WantedSet,
    plan: SetPlan,
    films: list[JudgedFilm],
    separated: SeparatedArt,
    codes: UInt16Array,
) -> JudgedSet:
    """The set, with what its films print over each other."""
    works = [film.work for film in films]
    profile, area = works[0].profile, works[0].area
    kind = _TurnedArea if profile.film.negative else AreaOfSheet
    areas = [kind(film.bits, area) for film in films]
    rulings = [work.screen.lpi_asked for work in works if work.screen is not None]
    dpi = min(profile.acetate_dpi.x, profile.acetate_dpi.y)
    cell = max(1, round(dpi / min(rulings, default=_CELLS_AN_INCH)))
    cells = CELLS_TO_A_PLACE if rulings else _CELLS_OF_PLACE
    found = recombined_films(areas, separated.model, codes, cell=cell, cells=cells)
    small = max(1, -(-max(area.width, area.height) // _PICTURE_SIDE))
    picture = recombined_films(areas, separated.model, codes, cell=small, cells=1)
    if wanted.mode is not SeparationMode.SPOT:
        judge_bands(works, [film.bits for film in films], separated.model)
    return JudgedSet(wanted, plan, films, found, picture)
