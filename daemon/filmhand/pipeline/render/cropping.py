"""Art without the borders that the profile cuts off: given sides, empty borders, down to a shape.

They are cut in this order. Drawings without pixels are looked at small where their empty borders
must be found, and then drawn with the film's own pixels, as much of them as is kept.
"""

from __future__ import annotations

import numpy as np

from filmhand.art.analysis.subject import find_subject
from filmhand.art.crop_window import WHOLE, CropWindow, cut_sides, cut_to_shape
from filmhand.art.drawings.vector import FilmSize, Sizing
from filmhand.art.files.gray import Codes
from filmhand.art.files.open_art import Art, open_art
from filmhand.art.repair.repair_note import Repair
from filmhand.pipeline.render.art_repairs import repair_before_judging
from filmhand.pipeline.render.render_words import RenderNote
from filmhand.profile.model import Profile
from filmhand.profile.terms import Automatic
from filmhand.request import JobRequest
from filmhand.sheet.placement import place_art
from filmhand.units import MM_PER_INCH, SheetSize, length_text
from filmhand.values import dataclass

_FINE = 10_000.0  # pixels to the inch, so that rounding does not show in the proportions
_LOOK_SIDE = 1500  # pixels of the small look at a drawing


@dataclass(frozen=True, slots=True)
class KeptPart:
    """What is kept of the art, and the pixels of the whole.

    A drawing is counted with the pixels of the film. ``own_in`` is the size in inches that the art
    states for what is kept, or None.
    """

    window: CropWindow
    whole_px: tuple[int, int]
    own_in: tuple[float, float] | None = None

    def record(self) -> dict[str, float] | None:
        """What was cut off, in percent of width and height; None for nothing."""
        kept = self.window
        if kept.is_whole:
            return None
        sides = {
            "left_pct": kept.left,
            "top_pct": kept.top,
            "right_pct": 1 - kept.right,
            "bottom_pct": 1 - kept.bottom,
        }
        return {side: round(100 * share, 2) for side, share in sides.items()}


def open_kept(
    request: JobRequest, profile: Profile, *, page: int
) -> tuple[Art, KeptPart, list[Repair]]:
    """The art as :func:`filmhand.art.files.open_art.open_art` gives it, cut as the profile wants
    it.

    Squares of JPEG and dots of an earlier screen are taken out first, where they still lie as they
    were made.

    Raises
    ------
    Refused
        as open_art does, and where what is to be cut off cannot be told or leaves nothing
    """
    wishes = profile.art

    def opened(sizing: Sizing) -> Art:
        return open_art(
            request.art,
            name=request.name,
            limits=profile.limits,
            channel=wishes.channel,
            page=page,
            sizing=sizing,
        )

    drawing: list[tuple[float, float]] = []
    own: tuple[float, float] | None

    def at_first(width_in: float, height_in: float) -> FilmSize:
        drawing.append((width_in, height_in))  # only drawings ask for a size
        if wishes.trim is Automatic.AUTO:
            return _small(width_in, height_in)
        kept, _ = _window(profile, (width_in, height_in), None, inches=drawing[-1])
        return sizing_of(profile, part=kept)(width_in, height_in)

    art = opened(at_first)
    if drawing:
        inches = drawing[-1]
        coded = art.coded if wishes.trim is Automatic.AUTO else None
        window, trimmed = _window(profile, inches, coded, inches=inches)
        if coded is not None:
            art = opened(sizing_of(profile, part=window))
        repaired = repair_before_judging(art, profile, name=request.name)
        width, height = window.right - window.left, window.bottom - window.top
        whole = round(art.width_px / width), round(art.height_px / height)
        size = own = inches
    else:
        repaired = repair_before_judging(art, profile, name=request.name)
        whole = art.width_px, art.height_px
        own = None if art.ppi is None else (whole[0] / art.ppi[0], whole[1] / art.ppi[1])
        window, trimmed = _window(profile, own or whole, art.coded, inches=own)
        if not window.is_whole:
            art.change(part_of(art.coded, window))
        size = own or whole
    if wishes.trim is Automatic.AUTO and not trimmed:
        art.notes.append(RenderNote.NO_EMPTY_BORDERS.say())
    if not window.is_whole:
        if wishes.crop is None:
            said = RenderNote.TRIMMED
        else:
            said = RenderNote.CUT_AND_TRIMMED if trimmed else RenderNote.CUT
        own_size = bool(drawing) or art.ppi is not None
        cut_away = _cut_sentence(window, size, profile.sheet if own_size else None)
        art.notes.append(said.say(cut=cut_away))
    kept = None
    if own is not None:
        kept = own[0] * (window.right - window.left), own[1] * (window.bottom - window.top)
    return art, KeptPart(window, whole, kept), repaired


