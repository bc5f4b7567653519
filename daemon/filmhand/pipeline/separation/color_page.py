"""One page of art in color, laid out on its sheet as all films of its set have it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.art.crop_window import CropWindow
from filmhand.art.drawings.drawing_words import DrawingNote
from filmhand.art.drawings.vector import drawn_once
from filmhand.art.files.file_types import FileType
from filmhand.pipeline.printer_films.printer_words import printer_notes
from filmhand.pipeline.render.cropping import KeptPart, open_kept, sizing_of
from filmhand.pipeline.render.size_note import size_note
from filmhand.pipeline.render.strips import oriented
from filmhand.pipeline.separation.colors_of_art import colors_of_art
from filmhand.pipeline.separation.planning.wanted_inks import codes_of, known_inks, lab_of
from filmhand.pipeline.separation.plates.own_plates import OwnPlates, pages_for, plates_for
from filmhand.pipeline.separation.plates.plates_to_films import print_of_plates
from filmhand.pipeline.separation.set_words import SetNote, SetRefusal
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile, RepairWishes, ToneWishes
from filmhand.profile.terms import Automatic, OnScreened
from filmhand.sheet.layout import Layout
from filmhand.sheet.placement import place_art
from filmhand.values import dataclass

# What mends gray art would change colors.
_NO_REPAIRS = RepairWishes(
    light=Automatic.OFF,
    paper=Automatic.OFF,
    faded=Automatic.OFF,
    blocks=Automatic.OFF,
    skew=Automatic.OFF,
    screened=OnScreened.OFF,
)
_LOSSY = (FileType.JPEG, FileType.WEBP, FileType.HEIC, FileType.AVIF)
_GRAY_TONES = ("contrast", "midtone", "aim")


@dataclass(slots=True, eq=False)
class ColorPage:
    """Art in color.

    Attributes
    ----------
    codes : (H, W, 3) uint16, sRGB codes of the art on its cloth, as it lies on the film; of art
        with plates what they print, small
    layout : where it lies on every film
    kept : what of it is there
    source : what the films are made from, as their records tell it
    notes : plain sentences: what was decided, assumed or left out
    plates : those that the art has for the set's inks, as they lie on the film
    lossy : whether it was coded so that edges are left with waves, as JPEG does
    """

    codes: UInt16Array
    layout: Layout
    kept: KeptPart
    source: dict[str, object]
    notes: list[str]
    plates: OwnPlates | None = None
    lossy: bool = False


@drawn_once()
def open_color_page(wished: WishedPage) -> ColorPage:
    """Read one page in color and lay it out.

    Raises
    ------
    Refused
        where the art cannot be read or placed, or something is asked for that films of several
        inks cannot be combined with
    """
    request, profile, ticket = wished.request, wished.profile, wished.ticket
    if request.mask is not None:
        raise SetRefusal.WITH_MASK.refused()
    if ticket.trial is not None or ticket.patch is not None:
        raise SetRefusal.WITH_TRIAL.refused()
    profile = _without_looks(wished)
    gray, kept, _ = open_kept(request, profile, page=wished.page)
    plates, told = _own_plates(wished, kept)
    if plates is None:
        codes = _colors(wished, kept, gray.coded.shape)
    elif plates.shape != gray.coded.shape:
        plates.cut(kept.window)
    layout = place_art(profile, art_px=(gray.width_px, gray.height_px), art_ppi=gray.ppi)
    notes = [*ticket.told, *printer_notes(profile), *_left_aside(profile.tone)]
    if plates is None:
        # White on clear is printed white, and only a gray film takes its shape.
        of_gray = DrawingNote.SHAPE_OF_WHITE.say()
        notes += [note for note in gray.notes if note != of_gray] + told
    else:
        notes += plates.notes
    notes += size_note(kept.own_in, layout, profile, scanned=gray.format != "JPEG")
    source = {
        "name": request.name,
        "sha256": wished.art_sha256,
        "format": gray.format,
        "width_px": kept.whole_px[0],
        "height_px": kept.whole_px[1],
    }
    if plates is not None:
        plates.lay(turned=layout.turned, mirror=profile.film.mirror)
        codes = print_of_plates(plates, profile)
    else:
        codes = oriented(codes, turned=layout.turned, mirror=profile.film.mirror)
    lossy = gray.format in _LOSSY
    return ColorPage(codes, layout, kept, source, notes, plates, lossy)


def _without_looks(wished: WishedPage) -> Profile:
    """The profile without what is found by a look at gray art, where that would not be right."""
    profile = replace(wished.profile, repair=_NO_REPAIRS)
    names = _names_of_inks(profile)
    limits, request = profile.limits, wished.request
    by_pages = bool(names) and wished.ticket.pages is None
    if by_pages and pages_for(request.art, name=request.name, limits=limits, inks=names):
        # The borders of one plate are not those of the others.
        profile = replace(profile, art=replace(profile.art, trim=Automatic.OFF))
    return profile


def _names_of_inks(profile: Profile) -> list[str]:
    """The names of the set's inks; none where they are found in the art."""
    inks = known_inks(profile)
    return [] if inks is None else [ink.name for ink in inks.wishes]


def _own_plates(wished: WishedPage, kept: KeptPart) -> tuple[OwnPlates | None, list[str]]:
    request, profile = wished.request, wished.profile
    known = known_inks(profile)
    if known is None:
        return None, []
    colors = {ink.name: np.array(lab_of(ink.color)) for ink in known.wishes}
    plates, told = plates_for(
        request.art,
        name=request.name,
        limits=profile.limits,
        inks=colors,
        page=wished.page,
        sizing=sizing_of(profile, part=kept.window),
        by_pages=wished.ticket.pages is None,
    )
    if plates is not None and profile.total_ink is not None:
        plates.cut_to_total(profile.total_ink)
    if plates is not None and profile.underbase is not None:
        plates.with_underbase(known.wishes[0].name)
    return plates, told


def _colors(wished: WishedPage, kept: KeptPart, shape: tuple[int, ...]) -> UInt16Array:
    request, profile = wished.request, wished.profile
    codes = colors_of_art(
        request.art,
        name=request.name,
        limits=profile.limits,
        cloth=codes_of(profile.cloth),
        page=wished.page,
        sizing=sizing_of(profile, part=kept.window),
    ).codes
    # Only what is drawn from commands is drawn as much of as is kept.
    return codes if codes.shape[:2] == shape else _part_of(codes, kept.window)


def _part_of(codes: UInt16Array, window: CropWindow) -> UInt16Array:
    left, top, right, bottom = window.pixels(codes.shape[1], codes.shape[0])
    return codes[top:bottom, left:right]


def _left_aside(tone: ToneWishes) -> list[str]:
    """A word on wishes that would change how inks mix."""
    plain = ToneWishes()
    keys = [f"tone.{key}" for key in _GRAY_TONES if getattr(tone, key) != getattr(plain, key)]
    if isinstance(tone.endpoints, tuple):
        keys.insert(0, "tone.endpoints")
    return [SetNote.GRAY_ONLY.say(keys=", ".join(keys))] if keys else []
