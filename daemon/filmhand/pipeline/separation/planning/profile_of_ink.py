"""The press of one ink of a set: its mesh, its screen, and a wedge of its own."""

from __future__ import annotations

from dataclasses import replace

from filmhand.errors import Refused
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, plan_set
from filmhand.pipeline.separation.planning.wanted_inks import asked_mode, known_inks
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.pipeline.separation.set_words import SetRefusal
from filmhand.profile.inks import ink_file_name, ink_folders
from filmhand.profile.model import Profile


def profile_of_ink(profile: Profile, ink: str) -> Profile:
    """The profile by which an ink's wedge is made and read, named after both.

    Parameters
    ----------
    ink : its name, or what its folder is called

    Raises
    ------
    Refused
        where the profile names no such ink
    """
    inks = None if profile.inks is None else known_inks(profile)
    if inks is not None:
        mode = asked_mode(profile) or SeparationMode.SPOT
        for film in plan_set(wanted_set(profile, inks, mode)).films:
            if _folder(film.ink.name) == _folder(ink):
                name = f"{ink_file_name(film.ink.name)}, {profile.name}"
                return replace(inks.profile_of(film, profile), name=name)
    raise no_such_ink(profile, ink)


def no_such_ink(profile: Profile, ink: str) -> Refused:
    """That a profile names no such ink, with those that it names."""
    known = ", ".join(ink_folders(profile.inks, profile.underbase))
    row = SetRefusal.NO_SUCH_INK if known else SetRefusal.NO_INKS_NAMED
    return row.refused(ink=ink, profile=profile.name, known=known)


def _folder(name: str) -> str:
    try:
        return ink_file_name(name).casefold()
    except ValueError:
        return ""
