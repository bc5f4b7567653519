"""The rows of the art's own area, read from the sheet and put back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.film.bits import BitSheet
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.sheet.layout import Box


@st.composite
def sheets(draw):
    """(width, height) of a sheet and an area on it."""
    width, height = draw(st.integers(1, 70)), draw(st.integers(1, 9))
    left, top = draw(st.integers(0, width - 1)), draw(st.integers(0, height - 1))
    across, down = draw(st.integers(1, width - left)), draw(st.integers(1, height - top))
    return (width, height), Box(left, top, across, down)


@settings(deadline=None)
@given(sheet=sheets(), seed=st.integers(0, 99))
def test_rows_go_to_their_place_and_what_lies_beside_them_stays(tmp_path_factory, sheet, seed):
    (width, height), box = sheet
    path = Path(tmp_path_factory.mktemp("sheet")) / "bits"
    rng = np.random.default_rng(seed)
    bits, rows = rng.random((height, width)) < 0.5, rng.random((box.height, box.width)) < 0.5
    with BitSheet.create(path, width=width, height=height) as film:
        film.write(0, np.packbits(bits, axis=1))
        area = AreaOfSheet(film, box)
        area.write(0, rows)
        bits[box.top : box.bottom, box.left : box.right] = rows
        stored = np.unpackbits(film.read(0, height), axis=1, count=width).view(np.bool_)
        assert np.array_equal(stored, bits)
        assert np.array_equal(area.read(0, box.height), rows)
        packed = np.unpackbits(area.read_packed(0, box.height), axis=1)
        assert np.array_equal(packed[:, area.skip : area.skip + box.width], rows)
