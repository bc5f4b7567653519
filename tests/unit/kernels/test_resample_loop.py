"""The loop that resamples, cuts and packs: the same bits as products of matrices give."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.kernels.loops import compiled
from filmhand.pipeline.render import strips
from filmhand.pipeline.render.copies import ArtCopies
from filmhand.pipeline.render.strips import LightRows, LineRows, ScreenedRows, fill_rows_of_sheet
from filmhand.screen.lattice import TileBrick
from filmhand.screen.screener import Screener
from filmhand.screen.tile import ThresholdTile
from filmhand.sheet import resample
from filmhand.sheet.layout import Box
from filmhand.sheet.resample import Resampled
from filmhand.tone import light_cuts, linear_table

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")
Method = Image.Resampling
METHODS = (Method.LANCZOS, Method.BICUBIC, Method.BILINEAR, Method.HAMMING)


def picture_of(seed: int, height: int, width: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    noise = rng.integers(0, 65536, (height, width))
    return np.where(rng.random((height, width)) < 0.3, rng.choice([0, 65535]), noise).astype(
        np.uint16
    )


def plainly(monkeypatch, make):
    """What comes of it without the loops in C."""
    with monkeypatch.context() as patch:
        patch.setattr(resample, "compiled", lambda: None)
        patch.setattr(strips, "compiled", lambda: None)
        return make()


@settings(deadline=None, max_examples=150)
@given(
    seed=st.integers(0, 2**32 - 1),
    size=st.tuples(st.integers(1, 90), st.integers(1, 90)),
    to=st.tuples(st.integers(1, 1300), st.integers(1, 200)),
    method=st.sampled_from(METHODS),
    where=st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
def test_light_is_the_same_bit_for_bit(seed, size, to, method, where):
    picture = picture_of(seed, *size)
    resampled = Resampled(picture, linear_table(), to, method=method)
    first = min(int(where[0] * to[1]), to[1] - 1)
    count = 1 + int(where[1] * (to[1] - first - 1))
    with pytest.MonkeyPatch.context() as patch:
        ours = resampled.rows(first, count)
        patch.setattr(resample, "compiled", lambda: None)
        assert np.array_equal(ours, resampled.rows(first, count))


@pytest.mark.parametrize(("size", "to"), [((700, 300), (9, 13)), ((2000, 31), (1, 1))])
def test_great_reductions_are_the_same_bit_for_bit(monkeypatch, size, to):
    picture = picture_of(3, *size)
    for method in METHODS:
        resampled = Resampled(picture, linear_table(), to, method=method)
        ours = resampled.rows(0, to[1])
        assert np.array_equal(ours, plainly(monkeypatch, lambda r=resampled: r.rows(0, to[1])))


def tile_of(length: int, height: int, shift: int) -> ThresholdTile:
    ranks = np.random.default_rng(1).permutation(length * height)
    return ThresholdTile.of(ranks, TileBrick(length, height, shift))


def sheet_of(path, rows, area, width) -> np.ndarray:
    with BitSheet.create(path, width=width, height=area.bottom + 2) as bits:
        fill_rows_of_sheet(bits, area, rows, threads=2)
        return bits.read(0, bits.height)


@pytest.mark.parametrize("negative", [False, True])
@pytest.mark.parametrize("brick", [(1, 1, 0), (7, 3, 2), (509, 1, 33), (3000, 4, 1111)])
@pytest.mark.parametrize(
    "area", [Box(0, 0, 512, 40), Box(5, 3, 1200, 300), Box(15, 1, 3, 129), Box(8, 0, 511, 128)]
)
def test_dots_are_the_same_bit_for_bit(monkeypatch, tmp_path, negative, brick, area):
    coded = picture_of(5, 70, 90)
    cuts = light_cuts(lambda tone: 1 - tone if negative else tone, negative=negative)
    screener = Screener(
        tile_of(*brick), column=area.left, width=area.width, cuts=cuts.at, dark_inks=cuts.dark_inks
    )
    rows = ScreenedRows(LightRows(coded, area, drawn=False), area, screener, [])

    def make():
        return sheet_of(tmp_path / "bits", rows, area, area.right + 11)

    assert rows.packed(0, 1) is not None
    ours = make()
    assert np.array_equal(ours, plainly(monkeypatch, make))
    inside = np.unpackbits(ours, axis=1)[area.top : area.bottom, area.left : area.right]
    assert inside.sum() == np.unpackbits(ours).sum()
    assert 0 < inside.mean() < 1


@pytest.mark.parametrize("negative", [False, True])
@pytest.mark.parametrize("level", [0.3, 0.5, 0.999])
def test_lines_are_the_same_bit_for_bit(monkeypatch, tmp_path, negative, level):
    """Where an edge lies in the middle of two pixels, its share is exactly the level."""
    half = np.zeros((40, 64), np.uint16)
    half[10:30, 7:41] = 65535
    for share in (half, picture_of(6, 40, 64)):
        for width, height in ((96, 60), (700, 333)):
            area = Box(3, 2, width, height)
            rows = LineRows(share, area, level=level, negative=negative)

            def make(rows=rows, area=area):
                return sheet_of(tmp_path / "bits", rows, area, area.right + 1)

            assert np.array_equal(make(), plainly(monkeypatch, make))


def test_copies_are_laid_down_as_bool(monkeypatch, tmp_path):
    """Their light is spread over the sheet first, so none of it is packed by itself."""
    coded, area = picture_of(9, 30, 30), Box(2, 1, 210, 100)
    copies = ArtCopies(2, 1, Box(2, 1, 100, 100), (110, 100), area)
    light = copies.spread(LightRows(coded, copies.copy, drawn=False), beyond=np.float32(1))
    cuts = light_cuts(lambda tone: tone)
    screener = Screener(tile_of(50, 2, 9), column=2, width=210, cuts=cuts.at, dark_inks=True)
    rows = ScreenedRows(light, area, screener, [])
    assert rows.packed(0, 100) is None
    ours = sheet_of(tmp_path / "bits", rows, area, 220)
    assert np.array_equal(
        ours, plainly(monkeypatch, lambda: sheet_of(tmp_path / "bits", rows, area, 220))
    )


def test_arrays_that_do_not_go_together_are_refused():
    loops = compiled()
    assert loops is not None
    codes, values = np.zeros((4, 5), np.uint16), np.zeros(65536)
    since, weights = np.zeros(6, np.int32), np.full((6, 1), 1.0)
    out = np.empty((6, 6), np.float32)
    loops.resample(codes, values, since, weights, since * 0, weights, out, 5, None)
    beyond = np.full(6, 5, np.int32)
    for across, down in ((beyond, since), (since, beyond), (since - np.int32(1), since)):
        with pytest.raises(ValueError, match="go together"):
            loops.resample(codes, values, across, weights, down, weights, out, 5, None)
    with pytest.raises(ValueError, match="go together"):
        loops.resample(codes, values, since, weights, since, weights, out[:5], 5, None)
    levels, starts = np.zeros((1, 513), np.float32), np.zeros(6, np.int64)
    bits = np.empty((6, 1), np.uint8)
    loops.resample(
        codes, values, since, weights, since, weights, bits, 5, (levels, starts, 1, 513, True, 1)
    )
    for wrong in (
        (levels, starts + 1, 1, 513, True, 1),
        (levels, starts, 2, 513, True, 1),
        (levels, starts, 1, 513, True, 8),
        (levels, starts[:5], 1, 513, True, 1),
    ):
        with pytest.raises(ValueError, match="go together"):
            loops.resample(codes, values, since, weights, since, weights, bits, 5, wrong)
