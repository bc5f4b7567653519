"""The art as it was dropped, small: what the finished film is held against."""

from __future__ import annotations

import numpy as np
from PIL import Image

from filmhand.arrays import Float32Array
from filmhand.art.files.gray import WHITE, Codes, codes_of_light, light_of_codes
from filmhand.art.raster import looked_up
from filmhand.film.bits import box_sums
from filmhand.kernels.loops import compiled

LONGEST_SEEN_SIDE = 1200
_ROWS_AT_ONCE = 512


def seen_small(coded: Codes) -> Codes:
    """The art reduced by whole numbers, (H, W) -> (h, w) uint16, by the mean of its codes.

    Not of its light: tone goes by the code, and the film has the tone of each pixel.
    """
    factor = max(1, -(-max(coded.shape) // LONGEST_SEEN_SIDE))
    factor = min(factor, *coded.shape)
    if factor == 1:
        return coded.copy()
    height, width = (side // factor for side in coded.shape)
    small = np.empty((height, width), np.uint16)
    rows = max(1, _ROWS_AT_ONCE // factor)
    for top in range(0, height, rows):
        strip = coded[top * factor : min(height, top + rows) * factor]
        sums = box_sums(strip, across=factor, down=factor, most=WHITE)
        small[top : top + rows] = sums // factor**2
    return small


def on_clear_film(seen: Codes, paper: Float32Array, gain: float = 1.0) -> Codes:
    """The art as it would be on clear film: its light by that of its paper.

    paper : (h, w) float32 light 0..1, at any size
    gain : what faint strokes are brought up by
    """
    height, width = seen.shape
    around = Image.fromarray(paper).resize((width, height), Image.Resampling.BILINEAR)
    return _bare_codes(np.ascontiguousarray(seen), np.asarray(around), gain)


def _bare_codes(seen: Codes, paper: Float32Array, gain: float) -> Codes:
    """The codes of light by that of the paper at each place; both (h, w), C-contiguous."""
    loops = compiled()
    if loops is None:
        return _codes_by_paper(seen, paper, gain)
    out = np.empty_like(seen)
    light, coded = light_of_codes(), codes_of_light()
    loops.bare_codes(seen, light, np.ascontiguousarray(paper), gain, coded, out)
    return out


def _codes_by_paper(seen: Codes, paper: Float32Array, gain: float) -> Codes:
    """What the loop in C does."""
    share = np.take(light_of_codes(), seen)
    share /= np.maximum(paper, 1e-4)
    share = np.clip(1 - (1 - share) * gain, 0, 1)
    return looked_up(codes_of_light(), np.round(share * WHITE).astype(np.uint16))
