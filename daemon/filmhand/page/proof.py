"""The proof: a small picture of a film as it will look, with the mended places ringed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from filmhand.film.bits import BitSheet
from filmhand.tone import linear_to_srgb
from filmhand.units import Resolution

LONGEST_SIDE = 1000
_MOST_RINGS = 40
_MOST_POINTS = 4000
_ROWS_AT_ONCE = 256


def write_proof(
    bits: BitSheet,
    path: Path,
    *,
    resolution: Resolution,
    ringed: list[tuple[int, int]],
) -> None:
    """Write a JPEG of the film, as the eye sees it, 1000 pixels long.

    Parameters
    ----------
    bits : the film
    ringed : (column, row) of places on the film to mark
    """
    # Averaged to twice the proof's size and then reduced with a proper filter: averaging all the
    # way would let the dots beat with the proof's own pixels.
    factor = max(1, max(bits.width, bits.height) // (2 * LONGEST_SIDE))
    coarser = max(resolution.x, resolution.y)
    across = max(1, round(factor * resolution.x / coarser))
    down = max(1, round(factor * resolution.y / coarser))
    width, height = bits.width // across, bits.height // down
    light = np.empty((height, width), np.float32)
    # Many rows at a time: the film is being coded beside this, and each step waits for its turn.
    rows = max(1, _ROWS_AT_ONCE // down)
    for top in range(0, height, rows):
        count = min(rows, height - top)
        ink = np.unpackbits(bits.read(top * down, count * down), axis=1)[:, : width * across]
        # Bytes hold the sum of a column as long as it is of no more than 255 rows.
        columns = ink.reshape(count, down, width * across).sum(
            axis=1, dtype=np.uint8 if down < 256 else np.uint32
        )
        blocks = columns[:, ::across].astype(np.uint32)
        for column in range(1, across):
            blocks += columns[:, column::across]
        light[top : top + count] = 1 - blocks / (across * down)
    size = _proof_size(bits, resolution)
    # Light averages, so the mean of the light is what the eye sees; sRGB codes it.
    seen = np.asarray(Image.fromarray(light).resize(size, Image.Resampling.LANCZOS))
    code = np.rint(255 * linear_to_srgb(seen.astype(np.float64))).astype(np.uint8)
    picture: Image.Image = Image.fromarray(code)
    if ringed:
        picture = picture.convert("RGB")
        _mark(picture, ringed, (size[0] / bits.width, size[1] / bits.height))
    picture.save(path, "JPEG", quality=85)


def _proof_size(bits: BitSheet, resolution: Resolution) -> tuple[int, int]:
    """Width and height of the proof, in the proportions of the sheet."""
    across, down = bits.width / resolution.x, bits.height / resolution.y
    scale = LONGEST_SIDE / max(across, down)
    return max(1, round(across * scale)), max(1, round(down * scale))


def _mark(picture: Image.Image, places: list[tuple[int, int]], scale: tuple[float, float]) -> None:
    """Ring the places, or put a small point on each where rings would hide the picture."""
    draw = ImageDraw.Draw(picture)
    reach = 6 if len(places) <= _MOST_RINGS else 1
    # Spread over the whole sheet where there are too many to tell apart.
    for column, line in places[:: max(1, len(places) // _MOST_POINTS)]:
        x, y = column * scale[0], line * scale[1]
        draw.ellipse((x - reach, y - reach, x + reach, y + reach), outline=(200, 30, 30))
