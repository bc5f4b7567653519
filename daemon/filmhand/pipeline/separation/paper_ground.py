"""Paper under art whose inks are found in it: its color, where it is not the cloth's."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.art.analysis.ground_color import can_be_paper
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.flat_colors import FLAT_TOLERANCE
from filmhand.tone import FULL

# All of these: measured on a drawing of two logos on cream paper with grain, saved as JPEG 85, and
# on thirteen pictures of scikit-image, none of them on colored paper; no other source.
_SIDE = 300  # places to a side at which colors are compared
_RIM = 0.03  # of the picture, on which only paper lies
_LIGHT = 60.0  # L* of the darkest paper
_NEAR = 8.0  # CIEDE2000 from the middle of all paper
_OF_RIM, _OF_ALL = 0.9, 0.3  # the least that is paper
_GRAIN = 0.5  # L* from pixel to pixel: what is drawn has none


def paper_ground(codes: UInt16Array, cloth: Float64Array) -> Float64Array | None:
    """The color of the paper that art was scanned or photographed on.

    Parameters
    ----------
    codes : (H, W, 3) uint16, sRGB
    cloth : (3,) float64, L*, a*, b*

    Returns
    -------
    (3,) float64, sRGB codes 0..1; None where it is no paper, or of the cloth's color
    """
    step = max(1, max(codes.shape[:2]) // _SIDE)
    places = codes[::step, ::step] / FULL
    rows, columns = (max(1, round(_RIM * side)) for side in places.shape[:2])
    rim = np.ones(places.shape[:2], np.bool_)
    rim[rows:-rows, columns:-columns] = False
    paper: Float64Array = np.median(places[rim], axis=0)
    lab = srgb_to_lab(paper)
    if lab[0] < _LIGHT or not can_be_paper((float(lab[1]), float(lab[2]))):
        return None
    if color_difference(lab, cloth) <= FLAT_TOLERANCE:
        return None
    near = color_difference(srgb_to_lab(places), lab) <= _NEAR
    if near[rim].mean() < _OF_RIM or near.mean() < _OF_ALL:
        return None
    beside = srgb_to_lab(codes[::step, 1::step][:, : places.shape[1] - 1] / FULL)[..., 0]
    here = srgb_to_lab(places[:, : beside.shape[1]])[..., 0]
    apart = np.abs(here - beside)[near[:, : beside.shape[1]]]
    return paper if apart.mean() >= _GRAIN else None
