"""A profile's wishes as the set that is planned from them."""

from __future__ import annotations

import hashlib

from filmhand import __version__
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, WantedSet
from filmhand.pipeline.separation.planning.wanted_inks import PROCESS_TOTAL, SetInks, lab_of
from filmhand.profile.model import Profile


def wanted_set(
    profile: Profile, inks: SetInks, mode: SeparationMode, *, art: tuple[str, int] = ("", 0)
) -> WantedSet:
    """All that decides what the films of a set are.

    Parameters
    ----------
    profile : with the wishes of name and ticket in place
    inks : its own, or those that were found in the art
    mode : how colors become inks
    art : hash of the art's file, and which page of it
    """
    total = profile.total_ink
    if total is None and inks.transparent and profile.icc is None:
        total = PROCESS_TOTAL
    base = profile.underbase
    # An ICC profile is the same wherever it lies.
    icc = None if profile.icc is None else profile.icc.file
    curves = [
        (name, icc.sha256 if icc is not None and name == icc.name else text)
        for name, text in profile.curves
    ]
    told = repr((profile.settings, curves))
    return WantedSet(
        art,
        __version__,
        mode,
        inks.listed(mode, profile),
        cloth=lab_of(profile.cloth),
        angle=profile.angle,
        mesh_angle=profile.press.mesh_angle,
        trap_mm=profile.trap,
        choke_mm=base.choke_mm if base is not None and inks.based else None,
        total_ink=total,
        black_generation=profile.black_generation,
        settings=hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest(),
    )
