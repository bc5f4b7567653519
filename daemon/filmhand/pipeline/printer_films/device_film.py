"""The film of ``filmhand device-sheet``: what a printer really resolves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.errors import Reason, Refused
from filmhand.film.formats import Format
from filmhand.pipeline.printer_films.drawn_film import write_drawn_film
from filmhand.pipeline.printer_films.ruler_film import unscaled
from filmhand.profile.model import Profile
from filmhand.sheet.device_targets import PlacedPatch, lay_targets
from filmhand.sheet.layout import Box, in_pixels, sheet_boxes
from filmhand.sheet.lettering import paragraph_bits
from filmhand.sheet.long_ruler import words_in
from filmhand.sheet.marks import Mark

_TITLE_MM, _WORDS_MM = 2.4, 2.2


@dataclass(frozen=True, slots=True)
class SheetSign:
    """What is seen on the sheet, what it means, and what to do."""

    seen: str
    means: str
    do: str


LEGEND = (
    SheetSign(
        "Lines and gaps of 1 px stand apart, and all lines and checkers are the same gray.",
        "Every pixel of the file is on the film.",
        "Nothing: this is the dpi for your profile.",
    ),
    SheetSign(
        "Lines of 1 px run together, those of 2 px stand apart.",
        "The printer lays down half the dpi that it takes, or spreads its ink by half a pixel.",
        "Halve dpi in the profile, or raise the quality setting, and print this sheet again.",
    ),
    SheetSign(
        "Upright lines stand apart and lying ones run together, or the other way about.",
        "The resolution differs across and down.",
        "Write both, such as dpi: 600 x 1200, with the lower number where lines run together.",
    ),
    SheetSign(
        "A checker shows waves, stripes or squares.",
        "Something scaled the page or screened it again.",
        "Print at 100 % without fitting, one bit (black and white), no halftone or photo setting; "
        "use an IPP printer (print: in the profile) or a raw queue.",
    ),
    SheetSign(
        "A checker is grainy gray, or its squares have soft gray edges under a loupe.",
        "Edge smoothing or resolution enhancement adds part-dots.",
        "Turn smoothing and enhancement off.",
    ),
    SheetSign(
        "Small dots are missing, large ones are there.",
        "The smallest dot that the printer holds is the first that is there.",
        "Choose a coarser lpi or a higher tone.hold, so that no dot of the film is smaller.",
    ),
    SheetSign(
        "Small shadow dots are closed.",
        "Ink or toner spreads by about half the first one that is open.",
        "Lower the density setting a step, or choose another film or media type.",
    ),
    SheetSign(
        "There are specks in the clear field.",
        "Evenly spaced: a filter on the way screened the page. Scattered: toner or ink dust.",
        "Evenly spaced: print without that filter. Scattered: clean the printer.",
    ),
    SheetSign(
        "Light shines through the solid, in pinholes, bands or all over.",
        "The black is too thin for the exposure.",
        "Toner save off, density up, best quality, the media type for film; else film: {stack: 2}.",
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
    dpi = profile.dpi
    _, printable, _, _ = sheet_boxes(plain)
    title = paragraph_bits(_title(profile), printable.width, dpi, tall_mm=_TITLE_MM)
    gap = in_pixels(1.5, dpi)[1]
    top = printable.top + len(title) + gap
    room = Box(printable.left, top, printable.width, printable.bottom - top)
    legend = [f"{n}. {row.seen} {row.means} {row.do}" for n, row in enumerate(LEGEND, 1)]
    words = paragraph_bits(legend, room.width, dpi, tall_mm=_WORDS_MM)
    # Smaller patches that leave room for the legend come before larger ones that do not.
    laid = lay_targets(replace(room, height=room.height - len(words) - gap), dpi)
    laid = laid or lay_targets(room, dpi)
    if laid is None:
        raise Refused(
            Reason.TOO_BIG,
            f"The sheet of {profile.name} has no room for the patches of a device sheet.",
            "Make it with a profile of the same printer that has a larger sheet.",
        )
    marks, places, below = laid
    marks.append(Mark(Box(printable.left, printable.top, printable.width, len(title)), title))
    rest = Box(room.left, below + gap, room.width, room.bottom - below - gap)
    marks += words_in(rest, legend, dpi, tall_mm=_WORDS_MM)
    return write_drawn_film(plain, marks, scratch), {
        "dpi": [dpi.x, dpi.y],
        "patches": [_patch(place) for place in places],
        "legend": [{"seen": r.seen, "means": r.means, "do": r.do} for r in LEGEND],
    }


def _patch(place: PlacedPatch) -> dict[str, Any]:
    box = place.box
    return {"shows": place.caption, "box_px": [box.left, box.top, box.width, box.height]}


def _title(profile: Profile) -> list[str]:
    across, down = profile.dpi.pixel_um()
    pixel = f"{across:.1f} µm" if across == down else f"{across:.1f} x {down:.1f} µm"
    return [
        f"DEVICE SHEET of profile {profile.name}: {profile.dpi} dpi, 1 px = {pixel}, "
        f"filmhand {__version__}",
        "Print it at 100 % on the film you use, then look through a loupe. All lines and checkers "
        "are half ink, all dots a sixteenth: look for patches whose gray differs.",
    ]
