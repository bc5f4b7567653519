"""Mending and measuring the finished bits of the art."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field, replace
from math import floor
from typing import TypeVar

import numpy as np

from filmhand.arrays import BoolArray, UInt8Array
from filmhand.mesh.bitmap.components import Census, Components
from filmhand.mesh.bitmap.small_components import HeldComponents, SmallComponents
from filmhand.mesh.bitmap.spotting_out import SpottedOut, spot_out
from filmhand.mesh.bitmap.strokes import InkShape, Narrowness, ThinPieces, narrowest
from filmhand.mesh.bitmap.thin_pieces import PieceLengths, thin_pieces
from filmhand.mesh.bitmap.thin_rules import ScreenOfRules, thin_rules
from filmhand.mesh.bitmap.worst_places import (
    WorstPlace,
    disc_over,
    longest_pieces,
    narrowest_places,
    smallest_components,
)
from filmhand.mesh.checks import Check, Verdict
from filmhand.mesh.limits import (
    STENCIL_GAP_UM,
    STENCIL_STROKE_UM,
    Feature,
    MeshLimits,
    SizeLimits,
    pixels_of_circle,
)
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.render.strips import AreaOfSheet, CutRows
from filmhand.pipeline.verdict.film_likeness import FilmLikeness
from filmhand.speaking_pool import SpeakingPool
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

_Found = TypeVar("_Found")

# A change can leave a small component of its own beside it; a few rounds settle that. What is only
# taken away leaves none, so the rounds after the first do no more than that, and come to an end.
_FREE_ROUNDS, _ROUNDS = 3, 12
# Shares of the ink that may be mended in silence.
TONE_ALLOWANCE, LINE_ALLOWANCE = 0.01, 0.001


@dataclass(frozen=True, slots=True)
class CountedFilm:
    """The dots and shadow dots of the art, after mending, and what was mended.

    ``worst`` are the places that the mesh would lose first, in pixels of the sheet; ``likeness`` is
    None where no whole art lies on the sheet.
    """

    dots: Components
    shadow_dots: Components
    spotted: SpottedOut
    worst: list[WorstPlace] = field(default_factory=list)
    likeness: FilmLikeness | None = None


@dataclass(frozen=True, slots=True)
class SmallestHeld:
    """What the mesh holds, so what smaller dots and shadow dots are mended to."""

    dot: HeldComponents
    shadow_dot: HeldComponents

    @classmethod
    def to_pass(cls, limits: MeshLimits, resolution: PixelsPerInch) -> SmallestHeld:
        """The smallest that do not fail: just above the fail limits."""
        dot, shadow_dot = (
            HeldComponents(
                pixels_of_circle(size.fail_um, resolution) + 1, _bridge(size, resolution)
            )
            for size in (limits.dot, limits.shadow_dot)
        )
        return cls(dot, shadow_dot)

    @classmethod
    def to_print_evenly(cls, limits: MeshLimits, resolution: PixelsPerInch) -> SmallestHeld:
        """The smallest that do not even warn."""
        dot, shadow_dot = (
            HeldComponents(pixels_of_circle(size.warn_um, resolution), _bridge(size, resolution))
            for size in (limits.dot, limits.shadow_dot)
        )
        return cls(dot, shadow_dot)

    def at_most(self, dot: int, shadow_dot: int) -> SmallestHeld:
        """The same, but no larger than so many pixels."""
        return SmallestHeld(
            replace(self.dot, pixels=min(dot, self.dot.pixels)),
            replace(self.shadow_dot, pixels=min(shadow_dot, self.shadow_dot.pixels)),
        )


def _bridge(size: SizeLimits, resolution: PixelsPerInch) -> tuple[int, int]:
    """The fewest whole pixels, across and down, that are wider than what is lost."""
    across, down = (floor(size.fail_um / side) + 1 for side in resolution.pixel_um())
    return across, down


def census_of(art: AreaOfSheet, *, smallest: SmallestHeld | None, barred: CutRows | None) -> Census:
    """A census of the art that keeps what is smaller than it should be.

    ``barred`` tells where nothing may be inked; its edge counts as a border.
    """
    return Census(
        (art.area.width, art.area.height),
        skip=art.skip,
        small_dot=smallest.dot.pixels if smallest else 0,
        small_shadow_dot=smallest.shadow_dot.pixels if smallest else 0,
        outside=_by_rows(barred),
    )


def spot_out_art(
    work: FilmInWork,
    art: AreaOfSheet,
    census: Census,
    *,
    smallest: SmallestHeld | None,
    barred: CutRows | None,
) -> CountedFilm:
    """Mend what is too small in the art, and count it again until nothing changes.

    Parameters
    ----------
    art : the finished bits
    census : of them, to be taken
    smallest : sizes to mend to; None mends nothing
    """
    mended = SpottedOut()
    threads = work.request.threads
    dots, shadow_dots = census.take(art.read_packed, census.strips, threads=threads)
    if smallest is None:
        return CountedFilm(dots, shadow_dots, mended)
    is_tone = work.screen is not None
    budget = int((TONE_ALLOWANCE if is_tone else LINE_ALLOWANCE) * dots.pixels)
    for number in range(_ROUNDS):
        if not dots.small.row.size and not shadow_dots.small.row.size:
            break
        done = spot_out(
            art.read,
            art.write,
            (art.area.width, art.area.height),
            dots=SmallComponents.of(dots.small),
            shadow_dots=SmallComponents.of(shadow_dots.small),
            dot=smallest.dot,
            shadow_dot=smallest.shadow_dot,
            allowance=budget - mended.pixels,
            barred=_by_rows(barred),
            keep_tone=is_tone,
            only_turn=number >= _FREE_ROUNDS,
        )
        if not done.count:
            break
        mended.add(done)
        changed = census.holding(done.rows)
        dots, shadow_dots = census.take(art.read_packed, changed, threads=threads)
    return CountedFilm(dots, shadow_dots, mended)


def _by_rows(barred: CutRows | None) -> Callable[[int, int], BoolArray] | None:
    """The same rows, asked for by first and last instead of by first and count."""
    return None if barred is None else lambda first, stop: barred(first, stop - first)


def measure_lines(
    art: AreaOfSheet,
    resolution: PixelsPerInch,
    limits: MeshLimits | None,
    *,
    threads: int,
    shown: CutRows | None = None,
) -> tuple[Narrowness, Narrowness]:
    """The narrowest stroke and gap of line art; ``shown`` tells where, else everywhere.

    Single pieces at or under a limit are looked for where the share of the ink would pass it.
    """
    # Without a mesh there is nothing to compare with, but the record still tells the widths.
    up_to = 2 * max(limits.stroke.warn_um, limits.gap.warn_um) if limits else 600.0

    def one(ink: bool) -> Narrowness:
        shape = _shape(art, resolution, ink=ink, near_um=up_to / 2, shown=shown)
        found = narrowest(shape, up_to_um=up_to)
        for limit in (_least_width(limits, ink=ink), _even_width(limits, ink=ink)):
            if found.width_um <= limit:
                break
            pieces = thin_pieces(shape, limit, PieceLengths.of_line_art(limit))
            if pieces is not None:
                return replace(found, pieces=pieces)
        return found

    return _of_both_colors(one, threads)


def thin_in_halftone(
    art: AreaOfSheet,
    resolution: PixelsPerInch,
    limits: MeshLimits,
    screen: ScreenOfRules,
    *,
    threads: int,
) -> tuple[ThinPieces | None, ThinPieces | None]:
    """Thin rules inside pictures: strokes and gaps of the art that the mesh does not hold."""

    def one(ink: bool) -> ThinPieces | None:
        limit = _least_width(limits, ink=ink)
        shape = _shape(art, resolution, ink=ink, near_um=2 * limit, shown=None)
        return thin_rules(shape, limit, screen)

    return _of_both_colors(one, threads)


def _of_both_colors(one: Callable[[bool], _Found], threads: int) -> tuple[_Found, _Found]:
    """What is found of ink, for strokes, and of bare film, for gaps."""
    with SpeakingPool(min(2, threads)) as pool:
        strokes, gaps = pool.map(one, (True, False))
    return strokes, gaps


def _least_width(limits: MeshLimits | None, *, ink: bool) -> float:
    """At or under this a stroke or a gap is lost; without a mesh, what a stencil asks for."""
    if limits is None:
        return STENCIL_STROKE_UM if ink else STENCIL_GAP_UM
    return limits.stroke.fail_um if ink else limits.gap.fail_um


def _even_width(limits: MeshLimits | None, *, ink: bool) -> float:
    """Under this a stroke or a gap may print unevenly; 0 without a mesh."""
    if limits is None:
        return 0.0
    return limits.stroke.warn_um if ink else limits.gap.warn_um


def worst_places(
    art: AreaOfSheet,
    counted: tuple[Components, Components],
    checks: list[Check],
    resolution: PixelsPerInch,
    limits: MeshLimits | None,
    *,
    shown: CutRows | None = None,
) -> list[WorstPlace]:
    """The places on the sheet that the checks speak of, where they do not pass.

    Parameters
    ----------
    counted : dots and shadow dots; of those that are too small the runs were kept
    checks : of dots and shadow dots, of strokes and gaps, or of both
    shown : where strokes and gaps count, else everywhere
    """
    if limits is None:
        return []
    spots: list[WorstPlace] = []
    near_um = max(limits.stroke.warn_um, limits.gap.warn_um)
    for check in checks:
        if check.verdict is Verdict.PASS:
            continue
        limit = check.decisive_limit
        assert limit is not None
        feature = check.name.row.feature
        if feature is None or check.name.row.key is None:
            continue
        ink = feature.is_ink
        if feature in {Feature.DOT, Feature.SHADOW_DOT}:
            spots += smallest_components(counted[0 if ink else 1].small, resolution, ink=ink)
        else:
            if check.pieces is not None:
                spots += longest_pieces(check.pieces, feature, resolution)
                continue
            shape = _shape(art, resolution, ink=ink, near_um=near_um, shown=shown)
            spots += narrowest_places(shape, disc_over(limit, resolution))
    return [spot.moved(art.area.left, art.area.top) for spot in spots]


def _shape(
    art: AreaOfSheet, resolution: PixelsPerInch, *, ink: bool, near_um: float, shown: CutRows | None
) -> InkShape:
    """The ink or the gaps of the area; what is not ``shown`` is taken as bare.

    Its rows are packed as on the sheet, from the byte in which the area begins.
    """

    def rows(a: int, b: int) -> UInt8Array:
        packed = art.read_packed(a, b)
        if shown is None:
            return packed
        masked: UInt8Array = packed & np.packbits(
            np.pad(shown(a, b - a), ((0, 0), (art.skip, 0))), axis=1
        )
        return masked

    size = art.area.width, art.area.height
    return InkShape(rows, size, resolution=resolution, ink=ink, near_um=near_um, skip=art.skip)
