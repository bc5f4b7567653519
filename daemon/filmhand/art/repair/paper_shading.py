"""The paper of a shaded drawing that is to be screened: evened out and made bare film.

Line art is cleaned pixel by pixel (:mod:`filmhand.art.repair.line_cleaning`); here every tone has
to stay, so only what light and paper did is taken off: a surface of second order, as lamps and
lenses leave it, fitted to the bare paper. Where the background is not that smooth, it is no paper,
and nothing is done.

The limits were set on shaded drawings and open photographs (the tests hold them); they have no
other source.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float32Array, Float64Array
from filmhand.art.analysis.paper_estimate import LookForPaper, PaperLook, is_gradient, paper_factor
from filmhand.art.files.gray import WHITE, Codes, codes_of_light, light_of_codes
from filmhand.art.raster import row_strips, smooth
from filmhand.art.repair.repair_note import Repair, RepairKind
from filmhand.art.repair.repair_words import RepairNote
from filmhand.values import dataclass

_LEAST_PAPER, _LEAST_BORDER = 0.6, 0.9  # shares of the sheet and of its border that are bare
_MOST_ROUGH = 0.05  # of the bare paper beside the fitted surface
_LEAST_LIGHT, _LEAST_RATIO = 0.25, 0.3
_UNEVEN, _TINTED = 0.9, 0.8  # the same as for line art
_MOST_GRAIN, _DEVIATIONS = 0.15, np.float32(2.5)
_STRIP_PIXELS = 200_000


@dataclass(frozen=True, slots=True)
class ShadedPaper:
    """The light of bare paper, as a surface of second order of its logarithm.

    Attributes
    ----------
    terms : (6,) of 1, x, y, x x, x y, y y, with x and y from -1 to 1 over the art
    darkest, lightest : light 0..1 of the paper where it is darkest and lightest
    grain : standard deviation of the paper's grain beside its light
    """

    terms: Float64Array
    darkest: float
    lightest: float
    grain: float

    def light(self, shape: tuple[int, int], rows: slice) -> Float32Array:
        """Light of the paper at some rows of art of this (height, width)."""
        light: Float32Array = np.exp(_basis(shape, rows) @ self.terms.astype(np.float32))
        return light


def find_paper(coded: Codes, look: LookForPaper | None = None) -> ShadedPaper | None:
    """The paper under a shaded drawing; None for everything else, photographs above all.

    coded : (H, W) uint16 sRGB-coded gray.
    look : gives :meth:`PaperLook.at` of it, where somebody has that
    """
    factor = paper_factor(coded)
    if min(coded.shape) // factor < 64:
        return None
    looked = PaperLook.at(coded) if look is None else look()
    small, estimate = looked.small, looked.estimate
    if estimate is None or estimate.paper_share < _LEAST_PAPER:
        return None
    soft = smooth(smooth(small))
    shape = small.shape
    basis = _basis(shape, slice(0, shape[0])).reshape(-1, 6)
    is_paper = ((soft / np.maximum(estimate.light, 1e-4)) > 0.85).ravel() & (soft.ravel() > 0.02)
    logs = np.log(np.maximum(soft.ravel(), 1e-4)).astype(np.float64)
    for _ in range(3):  # what strays is no paper, and is left out of the next fit
        if is_paper.sum() < _LEAST_PAPER * is_paper.size:
            return None
        terms = np.linalg.lstsq(basis[is_paper].astype(np.float64), logs[is_paper], rcond=None)[0]
        beside = logs - basis @ terms
        is_paper = np.abs(beside) < 2.5 * _MOST_ROUGH
    border = np.zeros(shape, np.bool_)
    border[:3], border[-3:], border[:, :3], border[:, -3:] = True, True, True, True
    light = np.exp(basis @ terms)
    # Grain of single pixels is averaged on the reduced copy.
    paper = ShadedPaper(
        terms.astype(np.float64), float(light.min()), float(light.max()), estimate.noise * factor
    )
    if (
        float(np.sqrt(np.mean(beside[is_paper] ** 2))) > _MOST_ROUGH
        or is_paper.mean() < _LEAST_PAPER
        or is_paper[border.ravel()].mean() < _LEAST_BORDER
        or paper.lightest < _LEAST_LIGHT
        or paper.darkest < _LEAST_RATIO * paper.lightest
        or is_gradient(paper.darkest, paper.lightest, estimate.noise)
    ):
        return None
    return paper


def evened(
    coded: Codes, paper: ShadedPaper, *, light: bool, tint: bool
) -> tuple[Codes, list[Repair]]:
    """The drawing with even light (``light``), on paper that is bare film (``tint``).

    The art itself comes back where neither is needed.
    """
    uneven = paper.darkest / paper.lightest
    light = light and uneven < _UNEVEN
    tint = tint and paper.lightest < _TINTED
    if not (light or tint):
        return coded, []
    flat = np.float32(np.sqrt(paper.darkest * paper.lightest))
    out = np.empty_like(coded)
    for rows in row_strips(coded.shape, _STRIP_PIXELS):
        of_paper = paper.light(coded.shape, rows) if light else flat
        share = np.take(light_of_codes(), coded[rows]) / of_paper
        if tint:
            # Grain would leave dots on the paper, so what is a little darker is bare too; noise is
            # the more of the light the less there is.
            share /= 1 - np.minimum(_MOST_GRAIN, _DEVIATIONS * paper.grain * flat / of_paper)
        else:
            share *= np.float32(paper.lightest)
        place = np.clip(share * WHITE + np.float32(0.5), 0, WHITE).astype(np.uint16)
        out[rows] = codes_of_light()[place]
    return out, paper_sentence(
        uneven=uneven if light else None, tint=paper.lightest if tint else None
    )


def paper_sentence(*, uneven: float | None, tint: float | None) -> list[Repair]:
    """The repairs of the paper's light, and of its tint; None where one was not done.

    uneven : light of its darkest part by that of its lightest
    tint : share of the light that it reflects
    """
    done = []
    if uneven is not None:
        say = RepairNote.EVENED.say(share=f"{100 * uneven:.0f}")
        done.append(Repair(RepairKind.LIGHT, round(100 * uneven), "% of the light", say))
    if tint is not None:
        say = RepairNote.PAPER_BARED.say(share=f"{100 * tint:.0f}")
        done.append(Repair(RepairKind.PAPER, round(100 * tint), "% reflected", say))
    return done


def _basis(shape: tuple[int, int], rows: slice) -> Float32Array:
    height, width = shape
    x = ((np.arange(width) + 0.5) * 2 / width - 1).astype(np.float32)
    y = ((np.arange(rows.start, rows.stop) + 0.5) * 2 / height - 1).astype(np.float32)[:, None]
    basis = np.empty((len(y), width, 6), np.float32)
    one = np.ones_like(x)
    for i, term in enumerate((one, x, y, x * x, x * y, y * y)):
        basis[..., i] = term
    return basis
