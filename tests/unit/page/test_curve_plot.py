"""The picture of press curves, looked at pixel by pixel where it counts."""

from __future__ import annotations

from io import BytesIO

import numpy as np
from PIL import Image

from filmhand.page.curve_plot import PlottedCurve, plot_curves

STRAIGHT = PlottedCurve([(0, 0), (50, 50), (100, 100)])
BENT = PlottedCurve([(0, 0), (50, 70), (100, 100)], [(50, 72.0, 1.0), (25, 140.0, 3.0)])


def drawn(*args, **more):
    return np.asarray(Image.open(BytesIO(plot_curves(*args, **more))).convert("RGB")).astype(int)


def blue(pixels):
    return (pixels[..., 2] > pixels[..., 0] + 60).nonzero()


def middle_of(pixels):
    """How high the blue line stands in the middle column, in percent of the plot."""
    rows, columns = blue(pixels)
    left, right, top, bottom = columns.min(), columns.max(), rows.min(), rows.max()
    at = rows[np.abs(columns - (left + right) / 2) <= 1]
    return 100 * (bottom - at.mean()) / (bottom - top)


def test_the_newest_curve_goes_where_its_points_say():
    assert abs(middle_of(drawn(STRAIGHT, lines=[])) - 50) < 1
    assert abs(middle_of(drawn(PlottedCurve(BENT.points), lines=[])) - 70) < 1


def test_what_was_read_is_drawn_and_stays_inside_the_picture():
    pixels = drawn(BENT, lines=["read"])
    orange = pixels[..., 0] > pixels[..., 2] + 90
    assert orange.any(axis=1).nonzero()[0].min() > 10
    assert orange.sum() > 60


def test_older_curves_are_gray_and_the_same_bytes_come_again():
    without = drawn(STRAIGHT, lines=[])
    many = [PlottedCurve([(0, 0), (50, 50 + n), (100, 100)]) for n in range(30)]
    assert (drawn(STRAIGHT, lines=[], older=many) != without).sum() > 5000
    assert plot_curves(STRAIGHT, lines=["a"]) == plot_curves(STRAIGHT, lines=["a"])
