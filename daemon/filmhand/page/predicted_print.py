"""Pictures of the expected print: the whole sheet, and an enlarged detail of one place of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageFilter

from filmhand.arrays import Float32Array, UInt8Array
from filmhand.mesh.printing.losses import PrintedPiece
from filmhand.tone import linear_to_srgb

LONGEST_PRINT_SIDE = 2000
"""Pixels of the picture of a whole sheet along its longer side."""

# Light is looked up in steps of which even the darkest code holds several.
_STEPS = 2**14 - 1
_ROWS_AT_ONCE = 64
_CODES: UInt8Array = np.rint(255 * linear_to_srgb(np.arange(_STEPS + 1) / _STEPS)).astype(np.uint8)
# Losses are shown in colors that ink on paper does not have.
# A lost dot may be two pixels wide, which nobody would find.
_SEEN = 5
_ANY = [0] + [255] * 255
LOST, FILLED = (214, 40, 40), (30, 90, 220)


def write_predicted_print(share: Float32Array, path: Path, *, inches: tuple[float, float]) -> None:
    """Write a gray PNG of a print as the eye sees it, in the proportions of the sheet.

    Parameters
    ----------
    share : (h, w) float32, printed share 0..1 of boxes of the sheet
    inches : width and height of the sheet
    """
    longest = max(inches)
    size = tuple(max(1, round(LONGEST_PRINT_SIDE * side / longest)) for side in inches)
    gray(share, (size[0], size[1])).save(path, "PNG", optimize=False)


def gray(share: Float32Array, size: tuple[int, int]) -> Image.Image:
    """An sRGB gray picture of a share of ink: light averages, and sRGB codes it (IEC 61966-2-1)."""
    light = np.float32(1) - share
    if size != light.shape[::-1]:
        light = np.asarray(Image.fromarray(light).resize(size, Image.Resampling.LANCZOS))
    return Image.fromarray(coded(light))


def coded(light: Float32Array) -> UInt8Array:
    """sRGB codes, 0..255, of light, 0..1; what filters overshoot is cut off."""
    codes = np.empty(light.shape, np.uint8)
    for top in range(0, len(light), _ROWS_AT_ONCE):  # what is worked out stays in the cache
        steps = np.clip(light[top : top + _ROWS_AT_ONCE], 0, 1)
        steps *= _STEPS
        steps += np.float32(0.5)
        np.take(_CODES, steps.astype(np.uint16), out=codes[top : top + _ROWS_AT_ONCE])
    return codes


def detail(piece: PrintedPiece, size: tuple[int, int]) -> Image.Image:
    """A part of the expected print, lost dots and filled holes colored; RGB."""
    picture = gray(piece.share, size).convert("RGB")
    for places, color in ((piece.lost, LOST), (piece.filled, FILLED)):
        if places.any():
            mask = Image.fromarray(places.view(np.uint8) * 255).resize(size, Image.Resampling.BOX)
            # A blur of full masks leaves nothing of what it reaches at 0, and takes a tenth of the
            # time that the filter for the highest value does.
            mask = mask.point(_ANY).filter(ImageFilter.BoxBlur(_SEEN // 2)).point(_ANY)
            picture.paste(color, (0, 0), mask)
    return picture
