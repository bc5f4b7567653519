"""How much of one ink a drawn color stands for.

Whoever draws the plate of an ink draws it in black and grays, or in the ink's own color and its
tints, as editors mix them: in sRGB codes. So a color is taken apart into white, the ink's color and
black, and all that is not white is ink, also of other colors of about its hue. What of a color is
none of these counts by how dark it is.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array, UInt32Array
from filmhand.ink.cielab import srgb_to_lab
from filmhand.tone import FULL, linear_to_srgb, srgb_to_linear

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
_KINDS = 1 << 24
# Cosines between what of two colors is no gray: from the one on they are of about one hue, up to
# the other of different ones (ours, no source).
_ONE_HUE, _OTHER_HUE = 0.9, 0.6
LEAST_CHROMA = 15.0
"""Of an ink whose tints can be told from grays (ours, no source)."""


def has_tints(ink: Float64Array) -> bool:
    """Whether tints of a color, (3,) sRGB codes 0..1, can be told from grays."""
    return float(np.hypot(*srgb_to_lab(ink)[1:])) >= LEAST_CHROMA


def darkness_of_codes(colors: Float64Array) -> Float64Array:
    """(m,) tone 0..1 of (m, 3) sRGB codes 0..1: one minus the code of the gray as light as each."""
    return 1 - linear_to_srgb(srgb_to_linear(colors) @ _LUMINANCE)


def coverage_of_tints(colors: Float64Array, ink: Float64Array) -> tuple[Float64Array, Float64Array]:
    """How much of an ink colors stand for.

    Parameters
    ----------
    colors : (m, 3) float64, sRGB codes 0..1
    ink : (3,) float64, the same of the ink; it :func:`has_tints`

    Returns
    -------
    coverage : (m,) float64, 0..1
    nearest : (m, 3) float64, the nearest of white, the ink, black and what they mix

    >>> red = np.array([0.8, 0.2, 0.0])
    >>> drawn = np.array([[0.8, 0.2, 0.0], [0.9, 0.6, 0.5], [0.4, 0.1, 0.0], [0.5, 0.5, 0.5]])
    >>> coverage_of_tints(drawn, red)[0].round(3)
    array([1. , 0.5, 1. , 0.5])
    """
    total, own = ink.sum(), ink @ ink
    sums, along = colors.sum(axis=1), colors @ ink
    share = np.maximum((3 * along - total * sums) / (3 * own - total**2), 0)
    white = (sums - share * total) / 3
    share = np.where(white < 0, along / own, share)
    white = np.clip(white, 0, 1)
    nearest = np.clip(white[:, None] + share[:, None] * ink, 0, 1)
    unlike = darkness_of_codes(colors) - darkness_of_codes(nearest)
    coverage = 1 - white + (1 - of_hue(colors, ink)) * unlike
    return np.clip(coverage, 0, 1), nearest


def of_hue(colors: Float64Array, ink: Float64Array) -> Float64Array:
    """(m,) 1 for (m, 3) colors of about an ink's hue, 0 for others and grays, and between."""
    parts, own = colors - colors.mean(axis=1, keepdims=True), ink - ink.mean()
    lengths = np.maximum(np.linalg.norm(parts, axis=1) * np.linalg.norm(own), 1e-9)
    alike: Float64Array = (parts @ own / lengths - _OTHER_HUE) / (_ONE_HUE - _OTHER_HUE)
    return np.clip(alike, 0, 1)


def codes_of_kinds(kinds: UInt32Array) -> Float64Array:
    """(m, 3) sRGB codes 0..1 of (m,) red + 256 green + 65536 blue, each of them 0..255."""
    return np.stack([kinds & 255, kinds >> 8 & 255, kinds >> 16], axis=-1) / 255


class PlateOfInk:
    """Drawn colors to the tones of one ink.

    Parameters
    ----------
    ink : (3,) float64, sRGB codes 0..1 of a color that is a solid, and its tints so much of it;
        None where only darkness counts
    solid : the darkness that is a solid where only that counts, 0..1; 0 where any color is
    """

    def __init__(self, ink: Float64Array | None, solid: float = 1.0) -> None:
        """Knows no color yet."""
        self._ink, self._solid = ink, solid
        self._known = np.zeros(_KINDS, bool)
        self._tones = np.zeros(_KINDS, np.uint16)

    def tones(self, kinds: UInt32Array) -> UInt16Array:
        """(m,) uint16, 65535 for a solid, of colors as :func:`codes_of_kinds` takes them."""
        known = self._known[kinds]
        if not known.all():
            new = np.unique(kinds[~known])
            self._tones[new] = np.rint(self.coverage(codes_of_kinds(new)) * FULL)
            self._known[new] = True
        return self._tones[kinds]

    def coverage(self, colors: Float64Array) -> Float64Array:
        """(m,) 0..1 of (m, 3) sRGB codes 0..1."""
        if self._ink is not None:
            return coverage_of_tints(colors, self._ink)[0]
        if self._solid == 0:
            return np.ones(len(colors))
        return np.clip(darkness_of_codes(colors) / self._solid, 0, 1)

    def nearest(self, colors: Float64Array) -> Float64Array:
        """(m, 3) sRGB codes of the nearest of each that is plainly meant for the ink."""
        if self._ink is not None:
            return coverage_of_tints(colors, self._ink)[1]
        return np.repeat(1 - darkness_of_codes(colors)[:, None], 3, axis=1)
