"""Measured press curves as they are written."""

from __future__ import annotations

import pytest

from filmhand.profile.read.curve import CurveError, curve_from_points, curve_from_text


def test_the_ends_are_pinned():
    curve = curve_from_points([(6, 2), (22, 22), (63, 76)])
    assert curve.points == ((0, 0), (6, 2), (22, 22), (63, 76), (100, 100))
    assert curve_from_points(curve.points).points == curve.points


def test_a_flat_piece_is_allowed():
    assert len(curve_from_points([(0, 0), (6, 0), (10, 6)]).points) == 4


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0), (100, 100)], "has 2 points, and a curve needs 3 or more"),
        ([(10, 12), (50, 60), (50, 61)], "film tone 50 after 50, and film tones must rise"),
        ([(50, 60), (10, 12), (90, 95)], "film tone 10 after 50"),
        ([(10, 12), (50, 60), (60, 55)], "falls from 60 at film tone 50 to 55 at 60"),
        ([(10, 12), (50, 101), (60, 55)], "the point 50, 101"),
        ([(0, 3), (50, 60), (60, 65)], "0 must print 0"),
        ([(10, 12), (50, 60), (100, 98)], "100 must print 100"),
    ],
)
def test_points_that_make_no_curve_are_named(points, says):
    with pytest.raises(CurveError, match=says):
        curve_from_points(points)


def test_a_file_may_have_commas_spaces_signs_and_comments():
    text = "\ufeff# film, print\r\n10, 14\r\n50\t65  # middle\n\n90% ; 97%\n"
    curve = curve_from_text(text, name="press.csv")
    assert curve.points == ((0, 0), (10, 14), (50, 65), (90, 97), (100, 100))
    assert curve.name == "press.csv"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("10, 14\n50\n90, 97", "names the curve file press.csv, whose line 2 must be film %"),
        ("film, print\n", "line 1 must be film %"),
        ("10, 14, 3\n", "line 1 must be film %"),
        ("10, nan\n", "line 1 is not a number"),
        ("", "which has 0 points"),
        ("10, 14\n50, 65\n40, 70", "press.csv, which has film tone 40 after 50"),
    ],
)
def test_a_file_names_its_faulty_line(text, says):
    with pytest.raises(CurveError, match=says):
        curve_from_text(text, name="press.csv")
