"""Colors of art that the inks of a set do not come near: warned of, or refused."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.errors import Quantity, Refused
from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab, with_black_at
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_names import color_name
from filmhand.ink.color_table import ColorTable
from filmhand.ink.flat_colors import FLAT_TOLERANCE
from filmhand.ink.mixing import PrintModel, bands_to_lab
from filmhand.language import and_list
from filmhand.pipeline.separation.planning.set_plan import ListedInk, WantedSet
from filmhand.pipeline.separation.recombined import RecombinedFilms
from filmhand.pipeline.separation.separated_art import SeparatedArt
from filmhand.pipeline.separation.set_words import SetNote, SetRefusal
from filmhand.profile.inks import MOST_INKS_OF_SET
from filmhand.values import dataclass

WARN_SHARE, FAIL_SHARE = 0.001, 0.05
"""Parts of flat art whose colors no ink comes near, from which on that is told and refused."""
FAR, FAR_SHARE = 12.0, 0.02
"""CIEDE2000 from which on a mixed color is another one, and the part of the art that may have such
before it is told."""
TOO_FAR, TOO_FAR_SHARE = 20.0, 0.2
"""The same, from which on art is refused (all six: ours, no source)."""
_SAMPLES = 40_000


@dataclass(frozen=True, slots=True, eq=False)
class FarColor:
    """Colors that no ink comes near.

    Attributes
    ----------
    share : of the art that has such, 0..1
    color : (3,) float64, L*, a*, b* of the most frequent
    nearest : place of the ink nearest to it in print order; the number of inks for the cloth
    difference : CIEDE2000 between the two
    too_far_share : of the art that is so far that it is refused
    mean : CIEDE2000 of all art to what is printed; None where each color goes to one ink
    """

    share: float
    color: Float64Array
    nearest: int
    difference: float
    too_far_share: float
    mean: float | None = None


def far_in_flats(found: SeparatedArt, pixels: int) -> FarColor | None:
    """What of flat art no ink comes near, if that is worth a word."""
    share = found.unreached_pixels / pixels
    if not found.unreached or share < WARN_SHARE:
        return None
    first = found.unreached[0]
    return FarColor(share, first.color, first.nearest, first.difference, share)


def far_in_mixtures(
    codes: UInt16Array,
    table: ColorTable,
    found: SeparatedArt,
    inks: Sequence[ListedInk],
    *,
    black: float = 0.0,
) -> FarColor | None:
    """What of art the inks cannot mix, if that is worth a word.

    Parameters
    ----------
    codes : (H, W, 3) uint16, sRGB codes
    table : from them to the inks
    black : light of the press's black, to which shadows are compressed; 0 for none, 1 for white
    """
    step = max(1, int(np.sqrt(codes.shape[0] * codes.shape[1] / _SAMPLES)))
    sample = codes[step // 2 :: step, step // 2 :: step].reshape(-1, 3)
    lab = srgb_to_lab(sample / 65535)
    wanted = with_black_at(lab, black)
    off = color_difference(found.model.screened(table.at(sample / 65535)), wanted)
    far = off > FAR
    if far.mean() <= FAR_SHARE:
        return None
    kinds, counts = np.unique((sample[far] >> 12) @ np.array([256, 16, 1]), return_counts=True)
    most = far.copy()
    most[far] = (sample[far] >> 12) @ np.array([256, 16, 1]) == kinds[counts.argmax()]
    color = lab[most].mean(axis=0)
    apart = color_difference(np.array([ink.color for ink in inks], float), color)
    nearest = int(apart.argmin())
    too_far = float((off > TOO_FAR).mean())
    return FarColor(
        float(far.mean()), color, nearest, float(apart[nearest]), too_far, float(off.mean())
    )


@dataclass(frozen=True, slots=True, eq=False)
class OverprintedColor:
    """What an ink that overprints becomes over others.

    Attributes
    ----------
    ink, below : places in print order, the ones below as they were printed
    share : of the art that has it, 0..1
    color : (3,) float64, L*, a*, b* of it
    difference : CIEDE2000 between it and what the ink is without them
    """

    ink: int
    below: tuple[int, ...]
    share: float
    color: Float64Array
    difference: float


def overprinted_colors(
    print_: RecombinedFilms, model: PrintModel, wanted: WantedSet
) -> list[OverprintedColor]:
    """The colors that overprinting inks lose over others, of each ink the most frequent.

    What lies below all inks stays where an ink knocks out, so it takes no color from any.
    """
    base = 0 if wanted.choke_mm is None else 1
    found = []
    for ink in wanted.overprinting:
        lost = []
        # The ink lies on top where none is printed after it.
        for combination in range(1 << ink, 2 << ink):
            share = float(print_.combined[combination])
            alone = 1 << ink | (combination & base)
            if share < WARN_SHARE or combination == alone:
                continue
            kept, color = bands_to_lab(model.primaries[[alone, combination]])
            difference = float(color_difference(color, kept))
            if difference > FLAT_TOLERANCE:
                below = tuple(k for k in range(base, ink) if combination >> k & 1)
                lost.append(OverprintedColor(ink, below, share, color, difference))
        if lost:
            found.append(max(lost, key=lambda one: one.share))
    return found


def overprinted_note(lost: OverprintedColor, inks: Sequence[ListedInk]) -> str:
    """The warning."""
    return SetNote.OVERPRINTED.say(
        ink=inks[lost.ink].name,
        below=and_list([inks[place].name for place in lost.below]),
        share=_percent(lost.share),
        color=color_told(lost.color),
        difference=f"{lost.difference:.0f}",
    )


def refuse_far(far: FarColor, inks: Sequence[ListedInk], *, process: bool = False) -> None:
    """Raise Refused where too much of the art is too far.

    Parameters
    ----------
    process : whether these are process inks, to which none can be added
    """
    told = {
        "color": color_told(far.color),
        "nearest": ink_told(far.nearest, inks),
        "difference": f"{far.difference:.0f}",
        "count": min(MOST_INKS_OF_SET, len(inks) + 1),
    }
    if far.mean is None:
        if far.share > FAIL_SHARE:
            raise _refusal(
                SetRefusal.COLORS, far.share, FAIL_SHARE, told | {"share": _percent(far.share)}
            )
    elif far.too_far_share > TOO_FAR_SHARE:
        row = SetRefusal.NOT_IN_PROCESS if process else SetRefusal.MIXED
        raise _refusal(
            row, far.too_far_share, TOO_FAR_SHARE,
            told | {"share": _percent(far.too_far_share), "far": f"{TOO_FAR:g}"},
        )  # fmt: skip


def _refusal(row: SetRefusal, share: float, most: float, told: dict[str, object]) -> Refused:
    unit = "% of the art"
    found, needed = Quantity(round(100 * share, 1), unit), Quantity(100 * most, unit)
    return row.refused(found=found, needed=needed, most=f"{100 * most:g}", **told)


def far_note(far: FarColor, inks: Sequence[ListedInk]) -> str:
    """The warning."""
    row = SetNote.UNREACHED if far.mean is None else SetNote.NOT_MIXED
    return row.say(
        share=_percent(far.share),
        color=color_told(far.color),
        nearest=ink_told(far.nearest, inks),
        difference=f"{far.difference:.0f}",
        far=f"{FAR:g}",
    )


def _percent(share: float) -> str:
    return f"{100 * share:.2g}" if share < 0.1 else f"{100 * share:.0f}"


def ink_told(place: int, inks: Sequence[ListedInk]) -> str:
    """An ink by its place in print order, or the cloth."""
    return inks[place].name if place < len(inks) else SetNote.CLOTH.say()


def color_told(lab: Float64Array) -> str:
    """A color as people know it: its plain name, and as it is written."""
    return SetNote.COLOR.say(name=color_name(lab).say(), code=color_code(lab))


def color_code(lab: Float64Array) -> str:
    """A color as it is written: ``#b3261e``, of sRGB."""
    return f"#{bytes(np.rint(lab_to_srgb(lab) * 255).astype(int).tolist()).hex()}"
