"""A picture that was decoded to an array, and the same as an image of the base reader."""

from __future__ import annotations

from dataclasses import field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.values import dataclass

Colors = Literal["L", "RGB", "CMYK", "LAB"]
COLOR_COUNT: dict[Colors, int] = {"L": 1, "RGB": 3, "CMYK": 4, "LAB": 3}


@dataclass(slots=True)
class DecodedPixels:
    """The pixels as they are stored, not yet turned upright.

    Attributes
    ----------
    pixels : (H, W, C) uint8, uint16 or float32; the colors first, then opacity, then whatever else
        Whole numbers fill their type; of inks the most is full. Fractions are light with white at
        1, or gray codes where ``coded``. LAB of eight bits has 128 in the middle of a and b, LAB
        of fractions is L* 0..100, a* and b*.
    colors : which colors, and so how many
    opacity : whether the channel behind the colors is the picture's opacity
    profile : an embedded color profile
    ppi : across and down, as the file says
    coded : fractions of gray are codes, not light
    """

    pixels: NDArray[Any]
    colors: Colors
    opacity: bool = False
    profile: bytes | None = None
    ppi: tuple[float, float] | None = None
    coded: bool = False
    notes: list[str] = field(default_factory=list)

    @property
    def is_deep(self) -> bool:
        """Whether an image of the base reader could not hold all of it."""
        if self.pixels.dtype == np.uint8:
            return False
        is_light = self.pixels.dtype == np.float32 and not self.coded
        return self.colors != "L" or self.opacity or is_light

    def as_image(self) -> Image.Image:
        """The picture as the base reader would give it; deep color is cut to eight bits.

        Raises
        ------
        TypeError
            For deep fractions, which cannot be cut.
        """
        pixels = self.pixels
        if self.is_deep:
            if pixels.dtype != np.uint16:
                raise TypeError("fractions cannot be cut to eight bits")
            pixels = (pixels >> 8).astype(np.uint8)
        image = _merged(pixels, self.colors, opacity=self.opacity)
        if self.profile:
            image.info["icc_profile"] = self.profile
        if self.ppi:
            image.info["dpi"] = self.ppi
        return image


def _merged(pixels: NDArray[Any], colors: Colors, *, opacity: bool) -> Image.Image:
    count = COLOR_COUNT[colors]
    mode = {"L": "LA", "RGB": "RGBA"}.get(colors) if opacity else None
    bands = [
        Image.fromarray(np.ascontiguousarray(pixels[..., band]))
        for band in range(count + (mode is not None))
    ]
    return bands[0] if len(bands) == 1 else Image.merge(mode or colors, bands)
