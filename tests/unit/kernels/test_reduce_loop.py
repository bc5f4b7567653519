"""The loops that make a film smaller give Pillow's picture, and refuse what is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.film.bits import BitSheet
from filmhand.kernels.loops import compiled
from filmhand.page import film_picture
from filmhand.page.film_picture import light_seen
from filmhand.page.predicted_print import coded
from filmhand.units import Resolution

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")


def sheet(folder, width, height, seed=1):
    """A sheet with specks in some rows and solids in others, and with a solid and a bare part."""
    chance = np.random.default_rng(seed)
    bits = BitSheet.create(folder / "bits", width=width, height=height)
    share = chance.choice([0.0, 0.03, 0.5, 1.0], (height, 1))
    ink = chance.random((height, width)) < share
    ink[height // 3 :, width // 2 :] = True
    ink[: height // 2, width // 3 : width // 2] = False
    bits.write(0, np.packbits(ink, axis=1))
    return bits


@settings(max_examples=60, deadline=None)
@given(
    st.tuples(st.integers(9, 150), st.integers(9, 150)),
    st.tuples(st.floats(0.02, 0.99), st.floats(0.02, 0.99)),
    st.tuples(st.integers(1, 4), st.integers(1, 4)),
    st.integers(0, 99),
)
def test_the_picture_is_pillows(tmp_path_factory, boxes, shares, box, seed):
    (width, height), (across, down) = boxes, box
    size = (max(1, int(width * shares[0])), max(1, int(height * shares[1])))
    with sheet(tmp_path_factory.mktemp("f"), width * across + 1, height * down, seed) as bits:
        wanted = film_picture._reduced_by_pillow(bits, size, across, down)
        found = film_picture._reduced_by_loops(compiled(), bits, size, across, down)
    assert np.abs(found - wanted).max() < 3e-7
    assert np.abs(coded(found).astype(int) - coded(wanted)).max() <= 1


def test_a_whole_film_is_seen_alike_with_and_without_the_loops(tmp_path, monkeypatch):
    size = (320, 410)
    with sheet(tmp_path, 1700, 2180) as bits:
        found = light_seen(bits, Resolution(600, 600), size)
        monkeypatch.setattr(film_picture, "compiled", lambda: None)
        wanted = light_seen(bits, Resolution(600, 600), size)
    assert np.array_equal(coded(found), coded(wanted))


def test_an_enlarged_film_and_boxes_of_many_rows_go_to_pillow(tmp_path, monkeypatch):
    monkeypatch.setattr(film_picture, "_reduced_by_loops", None)
    with sheet(tmp_path, 40, 50) as bits:
        assert light_seen(bits, Resolution(100, 100), (80, 100)).shape == (100, 80)
    with sheet(tmp_path, 40, 5200) as bits:
        assert light_seen(bits, Resolution(2, 600), (8, 8)).shape == (8, 8)


def test_what_a_loop_is_told_must_fit():
    rows, light = np.zeros((4, 2), np.uint8), np.array([1, 0], np.float32)
    first, count = np.array([0, 12], np.int32), np.array([4, 4], np.int32)
    weight, out = np.full((2, 4), 0.25), np.empty((4, 2), np.float32)
    loops = compiled()
    loops.reduce_bits(rows, 2, 1, 1, 16, light, first, count, weight, 4, out, 2)
    assert (out == 1).all()
    for wrong in (
        (rows, 2, 1, 1, 15, light, first, count, weight, 4, out, 2),  # beyond the last box
        (rows, 2, 1, 1, 17, light, first, count, weight, 4, out, 2),
        (rows, 2, 1, 256, 16, light, first, count, weight, 4, out, 2),
        (rows, 2, 1, 2, 16, light, first, count, weight, 4, out, 2),
        (rows, 2, 1, 1, 16, light, -first, count, weight, 4, out, 2),
        (rows, 2, 1, 1, 16, light, first, count + 1, weight, 4, out, 2),
        (rows, 2, 1, 1, 16, light, first, count, weight, 4, out[:3], 2),
    ):
        with pytest.raises(ValueError, match=r"box|filter|buffer"):
            loops.reduce_bits(*wrong)
    floats, small = np.arange(16, dtype=np.float32).reshape(16, 1), np.empty((2, 1), np.float32)
    loops.reduce_columns(floats, 1, first, count, weight, 4, small, 2)
    assert small.ravel().tolist() == [1.5, 13.5]
    for wrong in (
        (floats[:15], 1, first, count, weight, 4, small, 2),
        (floats, 0, first, count, weight, 4, small, 2),
        (floats, 1, first, count, weight, 4, small[:1], 2),
    ):
        with pytest.raises(ValueError, match=r"rows|filter|buffer"):
            loops.reduce_columns(*wrong)
