"""Line work inside pictures is found, and photographs are left alone."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from skimage import data

from filmhand.art.analysis import line_work
from filmhand.art.analysis.line_work import find_line_work

CODE = np.arange(65536)
SOLID, CLEAR = CODE <= 0.15 * 65535, CODE >= 0.88 * 65535


def found(coded, *, reach=(7, 7), threads=1, solid=SOLID, clear=CLEAR):
    return find_line_work(coded, solid=solid, clear=clear, reach=reach, threads=threads)


def as_codes(picture):
    return np.asarray(picture, np.uint16) * 257


def photograph(name, side=1000):
    gray = Image.fromarray(getattr(data, name)()).convert("L")
    return gray.resize((side, side), Image.Resampling.LANCZOS)


@pytest.fixture(scope="module")
def poster():
    """A photograph under lettering, and where the lettering is."""
    page = Image.new("L", (1000, 1300), 255)
    page.paste(photograph("camera"), (0, 300))
    draw = ImageDraw.Draw(page)
    draw.text((40, 60), "Kite day beach", font=ImageFont.load_default(120), fill=0)
    draw.text((40, 220), "in the yard, from ten to four", font=ImageFont.load_default(40), fill=0)
    return page


def covered(work, shape):
    """The blocks as pixels of the picture."""
    grown = np.kron(work.blocks, np.ones(work.size, np.bool_))
    return grown[: shape[0], : shape[1]]


def test_lettering_is_found_and_the_photograph_beside_it_is_not(poster):
    coded = as_codes(poster)
    where = covered(found(coded), coded.shape)
    ink = coded[:290, : where.shape[1]] < 128 * 257
    edges = ink[:, 1:] != ink[:, :-1]
    assert where[:290, 1:][edges].mean() > 0.99
    assert where[320:].mean() < 0.002


@pytest.mark.parametrize("name", ["camera", "astronaut", "gravel", "coffee", "chelsea", "brick"])
def test_open_photographs_hold_next_to_none(name):
    work = found(as_codes(photograph(name)))
    # The most is in the astronaut's white collar against black: half a per cent.
    assert work is None or work.share < 0.006


def test_a_negative_has_its_line_work_in_the_same_places(poster):
    coded = as_codes(poster)
    one, other = found(coded), found(65535 - coded, solid=SOLID[::-1], clear=CLEAR[::-1])
    assert np.array_equal(one.blocks, other.blocks)
    inverted = found(coded, solid=CLEAR, clear=SOLID)  # as a negative film sees it
    assert np.array_equal(one.blocks, inverted.blocks)


@pytest.mark.parametrize(("rows", "columns"), [(1, 3), (3, 1), (2, 1)])
def test_reach_counts_rows_and_columns_apart(poster, rows, columns):
    """Art that is finer one way has the same line work, on blocks that are longer that way."""
    coded = as_codes(poster)[:600]
    plain = found(coded, reach=(6, 6))
    longer = np.repeat(np.repeat(coded, rows, axis=0), columns, axis=1)
    work = found(longer, reach=(6 * rows, 6 * columns))
    assert work.size == (4 * rows, 4 * columns)
    assert np.array_equal(work.blocks, plain.blocks)


@pytest.mark.parametrize("reach", [(60, 24), (24, 60)])
def test_surroundings_reach_as_far_as_asked_each_way(reach):
    half = np.zeros((480, 480), np.uint16)
    half[:240] = 65535
    for axis, edge in enumerate((half, half.T.copy())):
        where = covered(found(edge, reach=reach), edge.shape)
        far = np.abs(np.flatnonzero(where.any(axis=1 - axis)) - 239.5).max()
        assert 0.6 * reach[axis] < far < reach[axis] + 12  # to a block's width


def test_threads_change_nothing(poster):
    coded = as_codes(poster)
    assert np.array_equal(found(coded).blocks, found(coded, threads=4).blocks)


@pytest.mark.parametrize("value", [0, 40_000, 65_535])
def test_a_flat_has_none(value):
    assert found(np.full((90, 120), value, np.uint16)) is None


def test_a_soft_ramp_has_none():
    ramp = np.tile(np.linspace(0, 65535, 600).astype(np.uint16), (200, 1))
    assert found(ramp) is None


@pytest.mark.parametrize("shape", [(1, 1), (1, 50), (3, 2), (5, 400)])
@pytest.mark.parametrize("reach", [(0.2, 0.2), (7, 7), (40, 3)])
def test_any_shape_and_reach_will_do(shape, reach):
    half = np.zeros(shape, np.uint16)
    half[:, shape[1] // 2 :] = 65535
    work = found(half, reach=reach)
    if work is not None:
        assert work.blocks.shape == tuple(
            max(1, side // block) for side, block in zip(shape, work.size, strict=True)
        )


@pytest.mark.parametrize(("band", "reach"), [(1, 1.5), (5, 7), (3, 24)])
def test_where_bands_are_cut_makes_no_difference(poster, monkeypatch, band, reach):
    coded = as_codes(poster)[200:500]
    monkeypatch.setattr(line_work, "_BAND", 10_000)
    whole = found(coded, reach=(reach, reach))
    monkeypatch.setattr(line_work, "_BAND", band)
    assert np.array_equal(found(coded, reach=(reach, reach), threads=2).blocks, whole.blocks)
