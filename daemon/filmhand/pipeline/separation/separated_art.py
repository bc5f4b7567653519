"""Colors of art to the tones of a set's films, by the way that the set names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.cielab import lab_to_srgb
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_table import ColorTable
from filmhand.ink.flat_colors import FLAT_TOLERANCE, UnreachedColor, flat_colors
from filmhand.ink.mixing import YULE_NIELSEN, PrintingInk, PrintModel, print_model
from filmhand.ink.solving import InkRules, separation_table
from filmhand.mesh.limits import STENCIL_STROKE_UM
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.geometry.fades import fades_of
from filmhand.pipeline.separation.geometry.film_bits import ToneSource
from filmhand.pipeline.separation.geometry.flat_regions import FlatRegions, regions_of_flats
from filmhand.pipeline.separation.geometry.ink_shapes import InkShapes, Trap
from filmhand.pipeline.separation.geometry.ink_tones import InkTones
from filmhand.pipeline.separation.geometry.overprint import fill_beneath
from filmhand.pipeline.separation.geometry.small_tints import without_crumbs
from filmhand.pipeline.separation.planning.output_profile import OutputProfile
from filmhand.pipeline.separation.planning.set_plan import (
    ListedInk,
    SeparationMode,
    SetPlan,
    WantedSet,
)
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

# Darker and grayer than this an ink is black (common practice, no source).
_BLACK_LIGHTNESS, _BLACK_CHROMA = 30.0, 12.0


@dataclass(frozen=True, slots=True, eq=False)
class SeparatedArt:
    """Art in inks.

    Attributes
    ----------
    source : the tones of all films, in print order
    model : what they print
    screened : of each film whether it has tones between none and a solid
    unreached_pixels : of flat art, how many pixels no ink comes near
    unreached : their most frequent colors; ``nearest`` is a place in print order, and the number of
        inks for the cloth
    """

    source: ToneSource
    model: PrintModel
    screened: tuple[bool, ...]
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
    flats: FlatRegions | None = None,
    table: Callable[[PrintModel, InkRules], ColorTable] = separation_table,
    press: OutputProfile | None = None,
    drawn: bool = False,
    lossy: bool = False,
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
    flats : what :func:`spot_regions` found in the same art, where that is known
    table : gives the table from colors to inks
    press : what the ICC profile of the press says, in place of model and table
    drawn : whether the art is a drawing and no photograph
    lossy : whether it was a JPEG or the like
    """
    model = model_of(wanted) if press is None else press.model
    choke = None if wanted.choke_mm is None else DiscReach.of_choke(wanted.choke_mm, resolution)
    if wanted.mode is SeparationMode.SPOT:
        trap = DiscReach.of(wanted.trap_mm, resolution)
        if flats is None:
            fine = is_fine(resolution.x * codes.shape[1] / to[0])
            flats = spot_regions(codes, wanted, tolerance=tolerance, fine=fine)
        return _in_spots(flats, wanted, plan, to, model, trap, choke)
    rules = rules_of(wanted)
    source = InkTones(
        codes,
        table(model, rules) if press is None else press.table,
        to,
        total_ink=rules.total_ink,
        underbase=None if choke is None else 0,
        choke=choke,
        drawn=drawn,
        lossy=lossy,
    )
    return SeparatedArt(source, model, (True,) * len(wanted.inks))


def model_of(wanted: WantedSet) -> PrintModel:
    """The print that the inks of a set make on their cloth."""
    inks = [PrintingInk(np.array(ink.color, float), ink.opacity) for ink in wanted.inks]
    return print_model(inks, np.array(wanted.cloth, float), yule_nielsen=YULE_NIELSEN)


def rules_of(wanted: WantedSet) -> InkRules:
    """What of the inks of a set may be printed over each other."""
    total = np.inf if wanted.total_ink is None else wanted.total_ink
    return InkRules(total, black_of(wanted.inks), wanted.black_generation)


