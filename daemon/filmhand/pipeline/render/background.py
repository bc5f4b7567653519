"""What a job clears from the background, and what the proof and the record tell of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from typing import Any

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, UInt16Array
from filmhand.art.analysis.islands import block_size, find_islands, ink_of_blocks
from filmhand.sheet.layout import Box
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

# Common practice, no source: an island has a few dots' worth of ink, and lies a good way off.
_DOTS = 4
_FAR_MM = 5.0
_FAR_SHARE = 0.03  # of the art's longer side
_LINE_LPI = 25.0  # what counts as a dot where there is no screen
_MAP_SIDE = 400
_WORTH_SHOWING = 0.005


@dataclass(slots=True)
class ClearedBackground:
    """What became bare film, over the art's area of the sheet.

    Attributes
    ----------
    floor : (h, w) bool, where tones up to ``tone.dropout`` were, or None
    masked : (h, w) bool, where the mask keeps bare film, or None
    islands : (column, row) on the sheet of each small island that was taken away
    """

    floor: BoolArray | None = None
    masked: BoolArray | None = None
    islands: list[tuple[int, int]] = field(default_factory=list)

    def shown(self, area: Box, part: Box, to: Box) -> ClearedBackground:
        """What of it a part of the area shows, on a film where the part lies at ``to``."""

        def cut(where: BoolArray | None) -> BoolArray | None:
            if where is None:
                return None
            rows, columns = where.shape
            down, across = rows / area.height, columns / area.width
            top, left = int((part.top - area.top) * down), int((part.left - area.left) * across)
            found = where[
                top : top + max(1, round(part.height * down)),
                left : left + max(1, round(part.width * across)),
            ]
            return found if found.any() else None

        islands = [
            (x - part.left + to.left, y - part.top + to.top)
            for x, y in self.islands
            if part.holds(x, y)
        ]
        return ClearedBackground(cut(self.floor), cut(self.masked), islands)

    def record(self) -> dict[str, Any]:
        """As the record holds it."""
        return {
            "islands": len(self.islands),
            "floor_pct": _percent(self.floor),
            "mask_pct": _percent(self.masked),
        }


def _percent(where: BoolArray | None) -> float:
    return 0.0 if where is None else round(100 * float(where.mean()), 1)


def map_box(area: Box) -> Box:
    """The area reduced to the size of what the proof shows."""
    scale = min(1.0, _MAP_SIDE / max(area.width, area.height))
    return Box(0, 0, max(1, round(area.width * scale)), max(1, round(area.height * scale)))


def clear_background(
    picture: UInt16Array,
    cleared: ClearedBackground,
    *,
    before: Callable[[Float64Array], Float64Array],
    after: Callable[[Float64Array], Float64Array],
    dark_inks: bool,
    area: Box,
    dpi: PixelsPerInch,
    lpi: float | None,
) -> None:
    """Take small islands out of the picture, in place, and note what the floor cleared.

    Parameters
    ----------
    picture : (H, W) uint16 as it lies on the film
    before, after : tone 0..1 of each code's own tone, without the floor and with it
    dark_inks : the code 0 is ink (gray); False where 65535 is (the ink share of line art)
    area, dpi, lpi : where the picture lies on the sheet, and the screen, if there is one
    """
    codes = np.arange(65536) / 65535
    own = 1 - codes if dark_inks else codes
    with_floor = after(own).astype(np.float32)
    without = before(own).astype(np.float32)
    size = block_size(picture.shape)
    ink = ink_of_blocks(picture, with_floor, size)
    floor = ink_of_blocks(picture, np.where(with_floor > 0, np.float32(0), without), size)
    gone = floor > _WORTH_SHOWING
    cleared.floor = gone if gone.any() else None
    across, down = area.width / picture.shape[1], area.height / picture.shape[0]
    block_mm = size * across * MM_PER_INCH / dpi.x
    dot_mm2 = (MM_PER_INCH / (lpi or _LINE_LPI)) ** 2
    longer_mm = MM_PER_INCH * max(area.width / dpi.x, area.height / dpi.y)
    far = max(_FAR_MM, _FAR_SHARE * longer_mm)
    islands = find_islands(
        ink, size, least=_DOTS * dot_mm2 / block_mm**2, far=max(1, round(far / block_mm))
    )
    islands.clear(picture, 65535 if dark_inks else 0)
    cleared.islands += [
        (area.left + int(x * across), area.top + int(y * down)) for x, y in islands.places
    ]
