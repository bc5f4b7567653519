"""The inks that a profile asks for, with what each is screened and judged by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array
from filmhand.art.raster import in_threads, row_strips
from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_names import ink_names
from filmhand.ink.flat_colors import FLAT_TOLERANCE
from filmhand.ink.palette import find_inks
from filmhand.ink.soft_edges import CONTEXT, soft_edges
from filmhand.mesh.table import Mesh
from filmhand.pipeline.separation.planning.press_of import press_of
from filmhand.pipeline.separation.planning.set_plan import FilmOfSet, ListedInk, SeparationMode
from filmhand.profile.inks import (
    InkChoice,
    InkColor,
    InkWish,
    InkWishes,
    Separate,
    ink_file_name,
    ink_key,
)
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import curve_of_ink
from filmhand.values import dataclass

_Code = TypeVar("_Code", bound=np.generic)

PROCESS_COLORS = {
    "cyan": (55.0, -37.0, -50.0),
    "magenta": (48.0, 74.0, -3.0),
    "yellow": (89.0, -5.0, 93.0),
    "black": (16.0, 0.0, 0.0),
}
"""L*, a*, b* of solids on coated paper (ISO 12647-2:2004 and its amendment of 2007, paper type 1;
from memory)."""
PROCESS_TOTAL = 3.0
"""The most that process inks add up to, 300 %, if nothing is said (common practice, no source)."""
# A white that is printed below others is a little less than white (from memory).
_WHITE_INK = (95.0, 0.0, 0.0)
# How much an ink hides where nothing is said: lying alone it does not matter; plastisol on dark
# cloth hides most, and inks that are mixed on light cloth half (common practice, no source).
_USUAL_OPACITY = {
    SeparationMode.SPOT: 1.0,
    SeparationMode.SIMULATED: 0.8,
    SeparationMode.PROCESS: 0.5,
}
_SIDE_LOOKED_AT = 1000  # pixels
_STRIP_PIXELS = 96_000
DARK_CLOTH = 50.0
"""L* under which cloth is dark."""


@dataclass(frozen=True, slots=True)
class SetInks:
    """Inks in print order.

    Attributes
    ----------
    wishes : of each what was asked for or found
    based : whether the first lies below all others, choked
    transparent : whether they are process inks, which hide nothing
    """

    wishes: tuple[InkWish, ...]
    based: bool
    transparent: bool

    def without(self, dropped: Sequence[str]) -> SetInks:
        """The same without the inks of these names."""
        kept = tuple(ink for ink in self.wishes if ink.name not in dropped)
        return replace(self, wishes=kept, based=self.based and self.wishes[0] in kept)

    def listed(self, mode: SeparationMode, profile: Profile) -> tuple[ListedInk, ...]:
        """The inks as a plan has them."""
        usual = 0.0 if self.transparent else _USUAL_OPACITY[mode]
        return tuple(
            ListedInk(
                ink.name,
                lab_of(ink.color),
                usual if ink.opacity is None else ink.opacity,
                _label(ink.mesh or profile.mesh),
                profile.lpi if ink.lpi is None else ink.lpi,
                ink.angle,
                ink.overprint,
            )
            for ink in self.wishes
        )

    def profile_of(self, film: FilmOfSet, profile: Profile) -> Profile:
        """The profile by which the film of an ink is made and judged: its own mesh and screen.

        Its press is by its own reading, where there is one, and else by the profile's.
        """
        wish = self.wishes[film.place - 1]
        own = curve_of_ink(profile.curves, ink_file_name(wish.name))
        return replace(
            profile,
            tone=profile.tone if own is None else replace(profile.tone, gain=own),
            mesh=wish.mesh or profile.mesh,
            lpi=profile.lpi if wish.lpi is None else wish.lpi,
            angle=profile.angle if film.ink.angle is None else film.ink.angle,
        )


def _label(mesh: Mesh | None) -> str:
    return "" if mesh is None else mesh.label


def lab_of(color: InkColor) -> tuple[float, float, float]:
    """L*, a*, b* of a color as profiles have it."""
    if not isinstance(color, str):
        return color
    lightness, a, b = (round(value, 4) for value in srgb_to_lab(codes_of(color)).tolist())
    return lightness, a, b


def codes_of(color: InkColor) -> Float64Array:
    """(3,) float64, sRGB codes 0..1 of a color as profiles have it."""
    if isinstance(color, str):
        return np.array(list(bytes.fromhex(color[1:])), float) / 255
    return lab_to_srgb(np.array(color, float))


def known_inks(profile: Profile) -> SetInks | None:
    """The inks that the profile names; None where they are to be found in the art."""
    assert profile.inks is not None
    if profile.inks.choice is InkChoice.AUTO:
        return None
    return _with_underbase(_named(profile.inks, profile), profile)


def _named(inks: InkWishes, profile: Profile) -> tuple[InkWish, ...]:
    if inks.choice is not InkChoice.PROCESS:
        return inks.listed
    press = press_of(profile)
    colors: dict[str, tuple[float, float, float]] = dict(PROCESS_COLORS)
    if press is not None:
        measured = zip(colors, press.colors.round(2).tolist(), strict=True)
        colors = {name: (L, a, b) for name, (L, a, b) in measured}
    return tuple(InkWish(name=name, color=color) for name, color in colors.items())


def some_pixels(codes: NDArray[_Code]) -> NDArray[_Code]:
    """Every so many rows and columns of (H, W, ...) art, as many as tell what it is like."""
    step = max(1, -(-max(codes.shape[:2]) // _SIDE_LOOKED_AT))
    return codes[::step, ::step]


def found_inks(
    codes: np.ndarray[tuple[int, ...], np.dtype[np.uint16]], profile: Profile
) -> SetInks:
    """The inks that art asks for, as many as the profile wants at most.

    Parameters
    ----------
    codes : (H, W, 3) uint16, sRGB codes of the art on its cloth

    Raises
    ------
    Refused
        Where what finds them is not installed.
    """
    assert profile.inks is not None
    cloth = np.array(lab_of(profile.cloth))
    found = find_inks(
        some_pixels(codes),
        cloth,
        count=profile.inks.count,
        edges=lambda: some_pixels(_soft_edges(codes)),
    )
    colors = found.colors
    base = profile.underbase
    if base is not None and len(colors):
        # What is printed below prints its own color too.
        colors = colors[color_difference(colors, np.array(_WHITE_INK)) > FLAT_TOLERANCE]
    names = ink_names(colors)
    if base is not None:
        names = [f"{name}-2" if ink_key(name) == ink_key(base.ink) else name for name in names]
    wishes = tuple(
        InkWish(name=name.replace("-", " "), color=(round(L, 2), round(a, 2), round(b, 2)))
        for name, (L, a, b) in zip(names, colors.tolist(), strict=True)
    )
    return _with_underbase(wishes, profile)


def _soft_edges(codes: NDArray[np.uint16]) -> BoolArray:
    """(H, W) which pixels of art are of soft edges."""
    found = np.zeros(codes.shape[:2], np.bool_)

    def one(rows: slice) -> None:
        first = max(0, rows.start - CONTEXT)
        part = soft_edges(codes[first : rows.stop + CONTEXT])
        found[rows] = part[rows.start - first :][: rows.stop - rows.start]

    in_threads(one, row_strips(found.shape, _STRIP_PIXELS))
    return found


def _with_underbase(inks: tuple[InkWish, ...], profile: Profile) -> SetInks:
    base, process = profile.underbase, profile.inks
    assert process is not None
    transparent = process.choice is InkChoice.PROCESS
    if base is None:
        return SetInks(inks, based=False, transparent=transparent)
    if ink_key(base.ink) not in [ink_key(ink.name) for ink in inks]:
        below = InkWish(name=base.ink, color=_WHITE_INK, opacity=1.0)
        inks = (below, *inks)
    return SetInks(inks, based=True, transparent=transparent)


def asked_mode(profile: Profile) -> SeparationMode | None:
    """How colors are to become inks; None where the art decides."""
    assert profile.inks is not None
    if profile.separate is not Separate.AUTO:
        return SeparationMode(str(profile.separate))
    return SeparationMode.PROCESS if profile.inks.choice is InkChoice.PROCESS else None


def mixing_mode(profile: Profile) -> SeparationMode:
    """How colors that are no flats become inks: by the cloth."""
    dark = lab_of(profile.cloth)[0] < DARK_CLOTH
    return SeparationMode.SIMULATED if dark else SeparationMode.PROCESS