def is_fine(ppi: float) -> bool:
    """Whether art has so many pixels to the inch that no stencil holds a line of one of them."""
    return ppi > 1000 * MM_PER_INCH / STENCIL_STROKE_UM


def spot_regions(
    codes: SrgbCodes, wanted: WantedSet, *, tolerance: float = FLAT_TOLERANCE, fine: bool = False
) -> FlatRegions:
    """Where each ink is in flat art; parameters are as for :func:`separated_art`.

    ``fine`` tells that a line of one of its pixels is too thin to be printed.
    """
    first = _first_of_flats(wanted, tolerance)
    colors: Float64Array = np.array([ink.color for ink in wanted.inks[first:]], float)
    cloth = np.array(wanted.cloth, float)
    flats = flat_colors(codes, colors, cloth, tolerance=tolerance, fine=fine)
    # In fades the most frequent of the codes near an ink's need not be the end of the fade.
    fades = fades_of(codes, replace(flats, found=lab_to_srgb(flats.palette)))
    if fades is not None:
        flats = flat_colors(codes, colors, cloth, tolerance=tolerance, fading=fades.of, fine=fine)
        fades = fades_of(codes, flats)
    return regions_of_flats(codes, flats, fades=fades)


def _first_of_flats(wanted: WantedSet, tolerance: float = FLAT_TOLERANCE) -> int:
    """The first ink that prints a color of its own: 1 where that below all others has none.

    What lies below is seen where nothing lies on it, unless another ink, or the cloth, has its
    color.
    """
    if wanted.choke_mm is None:
        return 0
    others = np.array([*(ink.color for ink in wanted.inks[1:]), wanted.cloth], float)
    below = np.array(wanted.inks[0].color, float)
    return int(color_difference(others, below).min() <= tolerance)


def black_of(inks: tuple[ListedInk, ...]) -> int | None:
    """Which ink is black, the darkest of several; None where none is."""
    black = [
        place
        for place, ink in enumerate(inks)
        if ink.color[0] < _BLACK_LIGHTNESS and np.hypot(*ink.color[1:]) < _BLACK_CHROMA
    ]
    return min(black, key=lambda place: inks[place].color[0], default=None)


def _in_spots(
    found: FlatRegions,
    wanted: WantedSet,
    plan: SetPlan,
    to: tuple[int, int],
    model: PrintModel,
    trap: DiscReach,
    choke: DiscReach | None,
) -> SeparatedArt:
    """Flat art in its inks."""
    first, below = _first_of_flats(wanted), 0 if choke is None else 1
    traps = [
        Trap(one.spread - first, one.under - first)
        for one in plan.traps
        if min(one.spread, one.under) >= below
    ]
    regions = without_crumbs(found.regions)
    over = [k - first for k in wanted.overprinting]
    fill_beneath(regions, over)
    shapes = InkShapes(regions, to, traps=traps, reach=trap, over=over)
    unreached = tuple(
        UnreachedColor(one.color, one.nearest + first, one.difference, one.pixels)
        for one in found.unreached
    )
    toned = tuple(tones is not None for tones in regions.tones)
    if choke is None:
        return SeparatedArt(shapes, model, toned, found.unreached_pixels, unreached)
    source = _OnUnderbase(shapes, choke, own=first == 0)
    toned = (any(toned), *toned[1 - first :])
    return SeparatedArt(source, model, toned, found.unreached_pixels, unreached)


@dataclass(frozen=True, slots=True)
class _OnUnderbase:
    """The shapes of inks and, before them, that of what lies under all of them.

    ``own`` tells that the first of the shapes is what the underbase prints by itself.
    """

    shapes: InkShapes
    choke: DiscReach
    own: bool

    def tones(self, first: int, count: int) -> UInt16Array:
        inks = range(self.shapes.ink_count)
        base = self.shapes.underbase(first, count, self.choke, inks=inks)
        tones = self.shapes.tones(first, count)
        if not self.own:
            return np.concatenate([base[None], tones])
        np.maximum(tones[0], base, out=tones[0])
        return tones
