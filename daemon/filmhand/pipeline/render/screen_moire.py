"""The moire of a profile's screen with its mesh: its bands, and what would be seen less.

Bands are judged on the finished film (:func:`film_moire`), or where there is none yet on the tile
that it is made with (:func:`tile_moire`). What else might be done is looked for with ideal dots of
the same shape, and offered where its own tile is better too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, Int64Array
from filmhand.mesh.checks import Check, CheckName, Verdict, check_moire
from filmhand.mesh.limits import best_lpi
from filmhand.mesh.moire.alternatives import (
    WantedScreen,
    angle_choices,
    mesh_angle_choices,
    ruling_choices,
)
from filmhand.mesh.moire.bands import FilmStrength, MeshThreads, Moire, moire_with_mesh
from filmhand.mesh.moire.fourier_orders import strength_in_windows
from filmhand.mesh.moire.visibility import Sight
from filmhand.pipeline.render.render_words import MoireWord
from filmhand.pipeline.render.screen_plan import (
    ScreenPlan,
    limits_of,
    plan_screen,
    screen_checks,
    spot_of,
)
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.profile.model import Profile
from filmhand.profile.terms import MoireLimits
from filmhand.screen.dot_shapes import DotFunction
from filmhand.screen.grain import Grain
from filmhand.screen.lattice import Lattice
from filmhand.screen.order_strength import strength_of_shape, strength_of_tile
from filmhand.screen.tile import ThresholdTile
from filmhand.sheet.layout import Box, in_millimeters, sheet_boxes
from filmhand.units import PixelsPerInch, SheetSize, finest_lpi, length_text
from filmhand.values import dataclass

_OFFERS = 3
# Bands of less than this share of what warns are not worth a change.
_WORTH = 0.5
# A film is looked at in windows of so many cells a side, so many across and down.
_WINDOW_CELLS, _WINDOWS = 16, 6


_CHANGES: dict[str, Callable[[Profile, float], Profile]] = {
    "angle": lambda profile, angle: replace(profile, angle=angle),
    "lpi": lambda profile, lpi: replace(profile, lpi=lpi),
    "mesh_angle": lambda profile, angle: replace(
        profile, press=replace(profile.press, mesh_angle=angle)
    ),
}


@dataclass(frozen=True, slots=True)
class MoireOffer:
    """A change of one wish by which bands are seen less.

    Attributes
    ----------
    key : ``angle``, ``lpi`` or ``mesh_angle``
    value : what it would be
    profile : with the change
    moire : of its tile
    finer : by how much more lines than now the picture is drawn, as a share; less than 0 is softer
    check : whether it passes
    """

    key: str
    value: float
    profile: Profile
    moire: Moire
    finer: float
    check: Check

    @property
    def passes(self) -> bool:
        """Whether the bands do not even warn."""
        return self.check.verdict is Verdict.PASS

    def record(self) -> dict[str, Any]:
        """The offer as reports show it."""
        return {
            "change": self.key,
            "value": self.value,
            **self.moire.summary(),
            "sharpness_pct": round(100 * self.finer, 1),
            "passes": self.passes,
        }


def judge_moire(
    moire: Moire, limits: MoireLimits, *, refuse: bool, sheet: SheetSize | None = None
) -> Check:
    """The check of the bands that are seen most, told in the unit of the sheet if it is known."""
    pair = (limits.warn, limits.fail)
    if not moire.bands:
        return check_moire(0.0, pair, refuse=refuse)
    seen = moire.bands[0]
    detail = MoireWord.BANDS.say(
        period=f"{seen.period_mm:.1f} mm"
        if sheet is None
        else length_text(seen.period_mm, sheet, decimals=1),
        change=f"{seen.strength * 100:.1f}",
        distance=f"{limits.distance_mm / 1000:g} m",
    )
    return check_moire(seen.visibility, pair, refuse=refuse, detail=detail)


def moire_check(profile: Profile, moire: Moire) -> Check:
    """The check of bands by a profile's limits."""
    refuse = str(profile.limits.moire) == "refuse"
    return judge_moire(moire, profile.verdict.moire, refuse=refuse, sheet=profile.sheet)


def longest_art_mm(profile: Profile) -> float:
    """The longer side of the largest art that the sheet has room for."""
    printable = sheet_boxes(profile)[1]
    return max(in_millimeters((printable.width, printable.height), profile.acetate_dpi))


def tile_moire(
    profile: Profile, plan: ScreenPlan, tile: ThresholdTile, longest_mm: float
) -> Moire | None:
    """The bands of a screen as it is made; None without a mesh, and for scattered dots."""
    if profile.mesh is None or isinstance(plan.grid, Grain):
        return None
    return _ideal(profile, plan.grid, longest_mm).of_film(strength_of_tile(plan.grid, tile))


def film_moire(
    profile: Profile, plan: ScreenPlan, art: AreaOfSheet, longest_mm: float
) -> Moire | None:
    """The bands of the finished film of a screen, None as for :func:`tile_moire`.

    Parameters
    ----------
    art : where on the film to look
    longest_mm : the longest bands that the art has room for
    """
    if profile.mesh is None or isinstance(plan.grid, Grain):
        return None
    moire = _ideal(profile, plan.grid, longest_mm)
    return measured_moire(moire, art, plan.grid.frequencies(), profile.acetate_dpi)


def measured_moire(
    moire: Moire, art: AreaOfSheet, vectors: Float64Array, resolution: PixelsPerInch
) -> Moire:
    """The bands with the strength that the screen of this frequency has on the film.

    Parameters
    ----------
    vectors : (2, 2) float64, the screen's frequency vectors, per inch, y up
    """
    return moire.of_film(film_strength(art, vectors, resolution))


