"""The loop that opens parts of strips gives what NumPy gives, and refuses what does not fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.kernels.loops import compiled
from filmhand.mesh.bitmap import disc_opening
from filmhand.mesh.bitmap.disc_opening import Disc, PartOfStrip

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")


@st.composite
def parts(draw):
    """A part of an area of strokes, gaps and noise, and the rows around it."""
    across, down = draw(st.integers(1, 24)), draw(st.integers(1, 12))
    steps = max(across, down)
    near = draw(st.sampled_from([0, 1, 5, 40, 90]))
    halo = 3 * steps + near + 2
    skip = draw(st.integers(0, 7))
    width = skip + draw(st.integers(1, 700))
    row_bytes = (width + 7) // 8
    left = 8 * draw(st.integers(0, (row_bytes - 1) // 8))
    right = min(row_bytes, left + draw(st.sampled_from([1, 8, 16, 40])))
    before, after = draw(st.integers(0, halo)), draw(st.integers(0, halo))
    height = draw(st.integers(1, 40)) + 2 * halo - before - after
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    bits = rng.random((height, 8 * (row_bytes + draw(st.integers(0, 2)))))
    bits = bits < draw(st.sampled_from([0.0, 0.002, 0.02, 0.5, 0.99, 1.0]))
    for _ in range(draw(st.integers(0, 12))):
        y, x = rng.integers(0, bits.shape[0]), rng.integers(0, bits.shape[1])
        bits[y : y + rng.integers(1, 30), x : x + rng.integers(1, 60)] ^= True
    part = PartOfStrip(
        (skip, width),
        before=before,
        after=after,
        columns=(left, right),
        halo=halo,
        disc=Disc.of(across, down),
        steps=steps,
        near=near,
        ink=draw(st.booleans()),
    )
    return part, np.packbits(bits, axis=1)


def by_numpy(call):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(disc_opening, "compiled", lambda: None)
        return call()


@settings(max_examples=400, deadline=None)
@given(parts(), st.sampled_from((0, 0, 3, 100, 10**6)))
def test_parts_of_all_kinds(given_part, enough):
    part, rows = given_part
    for call in (
        lambda: part.loss(rows, enough=enough),
        lambda: part.lost(rows),
        lambda: part.pieces(rows, 1000, 900)[0],
        lambda: part.pieces(rows, 1000, 900)[1],
    ):
        assert np.array_equal(call(), by_numpy(call))


def test_what_is_told_of_a_hairline_on_a_square():
    bits = np.zeros((40, 64), np.bool_)
    bits[14:24, 20:30] = True
    bits[18, 30:44] = True
    disc = Disc.of(3, 3)
    part = PartOfStrip((0, 64), 0, 0, (0, 8), halo=11, disc=disc, steps=3, near=0, ink=True)
    rows = np.packbits(bits, axis=1)
    # Three pixels lie within one disc of the square, and are forgiven.
    assert part.loss(rows) == (11, 114)
    assert np.array_equal(
        np.flatnonzero(np.unpackbits(part.lost(rows))), 64 * 7 + np.arange(33, 44)
    )
    pixels, touching = part.pieces(rows, 5, 100)
    assert list(pixels) == list(5 + 700 + np.arange(33, 44))
    assert list(touching) == [5 + 700 + 33]


def test_rows_window_and_disc_must_fit_together():
    rows = np.zeros((40, 8), np.uint8)
    part = PartOfStrip(
        (0, 64), 0, 0, (0, 8), halo=11, disc=Disc.of(3, 3), steps=3, near=0, ink=True
    )
    assert part.loss(rows) == (0, 0)
    for change in (
        {"area": (0, 65)},
        {"area": (8, 64)},
        {"area": (7, 7)},
        {"before": 12},
        {"after": -1},
        {"columns": (0, 9)},
        {"columns": (3, 3)},
        {"columns": (-1, 3)},
        {"halo": 10},
        {"halo": 20},
        {"near": 1},
        {"near": -1},
        {"steps": 2},
        {"disc": Disc.of(4, 1)},
        {"disc": Disc.of(1, 4)},
        {"disc": Disc(())},
        {"disc": Disc(((-1, 3),))},
        {"disc": Disc(((3, 1),))},
        {"disc": Disc(((0, 2), (1, 2)))},
    ):
        wrong = replace(part, **change)
        with pytest.raises(ValueError, match="fit together"):
            wrong.loss(rows)
        with pytest.raises(ValueError, match="fit together"):
            wrong.pieces(rows, 0, 64)
    loops, question = compiled(), part._question(rows)
    with pytest.raises(ValueError, match="buffer"):
        loops.opening_loss(rows, question, *part.disc.rows, 0, np.empty((18, 7), np.uint8))
    runs, disc = part.disc.rows
    with pytest.raises(ValueError, match="fit together"):
        loops.opening_pieces(rows, question, runs, disc + 1, 0, 64)
    with pytest.raises(ValueError, match="fit together"):
        loops.opening_pieces(rows[:-1, :7].copy(), question, runs, disc, 0, 64)
