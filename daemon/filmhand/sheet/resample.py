"""Resampling to device pixels, in strips that join without a seam."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Rows = Callable[[int, int], NDArray[np.float32]]
_SUPPORT = {
    Image.Resampling.LANCZOS: 3,
    Image.Resampling.BICUBIC: 2,
    Image.Resampling.BILINEAR: 1,
    Image.Resampling.HAMMING: 1,
    Image.Resampling.BOX: 1,
}


def resample_rows(
    rows: Rows,
    size: tuple[int, int],
    to: tuple[int, int],
    *,
    first: int,
    count: int,
    method: Image.Resampling,
) -> NDArray[np.float32]:
    """Some rows of a picture resampled as a whole.

    Parameters
    ----------
    rows : gives source rows a .. b as (b - a, width) float32
    size, to : (width, height) of the source and of the whole result
    first, count : which rows of the result
    method : the filter; its reach grows with reduction, so nothing aliases

    Returns
    -------
    (count, to width) float32, not clipped: filters with negative lobes overshoot at hard edges
    """
    (width, height), (new_width, new_height) = size, to
    top, bottom = first * height / new_height, (first + count) * height / new_height
    # Whole source rows around the strip are cut first and only a small offset is left to the
    # resampler: its box is single precision, and far offsets would shift the strips by a hair.
    reach = int(_SUPPORT[method] * max(1.0, height / new_height)) + 3
    start, stop = max(0, int(top) - reach), min(height, int(bottom) + 1 + reach)
    image = Image.fromarray(np.ascontiguousarray(rows(start, stop)))
    box = (0.0, max(0.0, top - start), float(width), min(float(stop - start), bottom - start))
    return np.asarray(image.resize((new_width, count), method, box=box))
