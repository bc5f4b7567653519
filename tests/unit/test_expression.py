"""Spot functions from a profile: arithmetic and nothing else."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.expression import FUNCTIONS, LONGEST_EXPRESSION, ExpressionError, read_expression
from filmhand.screen import dot_function

SCALAR = {name: function for name, (_, function) in FUNCTIONS.items()}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("1 - (x**2 + y**2)", lambda x, y: 1 - (x * x + y * y)),
        ("cos(180*x) + sin(90*y)", lambda x, y: math.cos(math.pi * x) + math.sin(math.pi / 2 * y)),
        ("-max(abs(x), abs(y))", lambda x, y: -max(abs(x), abs(y))),
        ("-(+abs(y)) - 1e-6*abs(x)", lambda x, y: -abs(y) - 1e-6 * abs(x)),
        ("(0.9*abs(x) + abs(y)) / 2", lambda x, y: (0.9 * abs(x) + abs(y)) / 2),
        ("exp(-sqrt(x*x + y*y))", lambda x, y: math.exp(-math.hypot(x, y))),
        ("-min(x*x, 0.2) - y*y*(1 + atan(1, 1)/90)", lambda x, y: -min(x * x, 0.2) - 1.5 * y * y),
    ],
)  # fmt: skip
def test_arithmetic_means_what_it_says(text, wanted):
    found = read_expression(text)
    for x, y in ((0, 0), (0.3, -0.7), (-1, 0.5), (0.9, 0.9)):
        assert found.value(x, y, SCALAR) == pytest.approx(wanted(x, y))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "1 to 300"),
        ("x" * (LONGEST_EXPRESSION + 1), "1 to 300"),
        ("x +", "well formed"),
        ("(" * 250 + "x" + ")" * 49, "well formed"),
        ("x = 1", "well formed"),
        ("__import__('os').remove('a')", "made of"),
        ("x.__class__", "made of"),
        ("abs", "made of"),
        ("(lambda: x)()", "made of"),
        ("[x for x in (1,)][0]", "made of"),
        ("x if y else 1", "made of"),
        ("x < y", "made of"),
        ("x % 2", "made of"),
        ("'x'", "made of"),
        ("True - x*x - y*y", "made of"),
        ("x**y", "made of"),
        ("x**0.5", "made of"),
        ("abs(x, key=y)", "made of"),
        ("abs(*x)", "sure of abs"),
        ("max(x)", "sure of max, which takes 2"),
        ("x**99", "powers"),
        ("x**-1", "made of"),
        ("1e300 * x", "under a million"),
        ("-" * 60 + "x", "nested"),
        ("1/x", "defined"),
        ("sqrt(x)", "defined"),
        ("exp(exp(exp(exp(9 - x))))", "defined"),
        ("1", "the same everywhere"),
        ("x - x", "the same everywhere"),
        ("sin(360*x)/2 + sin(360*y)/2", "one place"),  # four dots a cell
        ("-abs(abs(x) - 0.5)", "one place"),
    ],
)
def test_what_is_no_spot_function_says_why(text, says):
    with pytest.raises(ExpressionError, match=says):
        read_expression(text)


@pytest.mark.parametrize(
    ("last", "too_much"),
    [
        ("x  +  0." + "0" * 294, "x + 0." + "0" * 295),  # 300 characters; of blanks, one counts
        ("+" * 39 + "x", "+" * 40 + "x"),  # 40 deep, with x itself
        ("-(x**16 + y**16)", "-(x**17 + y**17)"),
        ("x + y**0", "x + y**17"),
        ("x + 999999", "x + 1000000"),
        ("x - 999999.5", "x - 1e6"),
    ],
)
def test_the_bounds_that_are_told_may_be_reached_and_not_passed(last, too_much):
    read_expression(last)
    with pytest.raises(ExpressionError, match=r"300 char|deeper than 40|0 to 16|under a million"):
        read_expression(too_much)


@pytest.mark.parametrize(
    "text",
    [
        "-abs(abs(x) - 0.75)",  # two ridges, half a cell apart over the edge too
        "-abs(abs(y) - 0.75)",
        "cos(360*x) * cos(360*y)",
        "-max(abs(abs(x) - 0.95), abs(y))",  # two places with one between them: over the edge
    ],
)
def test_peaks_that_do_not_touch_are_dots_of_their_own(text):
    with pytest.raises(ExpressionError, match="one place"):
        read_expression(text)


@pytest.mark.parametrize(
    "text",
    [
        "-cos(180*x) - cos(180*y)",  # round the corner of the cell, where four cells meet
        "-cos(180*x) + cos(180*y)",
        "min(0.5, x*x)",  # a plateau over an edge
        "min(-abs(x - y), 0)",  # a diagonal, whose places touch at corners only
        "min(-abs(x + y), 0)",
    ],
)
def test_a_peak_over_an_edge_or_along_a_diagonal_is_one_place(text):
    assert read_expression(text).text == text


@pytest.mark.parametrize(
    ("text", "place"), [("1/(x + 0.5)", "x = -0.5, y = -1"), ("sqrt(y + 0.9)", "x = -1, y = -1")]
)
def test_the_first_place_without_a_value_is_told(text, place):
    with pytest.raises(ExpressionError, match=f"not only outside {place}$"):
        read_expression(text)


@given(st.text(max_size=40))
def test_no_text_does_anything_but_fail_or_give_numbers(text):
    try:
        found = read_expression(text)
    except ExpressionError:
        return
    assert math.isfinite(found.value(0.25, -0.5, SCALAR))


@pytest.mark.parametrize("text", ["-abs(y)", "x", "abs(x) + abs(y)"])
def test_a_ridge_or_a_corner_is_one_place(text):
    assert read_expression(text).text == text


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_screens_functions_are_those_that_were_tried(name):
    arguments, scalar = FUNCTIONS[name]
    numbers = np.linspace(0.1, 2, 9)
    given = [numbers, numbers[::-1]][:arguments]
    assert dot_function.SPOT_FUNCTIONS[name](*given) == pytest.approx(
        [scalar(*pair) for pair in zip(*given, strict=True)]
    )


def test_no_function_is_known_on_one_side_only():
    assert set(dot_function.SPOT_FUNCTIONS) == set(FUNCTIONS)
