"""Reads a picture of a wedge: from its pixels to tones, sizes and lengths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, UInt8Array, UInt16Array
from filmhand.art.raster import looked_up, row_strips
from filmhand.errors import Refused
from filmhand.language import and_list
from filmhand.reading.drawn_tones import DrawnPatch, drawn_patches, scattered_tones
from filmhand.reading.evening import blur_of, even_light, inner, least_ppi
from filmhand.reading.reading import PatchReading, ReadOf, WedgeReading
from filmhand.reading.scan_words import ScanNote, ScanRefusal
from filmhand.reading.scatter import both_ways, with_scatter
from filmhand.reading.small_things import SmallThings, look_at_small_things
from filmhand.reading.tones import EvenedWedge, blended
from filmhand.reading.wedge_search import FoundWedge, find_wedge, moved
from filmhand.reading.windows import Picture, RepeatedCell
from filmhand.sheet.wedge_identity import WedgeIdentity, WedgeKind
from filmhand.sheet.wedge_layout import FeatureKind, WedgeLayout
from filmhand.tone import FULL, linear_table, linear_to_srgb
from filmhand.values import dataclass

_COPIES_DIFFER = 6.0  # points, and so many of their errors
_FALLS = 3.0
_ERRORS = 3.0
_HALF = 0.5
_PPI_UNEQUAL = 0.03  # corner to corner: more is a photograph, which tells no lengths
_STRIP_PIXELS = 1_000_000
_DARKEST = 10**-2.6  # of the light: eight bits of sRGB tell no less


@dataclass(frozen=True, slots=True, eq=False)
class ScannedPicture:
    """A scan or photograph.

    Attributes
    ----------
    codes : (H, W, 3) uint16, sRGB
    ppi : pixels to an inch across and down, as the file says; None where it says nothing
    of : what it shows
    lit_through : whether the light passed through a film, and was not given back by it
    """

    codes: UInt16Array
    ppi: tuple[float, float] | None
    of: ReadOf
    lit_through: bool = False


def read_wedge(
    scan: ScannedPicture,
    expected: WedgeIdentity,
    drawn: Callable[[], Sequence[BoolArray]] | None = None,
) -> WedgeReading:
    """What a scan or photograph of a wedge says.

    Parameters
    ----------
    expected : the wedge that the profile makes
    drawn : what draws the bits of its patches in the order of its layout, ink as it prints; asked
        only for scattered dots, which are read less well without

    Raises
    ------
    Refused
        where it is not to be trusted, with why
    """
    found, codes = wedge_in(scan.codes, expected)
    _check_identity(found.identity, expected)
    picture, layout = Picture(codes, found.matrix), found.layout
    check_wedge_pixels(picture, layout)
    blur = blur_of(picture, layout)
    wedge = even_light(picture, layout, blur_mm=blur)
    wedge, patches = _surest(wedge, found, blur, _drawn(found, expected, drawn))
    small = look_at_small_things(wedge, layout, found.identity.acetate_dpi, blur_mm=blur)
    density, density_note = _density(wedge, scan)
    scale, scale_note = _scale(found, scan)
    notes = [*_notes(found, scan, small), *density_note, *scale_note]
    return WedgeReading(
        of=scan.of,
        wedge=found.identity.text(),
        patches=tuple(patches),
        smallest_held=small.held,
        none_held=tuple(kind.name.lower() for kind in small.none_held),
        density=density,
        edge_growth_um=None if small.growth_um is None else float(np.mean(small.growth_um)),
        scale=scale,
        ppi=_ppi(picture, layout),
        mirrored=found.mirrored,
        notes=tuple(notes),
    )


def _drawn(
    found: FoundWedge, expected: WedgeIdentity, drawn: Callable[[], Sequence[BoolArray]] | None
) -> list[DrawnPatch] | None:
    """What was drawn of the patches, where dots are scattered and the profile draws them again."""
    made = found.identity
    if drawn is None or made.lpi is None or made.angle is not None:
        return None
    # Screen and name are the same already; the hash is not, where the tone of the profile changed.
    if replace(made, short_hash="", mesh=None) != replace(expected, short_hash="", mesh=None):
        return None
    return drawn_patches(found.layout.patches, drawn())


def wedge_in(codes: UInt16Array, expected: WedgeIdentity) -> tuple[FoundWedge, UInt16Array]:
    """The wedge, and the picture in which its ink is darker than its ground.

    White ink on a dark ground, or a negative film, is read with light and dark exchanged: areas
    mix the light that is lacking as they mix the light.
    """
    try:
        return find_wedge(darkest_channel(codes), expected), codes
    except Refused as refusal:
        exchanged = np.rint(FULL * linear_to_srgb(1 - linear_table())).astype(np.uint16)
        try:
            found = find_wedge(_darkest_exchanged(codes, exchanged), expected)
        except Refused:
            raise refusal from None
        return found, looked_up(exchanged, codes)


def darkest_channel(codes: UInt16Array) -> UInt8Array:
    """(H, W) uint8 of (H, W, 3) uint16: the least of the three, where ink of any color is dark."""
    dark = np.empty(codes.shape[:2], np.uint8)
    for rows in row_strips(dark.shape, _STRIP_PIXELS):
        dark[rows] = codes[rows].min(axis=2) >> 8
    return dark


def _darkest_exchanged(codes: UInt16Array, exchanged: UInt16Array) -> UInt8Array:
    """The same of codes that fall through a table: what was the greatest becomes the least.

    So a large picture that shows no wedge is not copied whole.
    """
    dark = np.empty(codes.shape[:2], np.uint8)
    for rows in row_strips(dark.shape, _STRIP_PIXELS):
        dark[rows] = exchanged[codes[rows].max(axis=2)] >> 8
    return dark


def _check_identity(made: WedgeIdentity, expected: WedgeIdentity) -> None:
    """Raises Refused where the wedge is not one that the profile makes now."""
    if made.kind is not WedgeKind.PRINT:
        raise ScanRefusal.EXPOSURE_FILM.refused()
    if made.name != expected.name:
        raise ScanRefusal.OTHER_PROFILE.refused(made_for=made.name, expected=expected.name)
    before, now = _screen_text(made), _screen_text(expected)
    if before != now:
        raise ScanRefusal.OTHER_SCREEN.refused(before=before, now=now)


def _screen_text(identity: WedgeIdentity) -> str:
    parts = [f"{identity.dpi} dpi"]
    if identity.lpi is not None:
        parts.append(f"{identity.lpi:g} lpi")
    if identity.angle is not None:
        parts.append(f"{identity.angle:g}°")
    parts += [one.lower() for one in (identity.dot, identity.mesh) if one]
    return ", ".join(parts)


def _ppi(picture: Picture, layout: WedgeLayout) -> float:
    """Pixels to an inch of the wedge, where they are fewest among its corners."""
    return min(picture.ppi_at(*mark.center) for mark in layout.corner_marks)


def check_wedge_pixels(picture: Picture, layout: WedgeLayout) -> None:
    """Raises Refused where a picture has too few pixels to part what lies on a wedge."""
    seen, least = _ppi(picture, layout), least_ppi(layout)
    if seen < least:
        raise ScanRefusal.TOO_FEW_PIXELS.refused(seen=int(seen), least=int(np.ceil(least)))


def _surest(
    wedge: EvenedWedge, found: FoundWedge, blur_mm: float, drawn: list[DrawnPatch] | None
) -> tuple[EvenedWedge, list[PatchReading]]:
    """The wedge by what tells its tones best, and the tones of all patches, that rise."""
    tones = _tones(wedge, found, blur_mm, drawn)
    _check_copies(tones)
    if wedge.by_luma:
        plain = replace(wedge, by_luma=False)
        by_light = blended(_tones(plain, found, blur_mm, drawn))
        patches, share = both_ways(blended(tones), by_light)
        wedge = wedge if share >= _HALF else plain
    else:
        patches = with_scatter(blended(tones))
    for one, other in pairwise(patches):
        error = np.hypot(one.error_pct, other.error_pct)
        if one.measured_pct - other.measured_pct > _FALLS + _ERRORS * error:
            raise ScanRefusal.FALLING.refused(
                tone=f"{one.film_pct:g}",
                one=f"{one.measured_pct:z.1f}",
                darker=f"{other.film_pct:g}",
                other=f"{other.measured_pct:z.1f}",
            )
    return wedge, patches


def _tones(
    wedge: EvenedWedge, found: FoundWedge, blur_mm: float, drawn: list[DrawnPatch] | None
) -> list[tuple[float, float, float]]:
    """Film tone, tone and error of every patch."""
    identity = found.identity
    boxes = [inner(patch.box, blur_mm) for patch in found.layout.patches]
    scattered = scattered_tones(wedge, drawn, boxes) if drawn else None
    if scattered is not None:
        return scattered
    cell = None
    if identity.lpi is not None and identity.angle is not None:
        # A mirrored film has its screen's own angle, and so the wedge on it the other one.
        angle = -identity.angle if identity.mirror else identity.angle
        cell = RepeatedCell.of_screen(identity.lpi, angle)
    return [
        (patch.film_pct, *wedge.tone(box, cell))
        for patch, box in zip(found.layout.patches, boxes, strict=True)
    ]


def _check_copies(tones: list[tuple[float, float, float]]) -> None:
    """Raises Refused where two patches of one tone differ by more than their errors and some."""
    for film in {tone[0] for tone in tones}:
        own = sorted(tone[1:] for tone in tones if tone[0] == film)
        (low, error), (high, other) = own[0], own[-1]
        if high - low > _COPIES_DIFFER + _ERRORS * float(np.hypot(error, other)):
            raise ScanRefusal.COPIES_DIFFER.refused(
                tone=f"{film:g}", one=f"{low:.1f}", other=f"{high:.1f}"
            )


def _density(wedge: EvenedWedge, scan: ScannedPicture) -> tuple[float | None, list[str]]:
    """Density of the solid over bare ground, in the channel that sees it darkest."""
    share = float(wedge.solid.terms[0].min())
    if scan.of is ReadOf.FILM and not scan.lit_through:
        return None, [ScanNote.DENSITY_BY_REFLECTION.say()]
    if share < _DARKEST:
        return None, [ScanNote.DENSITY_AT_LEAST.say(least=f"{-np.log10(_DARKEST):.1f}")]
    return float(-np.log10(share)), []


def _scale(found: FoundWedge, scan: ScannedPicture) -> tuple[tuple[float, float] | None, list[str]]:
    """What an inch across and down measures, from corner mark to corner mark."""
    if scan.ppi is None:
        return None, [ScanNote.NO_PPI.say()]
    drawn = np.array([mark.center for mark in found.layout.corner_marks])
    seen = moved(found.matrix, drawn) / np.array(scan.ppi) * 25.4
    sides = {
        name: (_length(seen, *ends), _length(drawn, *ends))
        for name, ends in {"top": (0, 1), "foot": (3, 2), "left": (0, 3), "right": (1, 2)}.items()
    }
    ratios = {name: measured / asked for name, (measured, asked) in sides.items()}
    if max(ratios.values()) - min(ratios.values()) > _PPI_UNEQUAL * min(ratios.values()):
        return None, [ScanNote.NO_LENGTHS.say()]
    if not 0.9 < min(ratios.values()) < 1.1:
        return None, [ScanNote.OTHER_PPI.say()]
    across, down = (ratios["top"] + ratios["foot"]) / 2, (ratios["left"] + ratios["right"]) / 2
    before = found.identity.scale_pct
    return (across * before[0] / 100, down * before[1] / 100), []


def _length(places: Float64Array, one: int, other: int) -> float:
    return float(np.hypot(*(places[one] - places[other])))


def _notes(found: FoundWedge, scan: ScannedPicture, small: SmallThings) -> list[str]:
    notes = []
    if found.mirrored:
        notes.append(ScanNote.MIRRORED.say())
    if not found.code_read:
        notes.append(ScanNote.NO_CODE.say())
    if small.too_coarse:
        sizes = [f"{_NAMES[kind].say()} {size:.0f} µm" for kind, size in small.too_coarse.items()]
        notes.append(ScanNote.TOO_COARSE.say(sizes=and_list(sizes)))
    if small.none_held:
        kinds = and_list([_KINDS[kind].say() for kind in small.none_held])
        notes.append(ScanNote.NONE_HELD.say(kinds=kinds))
    if scan.of is ReadOf.PRINT:
        notes.append(ScanNote.OPTICAL_GAIN.say())
    return notes


_NAMES = {
    FeatureKind.DOTS: ScanNote.DOTS,
    FeatureKind.SHADOW_DOTS: ScanNote.SHADOW_DOTS,
    FeatureKind.LINES: ScanNote.LINES,
    FeatureKind.GAPS: ScanNote.GAPS,
}
_KINDS = {
    FeatureKind.DOTS: ScanNote.ALL_DOTS,
    FeatureKind.SHADOW_DOTS: ScanNote.ALL_SHADOW_DOTS,
    FeatureKind.LINES: ScanNote.ALL_LINES,
    FeatureKind.GAPS: ScanNote.ALL_GAPS,
}
