"""How many pixels a drawing without pixels of its own gets on the film."""

from __future__ import annotations

from filmhand.art.vector import FilmSize, Sizing
from filmhand.profile.model import Profile
from filmhand.sheet.layout import plan_sheet

_FINE = 10_000.0  # pixels to the inch, so that rounding does not show in the proportions


def sizing_of(profile: Profile) -> Sizing:
    """The size on film, by the layout of the sheet, of art that is so many inches wide and high.

    Pixels are square: where the device's are not, there are as many as its finer direction has.
    The result raises Refused where the layout does.
    """
    dpi = profile.dpi

    def sizing(width_in: float, height_in: float) -> FilmSize:
        pixels = max(1, round(width_in * _FINE)), max(1, round(height_in * _FINE))
        layout = plan_sheet(profile, art_px=pixels, art_ppi=(_FINE, _FINE))
        finer = max(dpi.x, dpi.y)
        width = layout.art.width * finer / dpi.x
        height = layout.art.height * finer / dpi.y
        if layout.turned:
            width, height = height, width
        return FilmSize(round(width), round(height), float(finer))

    return sizing
