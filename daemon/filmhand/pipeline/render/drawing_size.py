"""How many pixels a drawing without pixels of its own gets on the film."""

from __future__ import annotations

from filmhand.art.crop_window import WHOLE, CropWindow
from filmhand.art.drawings.vector import FilmSize, Sizing
from filmhand.profile.model import Profile
from filmhand.sheet.placement import place_art

_FINE = 10_000.0  # pixels to the inch, so that rounding does not show in the proportions


def sizing_of(profile: Profile, *, part: CropWindow = WHOLE) -> Sizing:
    """The size on film, by the layout of the sheet, of art that is so many inches wide and high.

    ``part`` is what is kept of it.

    Pixels are square: where the device's are not, there are as many as its finer direction has.
    The result raises Refused where the layout does.
    """
    dpi = profile.dpi

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