def sizing_of(profile: Profile, *, part: CropWindow = WHOLE) -> Sizing:
    """The size on film, by the layout of the sheet, of art that is so many inches wide and high.

    ``part`` is what is kept of it.

    Pixels are square: where the device's are not, there are as many as its finer direction has.
    The result raises Refused where the layout does.
    """
    dpi = profile.acetate_dpi

    def sizing(width_in: float, height_in: float) -> FilmSize:
        across, down = width_in * (part.right - part.left), height_in * (part.bottom - part.top)
        pixels = max(1, round(across * _FINE)), max(1, round(down * _FINE))
        layout = place_art(profile, art_px=pixels, art_ppi=(_FINE, _FINE))
        art = layout.copies[0]
        finer = max(dpi.x, dpi.y)
        width = art.width * finer / dpi.x
        height = art.height * finer / dpi.y
        if layout.turned:
            width, height = height, width
        return FilmSize(round(width), round(height), float(finer), part)

    return sizing


def part_of(coded: Codes, window: CropWindow) -> Codes:
    """The part of a picture (H, W) that a window shows, as pixels of its own."""
    if window.is_whole:
        return coded
    height, width = coded.shape
    left, top, right, bottom = window.pixels(width, height)
    return np.ascontiguousarray(coded[top:bottom, left:right])


def _small(width_in: float, height_in: float) -> FilmSize:
    ppi = _LOOK_SIDE / max(width_in, height_in)
    return FilmSize(max(1, round(width_in * ppi)), max(1, round(height_in * ppi)), ppi)


def _window(
    profile: Profile,
    size: tuple[float, float],
    coded: Codes | None,
    *,
    inches: tuple[float, float] | None,
) -> tuple[CropWindow, bool]:
    """What is kept of art of a size (any unit), and whether empty borders were found.

    These are looked for in ``coded``, its picture.
    """
    found, wishes, window = None, profile.art, WHOLE
    if wishes.crop is not None:
        window = cut_sides(wishes.crop, inches=inches, sheet=profile.sheet)
    if coded is not None and wishes.trim is Automatic.AUTO:
        height, width = coded.shape
        left, top, right, bottom = window.pixels(width, height)
        found = find_subject(coded[top:bottom, left:right])
        if found is not None:
            window = CropWindow(
                (left + found[0]) / width,
                (top + found[1]) / height,
                (left + found[2]) / width,
                (top + found[3]) / height,
            )
    if wishes.crop is not None and wishes.crop.to is not None:
        across = (window.right - window.left) * size[0]
        down = (window.bottom - window.top) * size[1]
        window = cut_to_shape(wishes.crop.to, (across, down)).within(window)
    return window, found is not None


def _cut_sentence(window: CropWindow, size: tuple[float, float], sheet: SheetSize | None) -> str:
    """What is cut off each side: of a size in inches as lengths, else (no sheet) in pixels."""
    sides = {
        RenderNote.ON_THE_LEFT: window.left * size[0],
        RenderNote.AT_THE_TOP: window.top * size[1],
        RenderNote.ON_THE_RIGHT: (1 - window.right) * size[0],
        RenderNote.AT_THE_FOOT: (1 - window.bottom) * size[1],
    }

    def shown(length: float) -> str:
        if sheet is None:
            return RenderNote.PIXELS.say(count=f"{length:.0f}")
        return length_text(MM_PER_INCH * length, sheet, decimals=1)

    cut = ", ".join(side.say(length=shown(one)) for side, one in sides.items() if one > 0)
    return cut if sheet is None else RenderNote.OF_ITS_OWN_SIZE.say(cut=cut)
