"""How strong the Fourier orders of a weave are, and those of dots on a finished film.

Sizes are relative to the mean: twice the product of a mesh order's and a dot order's is how much
their beat changes the mean ink, up and down.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array

# Light tints change their ink by a large part of very little; they count as this tone does.
_LIGHTEST = 0.3


def mesh_strength(orders: Int64Array, open_width: float) -> Float64Array:
    """Size of a square weave's coefficients relative to its mean.

    Parameters
    ----------
    orders : (..., 2) whole orders m, n
    open_width : opening over pitch, 0 to 1
    """
    found: Float64Array = np.abs(np.sinc(orders * open_width)).prod(axis=-1)
    return found


def strength_in_windows(windows: Iterable[BoolArray], frequencies: Float64Array) -> Float64Array:
    """Size of waves in windows of a film relative to the ink, in the window where it is largest.

    Parameters
    ----------
    windows : each (h, w) bool, True where there is ink, all of one size
    frequencies : (k, 2) float64, cycles a pixel to the right and up

    Returns
    -------
    (k,) float64, 0 where no window has ink. The ink of tones under 30 % counts as 30 %.

    Notes
    -----
    Under a Hann window, so that the strong first orders leave nothing on weak higher ones.
    """
    count = len(frequencies)
    largest = np.zeros(count)
    waves: tuple[Float32Array, NDArray[np.complex128]] | None = None
    for window in windows:
        height, width = window.shape
        vertical, horizontal = _hann(height), _hann(width)
        waves = waves or _weighted_waves(vertical, horizontal, frequencies)
        ink = window.astype(np.float32)
        # Real products: a complex one would make a complex copy of the whole window.
        rows = ink @ waves[0]
        found = np.abs((waves[1] * (rows[:, :count] + 1j * rows[:, count:])).sum(axis=0))
        mean = float(vertical @ (ink @ horizontal.astype(np.float32)))
        largest = np.maximum(largest, found / max(mean, _LIGHTEST))
    # A pixel is a square, not a point.
    found_largest: Float64Array = largest * np.abs(np.sinc(frequencies)).prod(axis=1)
    return found_largest


def _weighted_waves(
    vertical: Float64Array, horizontal: Float64Array, frequencies: Float64Array
) -> tuple[Float32Array, NDArray[np.complex128]]:
    """The waves along rows, (w, 2 k) real parts and then imaginary ones, and along columns, (h, k),
    by the weights of the window.
    """
    across = np.exp(-2j * np.pi * np.outer(np.arange(horizontal.size), frequencies[:, 0]))
    down = np.exp(2j * np.pi * np.outer(np.arange(vertical.size), frequencies[:, 1]))
    columns = horizontal[:, None] * across
    both = np.concatenate([columns.real, columns.imag], axis=1).astype(np.float32)
    return both, vertical[:, None] * down


def _hann(count: int) -> Float64Array:
    """Weights that add up to 1."""
    raised = np.sin(np.pi * (np.arange(count) + 0.5) / count) ** 2
    found: Float64Array = raised / raised.sum()
    return found
