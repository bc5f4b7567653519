"""Figures rounded so that what is told still compares as what was measured."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

_MOST_DIGITS = 9


def rounded_apart(value: float | None, limits: Sequence[float | None]) -> list[float | None]:
    """The value and its limits to a tenth, below 10 to a hundredth, or as much finer as it takes.

    >>> rounded_apart(3.4996, [3.5]), rounded_apart(0.0216, [0.02, None])
    ([3.4996, 3.5], [0.022, 0.02, None])
    """
    against = [limit for limit in limits if limit is not None]
    digits = 1
    if value is not None and isfinite(value):
        while digits < _MOST_DIGITS and any(
            _order(_rounded(value, digits), _rounded(limit, digits)) != _order(value, limit)
            for limit in against
        ):
            digits += 1
    return [None if one is None else _rounded(one, digits) for one in (value, *limits)]


def _rounded(value: float, digits: int) -> float:
    return round(value, digits + (abs(value) < 10))


def figures_apart(value: float, limit: float, *, figures: int) -> tuple[str, str]:
    """Both in so many significant figures, or as many more as it takes to tell them apart.

    >>> figures_apart(3.4996, 3.5, figures=3), figures_apart(310.04, 310.0, figures=3)
    (('3.4996', '3.5'), ('310.04', '310'))
    """
    while True:
        one, other = (_written(number, figures) for number in (value, limit))
        if _order(float(one), float(other)) == _order(value, limit) or figures >= 12:
            return one, other
        figures += 1


def whole_apart(value: float, limit: float) -> tuple[str, str]:
    """Both in whole numbers, or as much finer as it takes to tell them apart.

    >>> whole_apart(82.45, 90.51), whole_apart(99.96, 100.0)
    (('82', '91'), ('99.96', '100'))
    """
    for digits in range(_MOST_DIGITS):
        one, other = round(value, digits), round(limit, digits)
        if _order(one, other) == _order(value, limit):
            break
    return f"{one:.9g}", f"{other:.9g}"


def _written(value: float, figures: int) -> str:
    """In significant figures, and never in powers of ten."""
    short = float(f"{value:.{figures}g}")
    return f"{short:.12f}".rstrip("0").rstrip(".")


def _order(one: float, other: float) -> int:
    """Less, equal but for the rounding of floats, or more: -1, 0, 1."""
    if abs(one - other) <= 1e-9 * max(abs(one), abs(other)):
        return 0
    return 1 if one > other else -1
