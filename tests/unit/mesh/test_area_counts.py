"""Sizes that are counted tell what a list of them tells."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from filmhand.mesh.bitmap.area_counts import AreaCounts

areas_of = st.lists(st.integers(1, 30), max_size=40)


@given(parts=st.lists(areas_of, max_size=4), limit=st.integers(0, 32))
def test_joined_counts_are_those_of_all(parts, limit):
    counts = AreaCounts.joined([AreaCounts.of(np.array(part, np.int64)) for part in parts])
    every = np.sort(np.array([area for part in parts for area in part], np.int64))
    assert np.array_equal(np.repeat(counts.area, counts.count), every)
    assert np.array_equal(counts.area, np.unique(every))
    assert (counts.area.dtype, counts.count.dtype) == (np.int64, np.int64)
    assert counts.total == every.size
    assert counts.below(limit) == (every < limit).sum()
    assert [counts.at(place) for place in range(every.size)] == every.tolist()
    if every.size:
        assert (counts.smallest, counts.median) == (every[0], np.median(every))
