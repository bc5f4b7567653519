"""The proof: a small picture of a film as it will look, with the mended places ringed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from filmhand.film.bits import BitSheet
from filmhand.tone import linear_to_srgb
from filmhand.units import Resolution

LONGEST_SIDE = 1000
_MOST_RINGS = 200


def write_proof(
    bits: BitSheet,
    path: Path,
    *,
    resolution: Resolution,
    ringed: list[tuple[int, int]],
) -> None:
    """Write a JPEG of the film, averaged by area, at most 1000 pixels long.

    Parameters
    ----------
    bits : the film
    ringed : (column, row) of places on the film to ring; only the first 200 are drawn
    """
    across = max(1, -(-bits.width // LONGEST_SIDE))
    down = max(1, -(-bits.height // LONGEST_SIDE))
    # Square proof pixels also where the device's are not.
    across = max(across, round(down * resolution.x / resolution.y))
    down = max(down, round(across * resolution.y / resolution.x))
    width, height = bits.width // across, bits.height // down
    ink = np.empty((height, width), np.uint32)
    for row in range(height):
        bands = np.unpackbits(bits.read(row * down, down), axis=1)[:, : width * across]
        # Bytes hold the sum of a column as long as a band has no more than 255 rows.
        columns = np.add.reduce(bands, axis=0, dtype=np.uint8 if down < 256 else np.uint32)
        ink[row] = columns.reshape(width, across).sum(axis=1, dtype=np.uint32)
    # Light averages, so the mean of the light is what the eye sees; sRGB codes it.
    code = linear_to_srgb(1 - np.arange(across * down + 1) / (across * down))
    grey = np.rint(255 * code).astype(np.uint8)[ink]
    picture: Image.Image = Image.fromarray(grey)
    if ringed:
        picture = picture.convert("RGB")
        draw = ImageDraw.Draw(picture)
        for column, line in ringed[:_MOST_RINGS]:
            x, y = column / across, line / down
            draw.ellipse((x - 6, y - 6, x + 6, y + 6), outline=(200, 30, 30))
    picture.save(path, "JPEG", quality=85)
