"""Which inks a page of art is separated into, and how: by its colors where nothing is said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.ink.flat_colors import flat_colors, share_flats
from filmhand.ink.wide_places import even_places
from filmhand.pipeline.separation.geometry.flat_regions import FlatRegions
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, WantedSet
from filmhand.pipeline.separation.planning.wanted_inks import (
    SetInks,
    asked_mode,
    found_inks,
    known_inks,
    mixing_mode,
    some_pixels,
)
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.pipeline.separation.separated_art import spot_regions
from filmhand.pipeline.separation.set_words import SetRefusal
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.values import dataclass

MOST_UNREACHED = 0.02
"""The part of flat art that may have colors which no ink comes near; art with more of them is mixed
of dots, where that is left open."""
_SURELY_NO_FLATS = 0.25  # of the windows, from which on nobody looks at all of the art
_DRAWN = 0.5
_WINDOW, _WINDOWS = 96, 4  # pixels a side, so many across and down


@dataclass(frozen=True, slots=True, eq=False)
class ChosenInks:
    """How a page becomes films.

    Attributes
    ----------
    inks : those of the profile, or found in the art
    mode : how colors become inks
    flats : where they are in flat art, where that was looked at
    found : whether they were found in the art
    by_colors : whether the art decided how colors become inks
    dropped : names of inks of which nothing prints
    """

    inks: SetInks
    mode: SeparationMode
    flats: FlatRegions | None
    found: bool
    by_colors: bool = False
    dropped: tuple[str, ...] = ()

    def without(self, names: Sequence[str]) -> ChosenInks:
        """The same without the inks of these names."""
        kept = self.inks.without(names)
        return replace(self, inks=kept, flats=None, dropped=(*self.dropped, *names))


def chosen_inks(codes: UInt16Array, profile: Profile, *, fine: bool = False) -> ChosenInks:
    """The inks of a page.

    Parameters
    ----------
    codes : (H, W, 3) uint16, sRGB codes of the art on its cloth
    profile : with the wishes of name and ticket in place
    fine : whether a line of one pixel is too thin to be printed

    Raises
    ------
    Refused
        where none are found
    """
    known = known_inks(profile)
    inks = found_inks(codes, profile) if known is None else known
    if not inks.wishes:
        raise SetRefusal.NO_INK.refused()
    mode, flats = asked_mode(profile), None
    by_colors = mode is None
    if mode is None:
        mode, flats = _by_colors(codes, profile, inks, fine=fine)
    return ChosenInks(inks, mode, flats, found=known is None, by_colors=by_colors)


def is_drawn(codes: UInt16Array) -> bool:
    """Whether art was drawn and is no photograph: half of its pixels are just as those beside.

    Of open photographs 0 to 37 % are, of logos and clip art 52 to 99 %, but of some small ones.

    Parameters
    ----------
    codes : (H, W, 3) uint16, sRGB codes
    """
    return bool(even_places(some_pixels(codes), 0).mean() >= _DRAWN)


def _by_colors(
    codes: UInt16Array, profile: Profile, inks: SetInks, *, fine: bool
) -> tuple[SeparationMode, FlatRegions | None]:
    wanted = wanted_set(profile, inks, SeparationMode.SPOT)
    if profile.art.treat is Treat.LINE:
        return SeparationMode.SPOT, None
    if not _may_be_flat(codes, wanted):
        return mixing_mode(profile), None
    flats = spot_regions(codes, wanted, fine=fine)
    if flats.unreached_pixels <= MOST_UNREACHED * codes.shape[0] * codes.shape[1]:
        return SeparationMode.SPOT, flats
    return mixing_mode(profile), None


def _may_be_flat(codes: UInt16Array, wanted: WantedSet) -> bool:
    """Whether windows spread over the art are of flats, or it is too small to be looked at so."""
    height, width = codes.shape[:2]
    if min(height, width) < 2 * _WINDOW * _WINDOWS:
        return True
    spread = (np.arange(_WINDOWS) + 0.5) / _WINDOWS
    tops, lefts = (
        np.rint(spread * (side - _WINDOW)).astype(int).tolist() for side in (height, width)
    )
    bands = [codes[top : top + _WINDOW] for top in tops]
    rows = [[band[:, left : left + _WINDOW] for left in lefts] for band in bands]
    mosaic = np.concatenate([np.concatenate(row, axis=1) for row in rows])
    inks, cloth = np.array([ink.color for ink in wanted.inks], float), np.array(wanted.cloth, float)
    found = share_flats(mosaic, flat_colors(mosaic, inks, cloth))
    pixels = mosaic.shape[0] * mosaic.shape[1]
    return found.unreached_pixels <= int(_SURELY_NO_FLATS * pixels)
