"""Colors of art to the tones of a set's films, by the way that the set names."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.ink.flat_colors import FLAT_TOLERANCE, SrgbCodes, UnreachedColor, flat_colors
from filmhand.ink.mixing import PrintingInk, PrintModel, print_model
from filmhand.ink.solving import InkRules, separation_table
from filmhand.pipeline.separation.disc_reach import DiscReach
from filmhand.pipeline.separation.film_bits import ToneSource
from filmhand.pipeline.separation.flat_regions import regions_of_flats
from filmhand.pipeline.separation.ink_shapes import InkShapes, Trap
from filmhand.pipeline.separation.ink_tones import InkTones
from filmhand.pipeline.separation.set_plan import ListedInk, SeparationMode, SetPlan, WantedSet
from filmhand.units import PixelsPerInch

YULE_NIELSEN = 1.7
"""How far light spreads among dots on cloth and paper (common practice, no source)."""
# Darker and grayer than this an ink is black (common practice, no source).
_BLACK_LIGHTNESS, _BLACK_CHROMA = 30.0, 12.0


@dataclass(frozen=True, slots=True, eq=False)
class SeparatedArt:
    """Art in inks.

    Attributes
    ----------
    source : the tones of all films, in print order
    model : what they print
    unreached_pixels : of flat art, how many pixels no ink comes near
    unreached : their most frequent colors; ``nearest`` is a place in print order, and the number of
        inks for the cloth
    """

    source: ToneSource
    model: PrintModel
    unreached_pixels: int = 0
    unreached: tuple[UnreachedColor, ...] = ()


def separated_art(
    codes: SrgbCodes,
    wanted: WantedSet,
    plan: SetPlan,
    to: tuple[int, int],
    resolution: PixelsPerInch,
    *,
    tolerance: float = FLAT_TOLERANCE,
) -> SeparatedArt:
    """The tones of the films of a set.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB, the art on its cloth as it lies on the films
    wanted : what is asked for; with a choke its first ink is the underbase
    plan : of the same set
    to : (width, height) that the art has on the films, in device pixels
    resolution : of the films
    tolerance : CIEDE2000 within which a color of flat art is an ink's
    """
    cloth = np.array(wanted.cloth, float)
    model = print_model(
        [PrintingInk(np.array(ink.color, float), ink.opacity) for ink in wanted.inks],
        cloth,
        yule_nielsen=YULE_NIELSEN,
    )
    choke = None if wanted.choke_mm is None else DiscReach.of(wanted.choke_mm, resolution)
    if wanted.mode is SeparationMode.SPOT:
        trap = DiscReach.of(wanted.trap_mm, resolution)
        return _in_spots(codes, wanted, plan, to, model, trap, choke, tolerance)
    total = np.inf if wanted.total_ink is None else wanted.total_ink
    rules = InkRules(total, black_of(wanted.inks), wanted.black_generation)
    source = InkTones(
        codes,
        separation_table(model, rules),
        to,
        total_ink=total,
        underbase=None if choke is None else 0,
        choke=choke,
    )
    return SeparatedArt(source, model)


def black_of(inks: tuple[ListedInk, ...]) -> int | None:
    """Which ink is black, the darkest of several; None where none is."""
    black = [
        place
        for place, ink in enumerate(inks)
        if ink.color[0] < _BLACK_LIGHTNESS and np.hypot(*ink.color[1:]) < _BLACK_CHROMA
    ]
    return min(black, key=lambda place: inks[place].color[0], default=None)


def _in_spots(
    codes: SrgbCodes,
    wanted: WantedSet,
    plan: SetPlan,
    to: tuple[int, int],
    model: PrintModel,
    trap: DiscReach,
    choke: DiscReach | None,
    tolerance: float,
) -> SeparatedArt:
    """Flat art in its inks; the underbase has no color of the art's own."""
    below = 0 if choke is None else 1
    colors: Float64Array = np.array([ink.color for ink in wanted.inks[below:]], float)
    found = regions_of_flats(
        codes, flat_colors(codes, colors, np.array(wanted.cloth, float), tolerance=tolerance)
    )
    traps = [
        Trap(one.spread - below, one.under - below)
        for one in plan.traps
        if min(one.spread, one.under) >= below
    ]
    shapes = InkShapes(found.regions, to, traps=traps, reach=trap)
    unreached = tuple(
        UnreachedColor(one.color, one.nearest + below, one.difference, one.pixels)
        for one in found.unreached
    )
    source = shapes if choke is None else _OnUnderbase(shapes, choke)
    return SeparatedArt(source, model, found.unreached_pixels, unreached)


@dataclass(frozen=True, slots=True)
class _OnUnderbase:
    """The shapes of inks and, before them, that of what lies under all of them."""

    shapes: InkShapes
    choke: DiscReach

    def tones(self, first: int, count: int) -> UInt16Array:
        inks = range(self.shapes.ink_count)
        base = self.shapes.underbase(first, count, self.choke, inks=inks)
        return np.concatenate([base[None], self.shapes.tones(first, count)])
