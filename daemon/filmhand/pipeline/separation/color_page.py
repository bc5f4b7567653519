"""One page of art in color, laid out on its sheet as all films of its set have it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from filmhand.arrays import UInt16Array
from filmhand.art.crop_window import CropWindow
from filmhand.pipeline.film_in_work import WishedPage
from filmhand.pipeline.printer_films.printer_words import printer_notes
from filmhand.pipeline.render.cropping import KeptPart, open_kept, sizing_of
from filmhand.pipeline.render.size_note import size_note
from filmhand.pipeline.render.strips import oriented
from filmhand.pipeline.separation.colors_of_art import colors_of_art
from filmhand.pipeline.separation.set_words import SetNote, SetRefusal
from filmhand.pipeline.separation.wanted_inks import codes_of
from filmhand.profile.model import RepairWishes, ToneWishes
from filmhand.profile.terms import Automatic, OnScreened
from filmhand.sheet.layout import Layout
from filmhand.sheet.placement import place_art

# What mends gray art would change colors.
_NO_REPAIRS = RepairWishes(
    light=Automatic.OFF,
    paper=Automatic.OFF,
    faded=Automatic.OFF,
    blocks=Automatic.OFF,
    skew=Automatic.OFF,
    screened=OnScreened.OFF,
)
_GRAY_TONES = ("contrast", "midtone", "aim")


@dataclass(slots=True, eq=False)
class ColorPage:
    """Art in color.

    Attributes
    ----------
    codes : (H, W, 3) uint16, sRGB codes of the art on its cloth, as it lies on the film
    layout : where it lies on every film
    kept : what of it is there
    source : what the films are made from, as their records tell it
    notes : plain sentences: what was decided, assumed or left out
    """

    codes: UInt16Array
    layout: Layout
    kept: KeptPart
    source: dict[str, object]
    notes: list[str]


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
    gray, kept, _ = open_kept(request, replace(profile, repair=_NO_REPAIRS), page=wished.page)
    colors = colors_of_art(
        request.art,
        name=request.name,
        limits=profile.limits,
        cloth=codes_of(profile.cloth),
        page=wished.page,
        sizing=sizing_of(profile, part=kept.window),
    )
    codes = colors.codes
    if codes.shape[:2] != gray.coded.shape:
        # Only what is drawn from commands is drawn as much of as is kept.
        codes = _part_of(codes, kept.window)
    layout = place_art(profile, art_px=(gray.width_px, gray.height_px), art_ppi=gray.ppi)
    notes = [*ticket.told, *printer_notes(profile), *gray.notes, *_left_aside(profile.tone)]
    notes += size_note(kept.own_in, layout, profile, scanned=gray.format != "JPEG")
    source = {
        "name": request.name,
        "sha256": wished.art_sha256,
        "format": gray.format,
        "width_px": kept.whole_px[0],
        "height_px": kept.whole_px[1],
    }
    codes = oriented(codes, turned=layout.turned, mirror=profile.film.mirror)
    return ColorPage(codes, layout, kept, source, notes)


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
