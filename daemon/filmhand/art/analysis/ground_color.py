"""The color of the ground: paper is nearly neutral or warm, and a sky or a lake is not.

Formulas: IEC 61966-2-1 for sRGB, CIE 15 for CIELAB under its white (D65).
"""

from __future__ import annotations

import numpy as np
from PIL import Image

from filmhand.arrays import Float64Array, Int64Array
from filmhand.art.raster import median_of
from filmhand.tone import srgb_to_linear

_SIDE = 96  # pixels of the sample, which are picked and not averaged
_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], np.float64
)
# No paper that people draw on is more colored, in the light of a lamp or of the sky (common
# practice, no source).
_MOST_CHROMA, _MOST_BLUE, _MOST_GREEN = 38.0, 14.0, 20.0


def ground_color(image: Image.Image) -> tuple[float, float] | None:
    """CIELAB a* and b* in the middle of the lighter half of a picture; None for a gray one."""
    if image.mode not in {"RGB", "RGBA", "P", "PA", "CMYK", "YCbCr", "LAB", "RGBX"}:
        return None
    small = image.resize((min(_SIDE, image.width), min(_SIDE, image.height)), 0)
    white = Image.new("RGBA", small.size, "white")
    pixels = np.asarray(Image.alpha_composite(white, small.convert("RGBA")))[..., :3]
    lightness, a, b = _lab(pixels.reshape(-1, 3) / 255.0)
    lighter = lightness >= median_of(lightness)
    return median_of(a[lighter]), median_of(b[lighter])


def sampled_places(size: tuple[int, int]) -> tuple[Int64Array, Int64Array]:
    """The columns and the rows of a picture, width and height, that :func:`ground_color` looks at.

    Who has no more than the pixels where they cross has all that it needs.
    """
    # The library is asked itself, as it picks by a way of its own.
    columns, rows = (
        np.asarray(
            Image.fromarray(np.arange(side, dtype=np.int32)[None]).resize((min(_SIDE, side), 1), 0)
        )[0].astype(np.int64)
        for side in size
    )
    return columns, rows


def can_be_paper(color: tuple[float, float] | None) -> bool:
    """False for a ground that is too colored, or too blue or green, to be paper."""
    if color is None:
        return True
    a, b = color
    return float(np.hypot(a, b)) <= _MOST_CHROMA and b >= -_MOST_BLUE and a >= -_MOST_GREEN


def _lab(rgb: Float64Array) -> tuple[Float64Array, Float64Array, Float64Array]:
    xyz = srgb_to_linear(rgb) @ _XYZ.T / _XYZ.sum(axis=1)
    root = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    x, y, z = root.T
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)