def film_strength(
    art: AreaOfSheet, vectors: Float64Array, resolution: PixelsPerInch
) -> FilmStrength:
    """How strong each order of a screen is on the finished film.

    Parameters
    ----------
    vectors : (2, 2) float64, the screen's frequency vectors, per inch, y up
    """

    def strength(orders: Int64Array) -> Float64Array:
        side = round(_WINDOW_CELLS * max(resolution.x, resolution.y) / np.hypot(*vectors[1]))
        waves = orders[:, :2] @ vectors / [resolution.x, resolution.y] + orders[:, 2:]
        return strength_in_windows(_windows(art, side), waves)

    return strength


def _windows(art: AreaOfSheet, side: int) -> Iterator[BoolArray]:
    """Windows of the film spread over the art."""
    box = art.area
    width, height = min(side, box.width), min(side, box.height)
    spread = [(np.arange(_WINDOWS) + 0.5) / _WINDOWS] * 2
    lefts, tops = (
        sorted(set(np.rint(share * room).astype(int).tolist()))
        for share, room in zip(spread, (box.width - width, box.height - height), strict=True)
    )
    for top in tops:
        for left in lefts:
            inside = Box(box.left + left, box.top + top, width, height)
            yield AreaOfSheet(art.bits, inside).read(0, height)


def moire_offers(
    profile: Profile, plan: ScreenPlan, tile: ThresholdTile, now: Moire | None, longest_mm: float
) -> list[MoireOffer]:
    """Up to three angles, rulings and turns of the mesh each, the least seen of each first.

    None where bands are seen so little that there is nothing to better. Each offer is seen less
    than what it replaces, as both are made, and brings no other warning; turns of the mesh are
    offered only where the screen does not pass as it is.

    now : the bands of the screen as it is, from :func:`tile_moire`
    """
    wanted = _wanted(profile, longest_mm)
    if now is None or wanted is None or now.visibility < _WORTH * profile.verdict.moire.warn:
        return []

    def warned(lpi: float) -> set[CheckName]:
        checks = screen_checks(profile, replace(plan, lpi_asked=lpi))
        return {check.name for check in checks if check.verdict is not Verdict.PASS}

    limits = limits_of(profile)
    assert limits is not None
    finest = min(finest_lpi(profile.acetate_dpi), max(wanted.lpi, best_lpi(limits)))
    already = warned(wanted.lpi)
    possible = ruling_choices(wanted, finest=finest, may=lambda lpi: warned(lpi) <= already)
    choices = {"angle": angle_choices(wanted), "lpi": possible}
    if moire_check(profile, now).verdict is not Verdict.PASS:
        choices["mesh_angle"] = mesh_angle_choices(wanted)
    offers = []
    for key, found in choices.items():
        for choice in found[:_OFFERS]:
            changed = _CHANGES[key](profile, choice.value)
            if key == "mesh_angle":
                made = tile_moire(changed, plan, tile, longest_mm)
            else:
                other = plan_screen(changed)
                made = tile_moire(changed, other, other.tile(), longest_mm)
            if made is not None and made.visibility < now.visibility:
                offers.append(
                    MoireOffer(
                        key,
                        choice.value,
                        changed,
                        made,
                        choice.screen.lpi / wanted.lpi - 1,
                        moire_check(changed, made),
                    )
                )
    kinds = list(choices)
    return sorted(
        offers, key=lambda offer: (kinds.index(offer.key), round(offer.moire.visibility, 6))
    )


def sight_of(limits: MoireLimits, longest_mm: float) -> Sight:
    """How bands are looked at by a profile's limits."""
    return Sight(longest_mm, limits.distance_mm)


def _ideal(profile: Profile, lattice: Lattice, longest_mm: float) -> Moire:
    """The bands of ideal dots on the lattice as it is made, in its pixels."""
    assert profile.mesh is not None and profile.dot is not None
    return ideal_moire(
        lattice.frequencies(),
        MeshThreads.of(profile.mesh, angle=profile.press.mesh_angle),
        spot_of(profile.dot),
        sight_of(profile.verdict.moire, longest_mm),
        lattice.resolution,
        lines=profile.dot.kind.row.lines,
    )


def ideal_moire(
    vectors: Float64Array,
    weave: MeshThreads,
    spot: DotFunction,
    sight: Sight,
    resolution: PixelsPerInch,
    *,
    lines: bool,
) -> Moire:
    """The bands of ideal dots in pixels.

    Parameters
    ----------
    vectors : (2, 2) float64, the screen's frequency vectors, per inch, y up
    """
    dpi = (resolution.x, resolution.y)
    strength = strength_of_shape(spot, vectors / dpi)
    return moire_with_mesh(vectors[1:] if lines else vectors, weave, strength, sight, pixels=dpi)


def _wanted(profile: Profile, longest_mm: float) -> WantedScreen | None:
    """The profile's screen on its mesh; None where there can be no moire."""
    if profile.mesh is None or profile.lpi is None or profile.dot is None:
        return None
    if profile.dot.kind.row.scattered:
        return None
    return WantedScreen(
        lpi=profile.lpi,
        angle=profile.angle,
        lines=profile.dot.kind.row.lines,
        weave=MeshThreads.of(profile.mesh, angle=profile.press.mesh_angle),
        strength=strength_of_shape(spot_of(profile.dot)),
        sight=sight_of(profile.verdict.moire, longest_mm),
    )
