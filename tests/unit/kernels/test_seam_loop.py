"""The loop that joins strips along their seams gives what NumPy gives, entry by entry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from same_values import assert_same

from filmhand.kernels.loops import compiled
from filmhand.mesh.bitmap import joined_strips
from filmhand.mesh.bitmap.joined_strips import OpenComponents, join_strip
from filmhand.mesh.bitmap.sealed_strip import seal_strip

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops are not compiled here")


@settings(max_examples=150, deadline=None)
@given(
    st.integers(1, 90),
    st.lists(st.integers(1, 9), min_size=1, max_size=6),
    st.sampled_from(["noise", "blobs", "columns", "rows"]),
    st.tuples(st.integers(0, 40), st.integers(0, 40)),
    st.floats(0, 1),
    st.integers(0, 2**32 - 1),
)
def test_strips_of_all_kinds(width, heights, kind, keep, share, seed):
    noise = np.random.default_rng(seed).random((sum(heights), width))
    if kind == "blobs":
        noise = noise + np.roll(noise, 1, 0) + np.roll(noise, 1, 1)
    bits = noise > np.quantile(noise, share)
    if kind == "columns":
        bits |= np.arange(width) % 3 == 0
    if kind == "rows":
        bits[::3] = True
    rows, top = np.packbits(bits, axis=1), 0
    opened = OpenComponents.none()
    for height in heights:
        strip = seal_strip(
            rows[top : top + height], skip=0, width=width, top=top, beyond=None, keep=keep
        )
        joined = join_strip(opened, strip, keep)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(joined_strips, "compiled", lambda: None)
            assert_same(joined, join_strip(opened, strip, keep))
        opened, top = joined.opened, top + height


def test_a_ring_is_closed_where_its_strips_are_joined():
    bits = np.zeros((7, 9), np.bool_)
    bits[1:6, 2:7] = True
    bits[2:5, 3:6] = False
    rows, opened, small = np.packbits(bits, axis=1), OpenComponents.none(), []
    for top in (0, 3, 6):
        some = rows[top : top + 3]
        strip = seal_strip(some, skip=0, width=9, top=top, beyond=None, keep=(10, 10))
        joined = join_strip(opened, strip, (10, 10))
        small.append((joined.small, joined.areas))
        opened = joined.opened
    (hole, ring), areas = small[1]
    assert (list(hole.row), list(hole.start), list(hole.stop)) == ([2, 3, 4], [3] * 3, [6] * 3)
    assert list(areas[0].area) == [9]
    assert not ring.row.size  # it has 16 pixels, and the last strip closes it
    assert list(small[2][1][1].area) == [16]


def test_owners_and_runs_must_be_of_components_there_are():
    one, truth, area = np.zeros(1, np.int32), np.zeros(1, np.bool_), np.ones(1, np.int64)
    runs = np.zeros((1, 4), np.int64)
    side = (one, one, truth, area, truth, runs)
    loops = compiled()
    cut, areas, small, opened = loops.join_seam(side, side, one, (3, 3))
    assert cut == (0, 0) and areas == small == (b"", b"")
    assert np.frombuffer(opened[2], np.int64) == [2]
    for place, wrong in (
        (0, np.zeros(2, np.int32)),
        (1, one + 1),
        (1, one - 1),
        (2, truth.view(np.uint8) + 2),
        (2, np.zeros(2, np.bool_)),
        (3, np.ones(2, np.int64)),
        (4, np.zeros(0, np.bool_)),
        (5, runs + 1),
        (5, np.zeros(3, np.int64)),
    ):
        changed = (*side[:place], wrong, *side[place + 1 :])
        for above, below in ((changed, side), (side, changed)):
            with pytest.raises(ValueError, match="no such"):
                loops.join_seam(above, below, one, (3, 3))
    with pytest.raises(ValueError, match="no such"):
        loops.join_seam(side, side, one + 1, (3, 3))
