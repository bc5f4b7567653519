"""What the steps of an exposure say: the time to take, and what else is to be changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple
from math import log, sqrt

from filmhand.pipeline.printer_films.wedge_words import ExposureAdvice
from filmhand.reading.reading import SizesHeld
from filmhand.sheet.exposure_layout import LAST_STEP, PLAIN_STEP, step_factor
from filmhand.values import dataclass

SOLID_GRAY_STEP = 7
"""Of a 21-step gray scale, the step that is to stay (Ulano, How do I test exposure)."""


@dataclass(frozen=True, slots=True)
class AdvisedExposure:
    """A time of light in seconds, by how much that is the time tried, and the sentences for it.

    ``window`` is the shortest and the longest time that would do; None where none does, or it was
    not seen. ``settled`` is False where the test is to be made again with ``seconds``.
    """

    seconds: float
    factor: float
    window: tuple[float, float] | None
    settled: bool
    say: tuple[ExposureAdvice, ...]


def advice_of_steps(seconds: float, *, solid: int, open_: int) -> AdvisedExposure:
    """What the bands of an exposure film say.

    The right time is the one at which the stencil has just hardened all through, where its color
    no longer changes (MacDermid, Using the exposure calculator II, 2019).

    Parameters
    ----------
    seconds : the time that step 4 got
    solid : the first step whose stencil is hard all through; 0 where none is
    open_ : the last step whose fine dots, lines and gaps that are needed wash open; 0 where none do

    >>> advice_of_steps(60, solid=3, open_=5).seconds.__round__(1)
    42.4
    """
    if not solid:
        return _again(seconds, step_factor(LAST_STEP), ExposureAdvice.NOWHERE_SOLID)
    if not open_:
        first = ExposureAdvice.NOWHERE_OPEN
        return _again(seconds, step_factor(1), first, ExposureAdvice.LIGHT_GETS_UNDER)
    if solid == 1:
        return _again(seconds, step_factor(1), ExposureAdvice.SOLID_AT_ONCE)
    factor = step_factor(solid)
    if solid > open_:
        says = (ExposureAdvice.NO_TIME_DOES_BOTH, ExposureAdvice.LIGHT_GETS_UNDER)
        return AdvisedExposure(seconds * factor, factor, None, settled=False, say=says)
    window = (seconds * factor, seconds * step_factor(open_))
    said = ExposureAdvice.NARROW if solid == open_ else ExposureAdvice.TAKE_IT
    return AdvisedExposure(seconds * factor, factor, window, settled=True, say=(said,))


def advice_of_gray_scale(seconds: float, held: int) -> AdvisedExposure:
    """What a 21-step gray scale says, whose steps are 0.15 apart in density.

    New time = old x 1.414 ** (7 - held): two steps are twice the light.

    Parameters
    ----------
    held : the last step that stayed on the screen

    >>> advice_of_gray_scale(60, 5).seconds
    120.0
    """
    factor = round(sqrt(2) ** (SOLID_GRAY_STEP - held), 9)
    said = ExposureAdvice.GRAY_SCALE_RIGHT if held == SOLID_GRAY_STEP else ExposureAdvice.GRAY_SCALE
    settled = abs(held - SOLID_GRAY_STEP) <= 1
    return AdvisedExposure(seconds * factor, factor, None, settled, (said,))


def advice_of_scan(seconds: float, steps: Sequence[tuple[int, SizesHeld]]) -> AdvisedExposure:
    """What the sizes say that a print of each step held: the step that keeps the finest is right.

    Too little light loses shadow dots and gaps, too much dots and lines; so the four are weighed
    alike, by their ratios. Where several steps hold the same, the middle of them counts.

    Parameters
    ----------
    seconds : the time that step 4 got
    steps : number and what held, the least exposed first
    """
    coarsest = max(
        (size for _, held in steps for size in astuple(held) if size is not None), default=1.0
    )
    worth = [
        sum(log(size if size is not None else 2 * coarsest) for size in astuple(held))
        for _, held in steps
    ]
    best = [
        number for (number, _), one in zip(steps, worth, strict=True) if one < min(worth) + 0.01
    ]
    middle = (best[0] + best[-1]) / 2
    factor = sqrt(2) ** (middle - PLAIN_STEP)
    at_end = steps[0][0] in best or steps[-1][0] in best
    said = ExposureAdvice.FINEST_AT_END if at_end else ExposureAdvice.FINEST
    says = (said, ExposureAdvice.FEEL_IT)
    return AdvisedExposure(seconds * factor, factor, None, settled=not at_end, say=says)


def _again(seconds: float, factor: float, *says: ExposureAdvice) -> AdvisedExposure:
    return AdvisedExposure(seconds * factor, factor, None, settled=False, say=says)
