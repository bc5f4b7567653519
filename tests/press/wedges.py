"""The wedge of a profile, printed by a simulated press; the tones that it then has are known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from filmhand.pipeline.printer_films.wedge_film import draw_wedge
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.profile.model import ToneWishes
from filmhand.screen.grain import find_grain
from filmhand.screen.screener import Screener
from filmhand.tone import FULL
from press.scans import FINER, move_of_edges, printed, scanned

_CELLS_OF_TINT = 20

# Published curves, film % to print %: SEFAR, Half-tone printing process line (sefar.com, article
# 6566571), and Precise Media, Presto CD artwork (precisemedia.com), ends added.
SEFAR = (
    (0, 1, 6, 11, 17, 22, 32, 40, 47, 53, 63, 69, 76, 83, 91, 99, 100),
    (0, 0, 2, 7, 15, 22, 35, 44, 53, 59, 76, 84, 89, 94, 98, 100, 100),
)
PRESTO = (
    (0, 6, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 97, 100),
    (0, 0, 6, 15, 25, 35, 45, 55, 72, 82, 92, 96, 100, 100),
)
AS_FILM = ((0, 100), (0, 100))


@dataclass(frozen=True, eq=False)
class PrintedWedge:
    """A print of a wedge.

    Attributes
    ----------
    ink : (H, W) uint8 of cells, 255 is ink
    cell_mm : the side of a cell
    tones : print tone in percent by film tone
    drawn : the film
    """

    ink: np.ndarray
    cell_mm: float
    tones: dict[float, float]
    drawn: object

    def scanned(self, scanner):
        """What a scanner writes of it, (H, W, 3) uint8."""
        return scanned(self.ink, self.cell_mm, scanner)


@lru_cache(maxsize=4)
def wedge_bits(profile):
    """(film, bits): the wedge of a profile as it lies on its sheet, cut to itself."""
    drawn = draw_wedge(replace(profile, sha256="0" * 64))
    dpi = profile.acetate_dpi
    width, height = (
        round(side / 25.4 * per_inch)
        for side, per_inch in zip(drawn.layout.size_mm, (dpi.x, dpi.y), strict=True)
    )
    bits = np.zeros((height + 2, width + 2), np.bool_)
    for mark in drawn.marks:
        top, left = mark.box.top - drawn.ground.top, mark.box.left - drawn.ground.left
        part = bits[top : top + mark.bits.shape[0], left : left + mark.bits.shape[1]]
        part |= mark.bits[: part.shape[0], : part.shape[1]]
    return drawn, bits[:height, :width]


@lru_cache(maxsize=512)
def _tint(profile, tone):
    """A function that gives the bits of an endless tint, many cells wide."""

    def bits():
        bare = replace(profile, tone=ToneWishes(hold="off"))
        side = round(_CELLS_OF_TINT * profile.dpi.x / profile.lpi)
        if str(profile.dot) == "grain":
            # All of what repeats, twice each way: any less has more or fewer dots by chance.
            side = 2 * find_grain(profile.lpi, profile.acetate_dpi).width
        flat = np.full((side, side), round(tone / 100 * FULL), np.uint16)
        return Screener(tile_of(plan_screen(bare), None), column=0, width=side).cut(flat, row=0)

    return bits


@lru_cache(maxsize=4)
def print_of(profile, curve, growth=0):
    """The print of a profile's wedge by a press with a curve, (film tones, print tones) in percent.

    ``growth`` is by how many cells the edges of everything but patches move.
    """
    drawn, bits = wedge_bits(profile)
    tones, patches = {}, []
    for patch in drawn.layout.patches:
        asked = float(np.interp(patch.film_pct, *curve))
        tones[patch.film_pct] = asked
        box = patch.box.in_pixels(profile.acetate_dpi)
        flat = patch.film_pct in {0, 100}
        move = (
            np.inf * (1 if patch.film_pct else -1)
            if flat
            else move_of_edges(_tint(profile, patch.film_pct), asked / 100)
        )
        rows = slice(box.top, box.top + box.height)
        patches.append((rows, slice(box.left, box.left + box.width), move))
    ink = printed(bits, growth=growth, patches=patches)
    return PrintedWedge(ink, 25.4 / profile.acetate_dpi.x / FINER, tones, drawn)
