"""The film of ``filmhand wedge``: tones and small things of known size, to be printed and read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from filmhand import __version__
from filmhand.arrays import BoolArray
from filmhand.film.formats import Format
from filmhand.pipeline.film_language import in_film_language
from filmhand.pipeline.printer_films.drawn_film import write_drawn_film
from filmhand.pipeline.printer_films.printer_words import scale_pct
from filmhand.pipeline.printer_films.wedge_words import WedgeRefusal, WedgeWord
from filmhand.pipeline.render.screen_plan import ScreenPlan, plan_screen
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.profile.model import Profile, ToneWishes
from filmhand.screen.screener import Screener
from filmhand.screen.tile import ThresholdTile
from filmhand.sheet.layout import Box, sheet_boxes
from filmhand.sheet.marks import Mark
from filmhand.sheet.wedge_drawing import WedgeGround, all_marks, code_mark, title_mark
from filmhand.sheet.wedge_identity import WedgeIdentity, WedgeKind, code_name
from filmhand.sheet.wedge_layout import WedgeLayout, wedge_layout, wedge_size
from filmhand.sheet.wedge_places import BoxMm
from filmhand.tone import FULL
from filmhand.units import MM_PER_INCH, size_text
from filmhand.values import dataclass

_RIM_MM = 1.5  # of ink around the wedge on a negative film


@dataclass(frozen=True, slots=True)
class DrawnWedge:
    """A wedge as it lies on its sheet.

    Attributes
    ----------
    identity : what its code says
    layout : the places on it
    ground : where on the sheet it begins
    marks : all that is drawn, as the sheet is read; ink is what is meant to print
    counted_pct : of each patch of the layout the share of its pixels that are meant to print,
        measured on the bits, in percent. On a negative film those are the clear ones
    """

    identity: WedgeIdentity
    layout: WedgeLayout
    ground: WedgeGround
    marks: tuple[Mark, ...]
    counted_pct: tuple[float, ...]


def make_wedge(
    profile: Profile, scratch: Path, *, tiles: Path | None = None
) -> tuple[dict[Format, Path], dict[str, Any]]:
    """Write the film as ``film.*`` in a scratch folder, and tell what is where on it.

    Parameters
    ----------
    tiles : the folder in which screens are kept; None keeps none

    Raises
    ------
    Refused
        where the sheet is too small for the tones
    """
    drawn = draw_wedge(profile, tiles=tiles)
    negative = negative_part(profile, drawn.ground, drawn.layout.size_mm)
    files = write_drawn_film(
        profile, drawn.marks, scratch, mirror=profile.film.mirror, negative=negative
    )
    return files, _told(drawn, profile)


def boxes_in_file(profile: Profile, ground: WedgeGround) -> Callable[[BoxMm], list[int]]:
    """What gives [left, top, width, height] of a box in pixels of the finished film."""
    width, _ = profile.sheet.pixels(profile.dpi)

    def box_px(box: BoxMm) -> list[int]:
        place = ground.box(box)
        place = place.mirrored(width) if profile.film.mirror else place
        return [place.left, place.top, place.width, place.height]

    return box_px


def _told(drawn: DrawnWedge, profile: Profile) -> dict[str, Any]:
    identity, layout = drawn.identity, drawn.layout
    box_px = boxes_in_file(profile, drawn.ground)
    return {
        "code": identity.text(),
        "dpi": [profile.dpi.x, profile.dpi.y],
        "scale_pct": list(identity.scale_pct),
        "lpi_made": identity.lpi,
        "angle_made": identity.angle,
        "mirror": identity.mirror,
        "negative": identity.negative,
        "size_mm": list(layout.size_mm),
        "patches": [
            # The tone by which a reading names the patch: dots that its rim cuts are no part of it.
            {"film_pct": patch.film_pct, "counted_pct": round(made, 3), "box_px": box_px(patch.box)}
            for patch, made in zip(layout.patches, drawn.counted_pct, strict=True)
        ],
        "solids": [{"box_px": box_px(box)} for box in layout.solids],
        "fields": [
            {"shows": str(one.kind), "size_um": round(one.size_um, 1), "box_px": box_px(one.box)}
            for one in layout.fields
        ],
        "corner_marks": [
            {"holes": mark.holes, "box_px": box_px(mark.box)} for mark in layout.corner_marks
        ],
        "scale_bars": [
            {"length_mm": bar.length_mm, "box_px": box_px(bar.box)} for bar in layout.scale_bars
        ],
    }


def draw_wedge(profile: Profile, *, tiles: Path | None = None) -> DrawnWedge:
    """The wedge of a profile: with its screen and its sheet, without its tone curve and limits.

    Raises
    ------
    Refused
        as :func:`make_wedge`
    """
    screen = _wedge_screen(profile)
    room, size = room_for_wedge(profile)
    identity = identity_of(profile, WedgeKind.PRINT, size, screen)
    layout = wedge_layout(*size, lpi=identity.lpi, dpi=profile.acetate_dpi)
    if layout is None:
        sheet = size_text(profile.sheet.mm, profile.sheet, decimals=1)
        raise WedgeRefusal.NO_ROOM.refused(profile=profile.name, sheet=sheet)
    ground = ground_in(room, size, profile)
    patches = _patch_marks(profile, layout, ground, tile_of(screen, tiles) if screen else None)
    with in_film_language(profile):
        marks = patches + all_marks(
            ground,
            corners=layout.corner_marks,
            fields=layout.fields,
            solids=layout.solids,
            bars=layout.scale_bars,
            labels=layout.labels,
        )
        marks.append(title_mark(layout.title, _title(profile, screen), ground))
    if layout.code is not None:
        marks.append(code_mark(code_modules(identity), layout.code, ground))
    share = [float(mark.bits.mean()) for mark in patches]
    return DrawnWedge(identity, layout, ground, tuple(marks), tuple(100 * one for one in share))


def patch_bits(profile: Profile) -> list[BoolArray]:
    """The bits of each patch of the wedge of a profile, in the order of its layout, ink first.

    Raises
    ------
    Refused
        as :func:`make_wedge`
    """
    drawn = draw_wedge(profile)
    return [mark.bits for mark in drawn.marks[: len(drawn.layout.patches)]]


def wedge_identity(profile: Profile) -> WedgeIdentity:
    """What the code of the wedge of a profile says."""
    _, size = room_for_wedge(profile)
    return identity_of(profile, WedgeKind.PRINT, size, _wedge_screen(profile))


def _wedge_screen(profile: Profile) -> ScreenPlan | None:
    """The profile's screen without its tone curve; None where it has none."""
    if profile.lpi is None or profile.dot is None:
        return None
    return plan_screen(replace(profile, tone=ToneWishes(hold="off")))


