"""However the area is cut into parts, what openings take from it stays the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.mesh.bitmap import strokes
from filmhand.mesh.bitmap.strokes import InkShape, narrowest
from filmhand.mesh.bitmap.worst_places import narrowest_places
from filmhand.units import Resolution

DPI = Resolution(600, 600)
PIXEL = 25400 / 600


@st.composite
def bitmaps(draw, largest=90):
    """Noise of any fineness and share of ink, also with rows of dots on it."""
    height, width = draw(st.integers(1, largest)), draw(st.integers(1, largest))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    noise = ndimage.gaussian_filter(rng.random((height, width)), draw(st.sampled_from([0, 1, 3])))
    return noise >= np.quantile(noise, draw(st.floats(0, 1)))


def shape_of(bits, *, ink, skip=0):
    """The shape, with stray bits before the area in its first byte."""
    before = np.random.default_rng(1).random((len(bits), skip)) < 0.5
    packed = np.packbits(np.hstack([before, bits]), axis=1)
    return InkShape(
        lambda a, b: packed[a:b],
        (bits.shape[1], bits.shape[0]),
        resolution=DPI,
        ink=ink,
        near_um=6 * PIXEL,
        skip=skip,
    )


def lost(shape, width, size, skip=0):
    """What the opening takes, of the whole picture."""
    whole = np.zeros((size[0] + 1024, size[1] + skip + 8192), bool)
    for top, left in shape.parts:
        rows = np.unpackbits(shape.vanishing(width * PIXEL, (top, left)), axis=1)
        whole[top : top + len(rows), 8 * left : 8 * left + rows.shape[1]] = rows
    assert not whole[:, :skip].any()
    assert not whole[size[0] :].any()
    assert not whole[:, skip + size[1] :].any()
    return whole[: size[0], skip : skip + size[1]]


@settings(max_examples=60, deadline=None)
@given(
    bits=bitmaps(200),
    ink=st.booleans(),
    width=st.integers(1, 9),
    rows=st.integers(5, 120),
    columns=st.sampled_from([8, 16]),
    skip=st.integers(0, 7),
)
def test_an_opening_takes_the_same_wherever_it_is_cut(bits, ink, width, rows, columns, skip):
    whole = lost(shape_of(bits, ink=ink), width, bits.shape)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strokes, "_STRIP", rows)
        patch.setattr(strokes, "_BYTES", columns)
        parts = lost(shape_of(bits, ink=ink, skip=skip), width, bits.shape, skip)
    assert np.array_equal(parts, whole)
    assert not (whole & (bits != ink)).any()


@settings(max_examples=60, deadline=None)
@given(
    bits=bitmaps(150),
    ink=st.booleans(),
    allowed=st.sampled_from([0.005, 0.05, 0.3]),
    rows=st.integers(3, 60),
)
def test_the_answer_is_a_width_that_passes_and_the_next_fails(bits, ink, allowed, rows):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strokes, "_STRIP", rows)
        patch.setattr(strokes, "_BYTES", 8)
        patch.setattr(strokes, "_SAMPLE", 3)
        found = narrowest(shape_of(bits, ink=ink), up_to_um=8 * PIXEL, allowed=allowed)
    # Every pixel of the shape that some width can take counts, and no other.
    shape = bits == ink
    near = ndimage.maximum_filter(~shape, 13, mode="constant") if not ink else np.ones_like(bits)
    total = (shape & near).sum()
    shares = [lost(shape_of(bits, ink=ink), w, bits.shape).sum() for w in range(1, 9)]
    width = round(found.width_um / PIXEL)
    assert width == 0 or shares[width - 1] <= allowed * total
    assert width == 8 or shares[width] > allowed * total
    assert found.at_least == (width == 8)


@settings(max_examples=25, deadline=None)
@given(bits=bitmaps(200), ink=st.booleans(), rows=st.sampled_from([64, 128]))
def test_places_do_not_depend_on_the_cuts(bits, ink, rows):
    def places():
        return narrowest_places(shape_of(bits, ink=ink), 5 * PIXEL)

    whole = places()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strokes, "_STRIP", rows)
        patch.setattr(strokes, "_BYTES", 16)
        assert places() == whole
    for spot in whole:
        assert bits[spot.y_px, spot.x_px] == ink
