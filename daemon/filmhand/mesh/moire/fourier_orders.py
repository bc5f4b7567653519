"""How strongly each order of a dot screen and of a mesh is there: Fourier coefficients.

The product of two gratings holds every difference of their orders, each as strong as the product of
the two coefficients (I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer,
2009, ch. 2); all coefficients here are relative to the mean of their grating. Dots are taken as
ideal discs and the mesh as square openings, whatever the shape of a dot really is.
"""

from __future__ import annotations

from functools import lru_cache
from math import pi

import numpy as np

from filmhand.arrays import Float64Array, Int64Array

TONES_OF_ORDERS = (0.3, 0.5, 0.7)
"""The tones at which a beat is looked at; it counts as strong as it is at the worst of them."""

# Discs of this share of the cell touch their neighbors; above it the shadow dots are taken as the
# discs.
_TOUCH = pi / 4
_SERIES_UP_TO = 12.0
_FEWEST_KEPT = 4096


def bessel_j1(x: Float64Array) -> Float64Array:
    """The Bessel function of the first kind, order 1, for x >= 0, right to 1e-7.

    Power series up to 12, Hankel's asymptotic series beyond (M. Abramowitz, I. A. Stegun, Handbook
    of Mathematical Functions, 9.1.10 and 9.2.5).
    """
    near = np.minimum(x, _SERIES_UP_TO)
    term = near / 2
    total = term.copy()
    for k in range(1, 40):
        term = -term * near * near / (4 * k * (k + 1))
        total += term
    far = np.maximum(x, _SERIES_UP_TO)
    # a_k (x) = (4 - 1)(4 - 9) ... (4 - (2k - 1)^2) / (k! (8 x)^k), signs in turns of two.
    parts = [np.ones_like(far)]
    for k in range(1, 10):
        parts.append(parts[-1] * (4 - (2 * k - 1) ** 2) / (k * 8 * far))
    even = parts[0] - parts[2] + parts[4] - parts[6] + parts[8]
    odd = parts[1] - parts[3] + parts[5] - parts[7] + parts[9]
    turn = far - 0.75 * pi
    beyond = np.sqrt(2 / (pi * far)) * (even * np.cos(turn) - odd * np.sin(turn))
    return np.where(x <= _SERIES_UP_TO, total, beyond)


def disc_strength(squares: Int64Array, tone: float) -> Float64Array:
    """Size of the coefficients of discs on a square lattice, relative to their mean.

    Parameters
    ----------
    squares : i^2 + j^2 of each order, i and j whole
    tone : share of the plane that is ink, 0 < tone < 1; above pi/4 the shadow dots are discs
    """
    share = tone if tone <= _TOUCH else 1 - tone
    argument = 2 * pi * np.sqrt(share / pi) * np.sqrt(squares.astype(np.float64))
    safe = np.maximum(argument, 1e-9)
    return np.where(squares == 0, 1.0, np.abs(2 * bessel_j1(safe) / safe) * share / tone)


def stripe_strength(orders: Int64Array, share: float) -> Float64Array:
    """Size of the coefficients of stripes that fill this share of their period, as above."""
    found: Float64Array = np.abs(np.sinc(orders * share))
    return found


def dot_strength(orders: Int64Array, *, lines: bool) -> Float64Array:
    """Size of a screen's coefficients at the worst of :data:`TONES_OF_ORDERS`, relative to its
    mean.

    Parameters
    ----------
    orders : (..., 2) whole orders i, j of dots, or (..., 1) of a line screen
    """
    squares = (orders * orders).sum(-1)
    size = max(_FEWEST_KEPT, 1 << int(squares.max(initial=0)).bit_length())
    found: Float64Array = _kept(size, lines=lines)[squares]
    return found


@lru_cache(maxsize=4)
def _kept(size: int, *, lines: bool) -> Float64Array:
    """Strengths by i^2 + j^2, below ``size``."""
    squares = np.arange(size)
    if lines:
        # Only whole roots are orders of a line screen; the rest are never looked up.
        roots = np.rint(np.sqrt(squares)).astype(np.int64)
        by_tone = [stripe_strength(roots, tone) for tone in TONES_OF_ORDERS]
    else:
        by_tone = [disc_strength(squares, tone) for tone in TONES_OF_ORDERS]
    strongest: Float64Array = np.max(by_tone, axis=0)
    strongest.setflags(write=False)
    return strongest


def mesh_strength(orders: Int64Array, open_width: float) -> Float64Array:
    """Size of a square weave's coefficients relative to its mean.

    Parameters
    ----------
    orders : (..., 2) whole orders m, n
    open_width : opening over pitch, 0 to 1
    """
    found: Float64Array = np.prod(stripe_strength(orders, open_width), axis=-1)
    return found
