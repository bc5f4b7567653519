"""What each record and proof of a set tells of all of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from filmhand.language import and_list
from filmhand.pipeline.film_in_work import FilmInWork, Warned
from filmhand.pipeline.separation.chosen_inks import MOST_UNREACHED, ChosenInks
from filmhand.pipeline.separation.color_checks import FarColor, color_code, far_note
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, WantedSet
from filmhand.pipeline.separation.plates.plate_words import PlateNote
from filmhand.pipeline.separation.set_words import SetNote
from filmhand.profile.inks import MOST_INKS_OF_SET

_MODES = {
    SeparationMode.SPOT: SetNote.SPOT,
    SeparationMode.PROCESS: SetNote.PROCESS,
    SeparationMode.SIMULATED: SetNote.SIMULATED,
}


def tell_of_set(
    works: Sequence[FilmInWork],
    wanted: WantedSet,
    chosen: ChosenInks,
    far: FarColor | None,
    *,
    plates: bool,
) -> None:
    """What each record and proof tells of the whole set."""
    told = and_list(
        [
            SetNote.INK.say(k=k, ink=ink.name, color=color_code(np.array(ink.color)))
            for k, ink in enumerate(wanted.inks, 1)
        ]
    )
    for work in works:
        if chosen.found:
            work.remind(SetNote.FOUND.say(inks=told))
        if not plates:
            work.remind(_MODES[wanted.mode].say(inks=told))
            if chosen.by_colors and wanted.mode is not SeparationMode.SPOT:
                work.remind(SetNote.WHY_MIXED.say(share=f"{100 * MOST_UNREACHED:g}"))
        icc = work.profile.icc
        if icc is not None and not plates:
            work.remind(PlateNote.ICC.say(name=icc.file.name, intent=icc.intent))
        if chosen.dropped:
            work.remind(SetNote.NOTHING_OF_INK.say(inks=and_list(list(chosen.dropped))))
        for said in _of_overprint(wanted, plates=plates):
            work.remind(said)
        if wanted.trap_mm > 0 and (plates or wanted.mode is not SeparationMode.SPOT):
            work.remind(SetNote.TRAP_LEFT_ASIDE.say())
        if far is not None:
            said = far_note(far, wanted.inks)
            asked = work.profile.inks.count if chosen.found and work.profile.inks else 0
            if asked and asked == len(wanted.inks) - chosen.inks.based < MOST_INKS_OF_SET:
                said = f"{said} {SetNote.ONE_INK_MORE.say(count=asked + 1)}"
            # Whoever judges the film notes all warnings that it has by then.
            work.warned.append(Warned(said, said))
            work.missed = lambda: [SetNote.UNREACHED_ON_LABEL.say()]


def _of_overprint(wanted: WantedSet, *, plates: bool) -> list[str]:
    """Which inks overprint, and which were to, but it has no meaning for them."""
    over = [] if plates else [wanted.inks[k].name for k in wanted.overprinting]
    aside = [ink.name for ink in wanted.inks if ink.overprint and ink.name not in over]
    told = [SetNote.OVERPRINTS.say(inks=and_list(over))] if over else []
    if aside:
        told.append(SetNote.OVERPRINT_LEFT_ASIDE.say(inks=and_list(aside)))
    return told
