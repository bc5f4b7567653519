"""Solids where art has the very color of an ink, and nothing where it has that of the cloth.

A table of mixtures prints such colors too, but with some dots of other inks, or some gaps in the
solid, which cost nothing to the eye at a distance and are seen on the film: nobody expects dots in
what is drawn in the color of an ink. So around these colors the table is drawn to them, wholly up
to :data:`SAME` and less and less up to :data:`OTHER`.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_table import ColorTable, grid_codes
from filmhand.ink.mixing import PrintModel
from filmhand.ink.solving import InkRules, mended_coverages, printed_colors

SAME, OTHER = 3.0, 8.0
"""CIEDE2000 up to which a color is a solid's, and from which on it is none."""
# Of L*, a*, b*: no two colors of sRGB that are so far apart differ by as little as OTHER
# (tests/unit/ink/test_solids.py tries many).
_FARTHEST = 80.0
_TRACE = 0.02
"""The coverage of dots that color nothing and stand alone in the flats of other inks; from twice as
many on they stay (common practice, no source)."""
_NOTICED = 1.0  # of L*, a*, b*, from which on what lies between is mended
_ROUNDED = 1e-9  # what is left of a weight by rounding
_SIZE = 65  # colors to a side; those next to each other differ by about 1


def with_solids(
    table: ColorTable, model: PrintModel, rules: InkRules, *, based: bool = False
) -> ColorTable:
    """A finer table that gives solids of single inks and bare cloth for their own colors.

    Where colors next to each other are printed by other inks, the means of both print neither: of
    one ink fading out and the other in, where the sum of both colors is asked, a pale seam remains.
    So what lies between is mended where it would not print what it should.

    Parameters
    ----------
    table : from sRGB codes to coverages
    model : of the same inks
    rules : what may be printed; a black that stands alone also prints what is wholly black
    based : whether the first ink lies below others, so that another with it is a solid too
    """
    grid = grid_codes(_SIZE)
    colors, found = srgb_to_lab(grid), table.at(grid)
    black = rules.black if rules.black_alone else None
    codes, solids = _solids(table, model, based=based, black=black)
    weights = np.stack([_weights(colors, code) for code in codes])
    weights /= np.maximum(weights.sum(axis=0), 1)
    rest = 1 - weights.sum(axis=0)[:, None]
    drawn = rest * found + weights.T @ solids
    meant = rest * (colors + _off_by(table, model).at(grid)) + weights.T @ model.screened(solids)
    off = ((printed_colors(drawn, model) - meant) ** 2).sum(axis=1) > _NOTICED**2
    mixed = off & (rest[:, 0] > _ROUNDED)
    drawn[mixed] = mended_coverages(drawn[mixed], meant[mixed], model, rules)
    return ColorTable.of(_without_traces(drawn))


def _off_by(table: ColorTable, model: PrintModel) -> ColorTable:
    """What the colors of a table print differs by, in L*, a* and b*: some cannot be printed."""
    size, *_, inks = table.values.shape
    printed = model.screened(table.values.reshape(-1, inks))
    return ColorTable.of(printed - srgb_to_lab(grid_codes(size)))


def _smooth_step(share: Float64Array) -> Float64Array:
    """From 0 at 0 and below to 1 at 1 and above, without a corner."""
    share = np.clip(share, 0, 1)
    step: Float64Array = share * share * (3 - 2 * share)
    return step


def _without_traces(coverages: Float64Array) -> Float64Array:
    """Coverages of which those that are next to nothing are none, and next to all are all."""
    kept = _smooth_step((np.minimum(coverages, 1 - coverages) - _TRACE) / _TRACE)
    return np.where(coverages < 0.5, coverages * kept, 1 - (1 - coverages) * kept)


def _solids(
    table: ColorTable, model: PrintModel, *, based: bool, black: int | None
) -> tuple[Float64Array, Float64Array]:
    """(s, 3) the codes of solids, and (s, n) their coverages."""
    alone = np.eye(model.ink_count)
    codes, solids = [], []
    for k, by_itself in enumerate(np.concatenate([np.zeros((1, len(alone))), alone])):
        solid, code = by_itself, np.clip(lab_to_srgb(model.screened(by_itself)), 0, 1)
        if based and k > 1:
            over = by_itself + alone[0]
            code_over = np.clip(lab_to_srgb(model.screened(over)), 0, 1)
            usual = table.at(code_over)
            if abs(usual - over).sum() < abs(usual - by_itself).sum():
                solid, code = over, code_over
        codes.append(code)
        solids.append(solid)
    darkest = [float(srgb_to_lab(code)[0]) for code in codes]
    if black is not None and np.argmin(darkest) == black + 1:
        codes.append(np.zeros(3))
        solids.append(solids[black + 1])
    return np.array(codes), np.array(solids)


def _weights(colors: Float64Array, code: Float64Array) -> Float64Array:
    """(m,) how much each color of the grid is that of a solid, 0..1."""
    lab, weights = srgb_to_lab(code), np.zeros(len(colors))
    near = ((colors - lab) ** 2).sum(axis=1) <= _FARTHEST**2
    off = color_difference(colors[near], lab)
    weights[near] = _smooth_step((OTHER - off) / (OTHER - SAME))
    # Those around the very color are wholly its own, so that what lies between them is too.
    place = code * (_SIZE - 1)
    below, above = np.floor(place + 1e-9).astype(int), np.ceil(place - 1e-9).astype(int)
    corners = np.stack(np.meshgrid(*zip(below, above, strict=True), indexing="ij"), axis=-1)
    weights[corners.reshape(-1, 3) @ np.array([_SIZE * _SIZE, _SIZE, 1])] = 1
    return weights
