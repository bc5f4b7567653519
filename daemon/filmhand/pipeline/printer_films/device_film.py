"""The film of ``filmhand device-sheet``: what a printer really resolves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.film.formats import Format
from filmhand.pipeline.film_language import in_film_language
from filmhand.pipeline.printer_films.drawn_film import write_drawn_film
from filmhand.pipeline.printer_films.printer_film_words import DeviceSheetWord, PrinterFilmRefusal
from filmhand.pipeline.printer_films.ruler_film import unscaled
from filmhand.profile.model import Profile
from filmhand.sheet.device_targets import PlacedPatch, lay_targets
from filmhand.sheet.layout import Box, in_pixels, sheet_boxes
from filmhand.sheet.lettering import paragraph_bits
from filmhand.sheet.long_ruler import words_in
from filmhand.sheet.marks import Mark
from filmhand.units import size_text
from filmhand.values import dataclass

_TITLE_MM, _WORDS_MM = 2.4, 2.2


@dataclass(frozen=True, slots=True)
class SheetSign:
    """What is seen on the sheet, what it means, and what to do."""

    seen: DeviceSheetWord
    means: DeviceSheetWord
    do: DeviceSheetWord

    def said(self) -> dict[str, str]:
        """The three in the language in force, each by its name."""
        return {"seen": self.seen.say(), "means": self.means.say(), "do": self.do.say()}


LEGEND = (
    SheetSign(
        DeviceSheetWord.ALL_THERE_SEEN,
        DeviceSheetWord.ALL_THERE_MEANS,
        DeviceSheetWord.ALL_THERE_DO,
    ),
    SheetSign(
        DeviceSheetWord.HALF_THE_DPI_SEEN,
        DeviceSheetWord.HALF_THE_DPI_MEANS,
        DeviceSheetWord.HALF_THE_DPI_DO,
    ),
    SheetSign(
        DeviceSheetWord.UNLIKE_ACROSS_SEEN,
        DeviceSheetWord.UNLIKE_ACROSS_MEANS,
        DeviceSheetWord.UNLIKE_ACROSS_DO,
    ),
    SheetSign(DeviceSheetWord.SCALED_SEEN, DeviceSheetWord.SCALED_MEANS, DeviceSheetWord.SCALED_DO),
    SheetSign(
        DeviceSheetWord.SMOOTHED_SEEN, DeviceSheetWord.SMOOTHED_MEANS, DeviceSheetWord.SMOOTHED_DO
    ),
    SheetSign(
        DeviceSheetWord.DOTS_MISSING_SEEN,
        DeviceSheetWord.DOTS_MISSING_MEANS,
        DeviceSheetWord.DOTS_MISSING_DO,
    ),
    SheetSign(
        DeviceSheetWord.SHADOW_DOTS_CLOSED_SEEN,
        DeviceSheetWord.SHADOW_DOTS_CLOSED_MEANS,
        DeviceSheetWord.SHADOW_DOTS_CLOSED_DO,
    ),
    SheetSign(DeviceSheetWord.SPECKS_SEEN, DeviceSheetWord.SPECKS_MEANS, DeviceSheetWord.SPECKS_DO),
    SheetSign(
        DeviceSheetWord.THIN_BLACK_SEEN,
        DeviceSheetWord.THIN_BLACK_MEANS,
        DeviceSheetWord.THIN_BLACK_DO,
    ),
)


def make_device_sheet(profile: Profile, scratch: Path) -> tuple[dict[Format, Path], dict[str, Any]]:
    """Write the film as ``film.*`` in a scratch folder, and tell what is where on it.

    Raises
    ------
    Refused
        where the sheet has no room for the patches
    """
    plain = unscaled(profile)
    with in_film_language(profile):
        drawn = _drawn(plain)
    if drawn is None:
        raise PrinterFilmRefusal.NO_PATCHES.refused(
            profile=profile.name, sheet=size_text(profile.sheet.mm, profile.sheet, decimals=1)
        )
    marks, places = drawn
    return write_drawn_film(plain, marks, scratch), {
        "dpi": [profile.dpi.x, profile.dpi.y],
        "patches": [_patch(place) for place in places],
        "legend": [sign.said() for sign in LEGEND],
    }


def _drawn(profile: Profile) -> tuple[list[Mark], list[PlacedPatch]] | None:
    """All that stands on the film, and where its patches lie; None where there is no room."""
    dpi = profile.dpi
    _, printable, _, _ = sheet_boxes(profile)
    title = paragraph_bits(_title(profile), printable.width, dpi, tall_mm=_TITLE_MM)
    gap = in_pixels(1.5, dpi)[1]
    top = printable.top + len(title) + gap
    room = Box(printable.left, top, printable.width, printable.bottom - top)
    legend = [
        DeviceSheetWord.SIGN.say(number=number, **sign.said())
        for number, sign in enumerate(LEGEND, 1)
    ]
    words = paragraph_bits(legend, room.width, dpi, tall_mm=_WORDS_MM)
    # Smaller patches that leave room for the legend come before larger ones that do not.
    laid = lay_targets(replace(room, height=room.height - len(words) - gap), dpi)
    laid = laid or lay_targets(room, dpi)
    if laid is None:
        return None
    marks, places, below = laid
    marks.append(Mark(Box(printable.left, printable.top, printable.width, len(title)), title))
    rest = Box(room.left, below + gap, room.width, room.bottom - below - gap)
    return marks + words_in(rest, legend, dpi, tall_mm=_WORDS_MM), places


def _patch(place: PlacedPatch) -> dict[str, Any]:
    box = place.box
    return {"shows": place.caption, "box_px": [box.left, box.top, box.width, box.height]}


def _title(profile: Profile) -> list[str]:
    across, down = profile.dpi.pixel_um()
    pixel = f"{across:.1f}" if across == down else f"{across:.1f} x {down:.1f}"
    title = DeviceSheetWord.TITLE.say(
        profile=profile.name, dpi=profile.dpi, pixel=pixel, version=__version__
    )
    return [title, DeviceSheetWord.PRINT_IT.say()]
