"""Which time of light follows from the steps of an exposure."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.pipeline.printer_films.exposure_advice import (
    advice_of_gray_scale,
    advice_of_scan,
    advice_of_steps,
)
from filmhand.pipeline.printer_films.exposure_page import exposure_page, spell_seconds
from filmhand.pipeline.printer_films.wedge_words import ExposureAdvice
from filmhand.reading.reading import SizesHeld
from filmhand.sheet.exposure_layout import LAST_STEP, step_factor


@pytest.mark.outside
def test_a_published_worked_example_comes_out() -> None:
    """Factor 0.7 of 10 min is 7 min (MacDermid, Using the exposure calculator II, 2019)."""
    advised = advice_of_steps(600, solid=3, open_=6)
    assert advised.seconds / 60 == pytest.approx(7, abs=0.1)
    assert advised.settled and advised.window == pytest.approx((424.3, 1200), abs=0.1)


@pytest.mark.outside
@pytest.mark.parametrize(("held", "factor"), [(7, 1), (5, 2), (9, 0.5), (6, 1.414), (3, 4)])
def test_two_steps_of_a_gray_scale_are_twice_the_light(held: int, factor: float) -> None:
    """New time = old x 1.4142 ** (target - held), target 7 (Ulano, How do I test exposure)."""
    assert advice_of_gray_scale(60, held).seconds == pytest.approx(60 * factor, rel=0.001)


@pytest.mark.parametrize(
    ("solid", "open_", "seconds", "settled", "says"),
    [
        (4, 4, 60, True, ExposureAdvice.NARROW),
        (2, 3, 30, True, ExposureAdvice.TAKE_IT),
        (6, 4, 120, False, ExposureAdvice.NO_TIME_DOES_BOTH),
        (0, 7, 169.7, False, ExposureAdvice.NOWHERE_SOLID),
        (1, 5, 21.2, False, ExposureAdvice.SOLID_AT_ONCE),
        (3, 0, 21.2, False, ExposureAdvice.NOWHERE_OPEN),
    ],
)
def test_what_is_seen_says_what_to_do(
    solid: int, open_: int, seconds: float, settled: bool, says: ExposureAdvice
) -> None:
    advised = advice_of_steps(60, solid=solid, open_=open_)
    assert advised.seconds == pytest.approx(seconds, abs=0.05)
    assert advised.seconds == pytest.approx(60 * advised.factor)
    assert (advised.settled, advised.say[0]) == (settled, says)
    assert (advised.window is not None) == settled


def test_the_step_that_held_the_finest_of_all_kinds_is_taken() -> None:
    steps = [
        (2, SizesHeld(dots=100, shadow_dots=None, lines=80, gaps=None)),
        (3, SizesHeld(dots=100, shadow_dots=300, lines=80, gaps=250)),
        (4, SizesHeld(dots=150, shadow_dots=150, lines=100, gaps=100)),
        (5, SizesHeld(dots=150, shadow_dots=150, lines=100, gaps=100)),
        (6, SizesHeld(dots=None, shadow_dots=100, lines=None, gaps=80)),
    ]
    advised = advice_of_scan(60, steps)
    assert advised.seconds == pytest.approx(60 * 2**0.25) and advised.settled
    assert advised.say == (ExposureAdvice.FINEST, ExposureAdvice.FEEL_IT)


def test_the_finest_at_an_end_of_the_film_asks_for_another_test() -> None:
    good, bad = SizesHeld(100, 100, 100, 100), SizesHeld()
    advised = advice_of_scan(60, [(3, bad), (4, bad), (5, good)])
    assert advised.seconds == pytest.approx(60 * 2**0.5) and not advised.settled
    assert advised.say[0] is ExposureAdvice.FINEST_AT_END


@pytest.mark.parametrize(
    ("seconds", "first", "last"),
    [(1800, "636 s", "1491 s"), (60, "21 s", "50 s"), (3, "1.06 s", "2.49 s")],
)
def test_spells_are_told_as_a_timer_is_set(seconds: float, first: str, last: str) -> None:
    steps = [{"step": one, "factor": step_factor(one)} for one in range(1, LAST_STEP + 1)]
    page = exposure_page({"steps": steps}, "shirts", ["film.pdf"], "shirts.yaml", seconds)
    spells = [line.removeprefix("   - ") for line in page.splitlines() if line[:5] == "   - "]
    assert spells[0].startswith(f"{first},") and spells[-1].startswith(f"{last},")


def test_spells_that_a_hand_can_hold_stay_near_the_factors() -> None:
    factors = [step_factor(one) for one in range(1, LAST_STEP + 1)]
    for seconds in (7, 12, 20, 47, 60, 95, 400):
        spells = spell_seconds(factors, seconds)
        assert all(2 * one == round(2 * one) and (one < 30 or one == round(one)) for one in spells)
        light = np.cumsum(spells)
        assert np.abs(light - np.array(factors) * seconds).max() <= 0.5
