"""The press that a profile names the ICC profile of."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from filmhand.art.plates.art_plates import PROCESS_INKS
from filmhand.errors import EnvironmentTrouble
from filmhand.pipeline.separation.planning.output_profile import OutputProfile, output_profile
from filmhand.pipeline.separation.plates.plate_words import PlateNote
from filmhand.profile.icc import IccWish
from filmhand.profile.model import Profile


def press_of(profile: Profile) -> OutputProfile | None:
    """What the profile's ICC profile says; None where it names none.

    Raises
    ------
    EnvironmentTrouble
        Where that cannot be read, is another by now, or cannot be followed.
    """
    wish = profile.icc
    return None if wish is None else _opened(wish, profile.total_ink)


def press_for(profile: Profile, inks: Sequence[str]) -> OutputProfile | None:
    """The same of some process inks, by their names; raises as :func:`press_of` does."""
    press = press_of(profile)
    names = [name.lower() for name in PROCESS_INKS]
    return None if press is None else press.only([names.index(ink) for ink in inks])


@lru_cache(maxsize=2)
def _opened(wish: IccWish, total_ink: float | None) -> OutputProfile:
    name = wish.file.name
    try:
        data = wish.file.read()
    except OSError as fault:
        said = PlateNote.ICC_UNREAD.say(name=name, why=fault.strerror or fault)
        raise EnvironmentTrouble(said) from fault
    try:
        return output_profile(
            data, intent=wish.intent, total_ink=np.inf if total_ink is None else total_ink
        )
    except ValueError as fault:
        raise EnvironmentTrouble(PlateNote.ICC_NOT_FOLLOWED.say(name=name)) from fault
