"""What is rounded for people and records still compares as it was measured."""

from __future__ import annotations

from hypothesis import assume, given
from hypothesis import strategies as st

from filmhand.mesh.figures import figures_apart, rounded_apart

SIZES = st.floats(0.001, 5000, allow_nan=False)


@given(value=SIZES, limit=SIZES)
def test_rounded_figures_compare_as_those_measured(value, limit):
    assume(abs(value - limit) > 1e-6 * value)
    (found, asked), (first, second) = (
        rounded_apart(value, [limit]),
        figures_apart(value, limit, figures=3),
    )
    assert (found < asked) == (value < limit) == (float(first) < float(second))
    assert (found == asked) is False and first != second


def test_no_more_digits_than_it_takes():
    assert rounded_apart(123.456, [9.8765, None]) == [123.5, 9.88, None]
    assert rounded_apart(None, [3.456, None]) == [None, 3.46, None]
    assert rounded_apart(3.5, [3.5]) == [3.5, 3.5]
    assert rounded_apart(24.97, [25.0, 35.0]) == [24.97, 25.0, 35.0]
    assert figures_apart(1234.5, 99, figures=2) == ("1200", "99")
    assert figures_apart(0.02, 0.02, figures=2) == ("0.02", "0.02")