def room_for_wedge(profile: Profile) -> tuple[Box, tuple[float, float]]:
    """The sheet inside its margin, in pixels, and the size of the wedge for it in millimeters."""
    _, printable, _, _ = sheet_boxes(profile)
    dpi = profile.acetate_dpi
    rim = 2 * _RIM_MM if profile.film.negative else 0.0
    width, height = printable.width / dpi.x, printable.height / dpi.y
    return printable, wedge_size(width * MM_PER_INCH - rim, height * MM_PER_INCH - rim)


def ground_in(room: Box, size: tuple[float, float], profile: Profile) -> WedgeGround:
    """Where a wedge lies in a room: in its middle."""
    whole = BoxMm(0, 0, *size).in_pixels(profile.acetate_dpi)
    left = room.left + (room.width - whole.width) // 2
    top = room.top + (room.height - whole.height) // 2
    return WedgeGround(left, top, profile.acetate_dpi)


def identity_of(
    profile: Profile, kind: WedgeKind, size: tuple[float, float], screen: ScreenPlan | None
) -> WedgeIdentity:
    """What the code of a profile's wedge says."""
    angle = screen.angle_made() if screen else None
    across, down = scale_pct(profile)
    return WedgeIdentity(
        kind=kind,
        name=code_name(profile.name),
        short_hash=profile.sha256[:8],
        lpi=round(screen.grid.lpi, 2) if screen else None,
        angle=None if angle is None else round(angle, 2),
        dot=code_name(str(screen.dot)) if screen else None,
        dpi=profile.dpi,
        scale_pct=(round(across, 3), round(down, 3)),
        mesh=None if profile.mesh is None else profile.mesh.pair,
        size_mm=size,
        mirror=profile.film.mirror,
        negative=profile.film.negative,
    )


def _patch_marks(
    profile: Profile, layout: WedgeLayout, ground: WedgeGround, tile: ThresholdTile | None
) -> list[Mark]:
    """The patches, screened as the same place of a film of the profile would be."""
    width, _ = profile.sheet.pixels(profile.dpi)
    mirror, negative = profile.film.mirror, profile.film.negative
    marks = []
    for patch in layout.patches:
        box = ground.box(patch.box)
        share = patch.film_pct / 100
        if tile is None:
            marks.append(Mark(box, np.full((box.height, box.width), share >= 0.5)))
            continue
        place = box.mirrored(width) if mirror else box
        tone = round((1 - share if negative else share) * FULL)
        flat = np.full((box.height, box.width), tone, np.uint16)
        dots = Screener(tile, column=place.left, width=place.width).cut(flat, row=place.top)
        dots = dots[:, ::-1] if mirror else dots
        marks.append(Mark(box, ~dots if negative else dots))
    return marks


def negative_part(profile: Profile, ground: WedgeGround, size: tuple[float, float]) -> Box | None:
    """The wedge with a rim, where the profile's films are negative; else None."""
    return ground.box(BoxMm(0, 0, *size).inside(-_RIM_MM)) if profile.film.negative else None


def code_modules(identity: WedgeIdentity) -> BoolArray:
    """The code that says what a wedge is, (n, n) bool, ink first: a QR code (ISO/IEC 18004)."""
    import segno  # noqa: PLC0415 - no other film has a code

    code = segno.make_qr(identity.text(), error="m")
    return np.array([[bool(module) for module in row] for row in code.matrix], np.bool_)


def _title(profile: Profile, screen: ScreenPlan | None) -> list[str]:
    mesh = WedgeWord.NO_MESH.say() if profile.mesh is None else profile.mesh.label
    lines = [WedgeWord.TITLE.say(profile=profile.name)]
    if screen is not None:
        record = screen.record()
        angle = record["angle_made"]
        lines.append(
            WedgeWord.SCREEN.say(
                lpi=f"{record['lpi_made']:.4g}",
                dot=record["dot"],
                angle="-" if angle is None else f"{angle:.4g}",
            )
        )
    lines.append(WedgeWord.PRINTER.say(dpi=profile.dpi, mesh=mesh, version=__version__))
    return [*lines, side_words(profile)]


def side_words(profile: Profile) -> str:
    """Which side of the film is up."""
    return WedgeWord.MIRRORED.say() if profile.film.mirror else WedgeWord.THIS_SIDE_UP.say()
