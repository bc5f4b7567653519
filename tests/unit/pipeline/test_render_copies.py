"""Rows of one art as rows of its copies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.pipeline.render.copies import ArtCopies
from filmhand.sheet.layout import Box
from filmhand.sheet.placement import grid_of


def copies_of(columns, rows, size, gap):
    grid = grid_of(columns, rows, cell=Box(7, 5, *size), gap=gap)
    last = grid.cells[-1]
    return ArtCopies.of(grid, Box(7, 5, last.right - 7, last.bottom - 5)), grid


@given(
    st.integers(1, 4), st.integers(1, 4),
    st.tuples(st.integers(1, 9), st.integers(1, 9)),
    st.tuples(st.integers(0, 6), st.integers(0, 6)),
    st.integers(1, 11),
)  # fmt: skip
def test_every_strip_shows_the_art_at_every_copy(columns, rows, size, gap, strip):
    copies, grid = copies_of(columns, rows, size, gap)
    art = np.arange(1, size[0] * size[1] + 1).reshape(size[1], size[0])
    wanted = np.zeros((copies.area.height, copies.area.width), int)
    for cell in grid.cells:
        wanted[cell.top - 5 : cell.bottom - 5, cell.left - 7 : cell.right - 7] = art
    spread = copies.spread(lambda first, count: art[first : first + count], beyond=0)
    strips = [spread(top, min(strip, len(wanted) - top)) for top in range(0, len(wanted), strip)]
    assert np.array_equal(np.concatenate(strips), wanted)
    gaps = copies.gaps()
    if gaps is None:
        assert wanted.all()
    else:
        assert np.array_equal(gaps(0, len(wanted)), wanted == 0)
    assert copies.pixels == np.count_nonzero(wanted)


@pytest.mark.parametrize("mirror", [False, True])
def test_art_alone_is_left_as_it_is(mirror):
    area = Box(3, 4, 10, 12)
    copies = ArtCopies.of(None, area.mirrored(50) if mirror else area)

    def rows(first, count):
        return np.ones((count, 10), np.bool_)

    assert copies.spread(rows, beyond=False) is rows
    assert copies.gaps() is None
    assert copies.pixels == 120
