"""Drawings of flat colors with soft edges, of which the areas are known."""

from __future__ import annotations

import numpy as np

from filmhand.tone import linear_to_srgb, srgb_to_linear

FINE = 8
"""Parts of a pixel each way that a drawing is sampled at."""


def drawn(labels, palette, *, in_light=False):
    """(H, W, 3) uint8 codes, and (H, W, k) the true area of each color of the palette.

    labels : (FINE * H, FINE * W) place in the palette; palette : (k, 3) codes 0..255
    """
    height, width = (side // FINE for side in labels.shape)
    one_each = np.eye(len(palette))[labels]
    areas = one_each.reshape(height, FINE, width, FINE, -1).mean(axis=(1, 3))
    codes = np.asarray(palette) / 255
    mixed = linear_to_srgb(areas @ srgb_to_linear(codes)) if in_light else areas @ codes
    return np.round(mixed * 255).astype(np.uint8), areas


def pie(size, parts, *, colors, ground):
    """(FINE * size, FINE * size) a disk in so many sectors of the colors in turn, on the ground."""
    side = FINE * size
    y, x = (np.mgrid[:side, :side] + 0.5) / side - 0.5
    sector = np.floor((np.arctan2(y, x + 0.003) + np.pi + 0.2) / (2 * np.pi) * parts).astype(int)
    return np.where(np.hypot(x, y) < 0.42, np.asarray(colors)[sector % len(colors)], ground)
