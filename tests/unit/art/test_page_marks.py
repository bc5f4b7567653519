from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.art.analysis.page_marks import find_marks


@pytest.mark.parametrize(
    ("shape", "share"), [((120, 90), 0.4), ((60, 200), 0.6), ((1, 30), 0.5), ((9, 9), 0.0)]
)
def test_marks_are_those_of_scipy(shape: tuple[int, int], share: float) -> None:
    ink = np.random.default_rng(3).random(shape) < share
    marks = find_marks(ink)
    label, count = ndimage.label(ink, np.ones((3, 3)))
    boxes = [
        (down.start, down.stop, across.start, across.stop)
        for down, across in ndimage.find_objects(label)
    ]
    assert len(marks.area) == count
    assert sorted(zip(marks.top, marks.bottom, marks.left, marks.right, strict=True)) == sorted(
        boxes
    )
    sizes = np.bincount(label.ravel())
    large = np.isin(label, np.flatnonzero(sizes > 5)) & ink
    painted = np.zeros(shape, np.bool_)
    for row, first, stop, mark in marks.runs:
        painted[row, first:stop] = marks.area[mark] > 5
    assert np.array_equal(painted, large)


def test_a_comb_is_one_mark() -> None:
    ink = np.zeros((20, 41), bool)
    ink[:, ::2] = True
    ink[19] = True
    marks = find_marks(ink)
    assert list(marks.area) == [int(ink.sum())]
