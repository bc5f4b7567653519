from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.art.raster import (
    block_sums,
    closing,
    connected_runs,
    fill_gaps,
    grown,
    in_threads,
    label_components,
    local_maximum,
    median_of,
    otsu,
    quantile_of,
    quantiles_of,
    row_strips,
    smooth,
    sums_around,
    sums_down,
)
from filmhand.language import speaking, spoken

PICTURE = np.random.default_rng(3).random((41, 57)).astype(np.float32)


@pytest.mark.parametrize("factor", [1, 2, 3, 5, 7, 8, 9])
@pytest.mark.parametrize("shape", [(41, 57), (30, 9), (9, 30), (700, 500)])
def test_sums_of_blocks_are_those_of_numpy(shape, factor):
    field = np.random.default_rng(9).random(shape).astype(np.float32)
    height, width = (side // factor for side in shape)
    whole = field[: height * factor, : width * factor]
    blocks = whole.reshape(height, factor, width, factor)
    assert np.array_equal(block_sums(field, factor), blocks.sum(axis=(1, 3)))


@pytest.mark.parametrize("kind", [np.float32, np.float64, np.uint16, np.int64])
@pytest.mark.parametrize("shape", [(1,), (2,), (3,), (40, 50), (41, 51)])
def test_the_median_is_that_of_numpy(kind, shape):
    values = (np.random.default_rng(7).random(shape) * 900).astype(kind)
    assert median_of(values) == np.median(values)
    assert median_of(values.tolist()) == np.median(values.tolist())


@pytest.mark.parametrize("kind", [np.float32, np.float64, np.uint16])
@pytest.mark.parametrize("count", [1, 2, 3, 101, 4096, 100_003])
def test_quantiles_are_those_of_numpy(kind, count):
    values = (np.random.default_rng(8).random(count) * 900).astype(kind)
    shares = (0.0, 0.02, 0.05, 0.35, 0.5, 0.7, 0.75, 0.9, 0.98, 0.995, 1.0)
    assert np.array_equal(quantiles_of(values, shares), np.quantile(values, shares))
    for share in shares:
        assert quantile_of(values, share) == np.quantile(values, share)
        assert quantile_of(values, share) == np.percentile(values, 100 * share)


@pytest.mark.parametrize("density", [0.02, 0.3, 0.6, 0.95])
@pytest.mark.parametrize("shape", [(1, 1), (1, 60), (60, 1), (37, 53)])
def test_components_are_those_of_scipy(density, shape):
    mask = np.random.default_rng(1).random(shape) < density
    labels, count = label_components(mask)
    wanted, number = ndimage.label(mask, np.ones((3, 3)))
    assert count == number and np.array_equal(labels > 0, mask)
    pairs = {tuple(pair) for pair in np.stack([labels[mask], wanted[mask]], 1).tolist()}
    assert len(pairs) == number


@pytest.mark.parametrize("size", [1, 3, 7, 11])
def test_gray_morphology_is_that_of_scipy(size):
    assert np.array_equal(
        local_maximum(PICTURE, size), ndimage.maximum_filter(PICTURE, size, mode="nearest")
    )
    inside = (slice(size, -size),) * 2
    wanted = ndimage.grey_closing(PICTURE, (size, size))
    assert np.array_equal(closing(PICTURE, size)[inside], wanted[inside])


def test_a_mask_grows_in_all_eight_directions():
    mask = PICTURE > 0.97
    assert np.array_equal(grown(mask, 2), ndimage.binary_dilation(mask, np.ones((5, 5))))


def test_strips_hold_about_so_many_pixels_and_every_row_once():
    def strips(*args, **rest):
        return [(one.start, one.stop) for one in row_strips(*args, **rest)]

    assert strips((10, 5), 15) == [(0, 3), (3, 6), (6, 9), (9, 10)]
    assert strips((10, 5), 14) == [(n, n + 2) for n in range(0, 10, 2)]
    assert strips((3, 100), 1) == [(0, 1), (1, 2), (2, 3)]
    assert strips((7, 100), 1, least=4) == [(0, 4), (4, 7)]
    assert strips((2, 5), 1000) == [(0, 2)]


def test_smoothing_is_the_binomial_filter():
    weights = np.array([[1, 2, 1], [2, 4, 2], [1, 2, 1]]) / 16
    assert smooth(PICTURE) == pytest.approx(
        ndimage.convolve(PICTURE, weights, mode="nearest"), abs=1e-6
    )


def test_a_dip_at_the_border_is_closed_like_one_inside():
    field = np.ones((20, 20), np.float32)
    field[:3, 5:8] = field[10:13, 18:] = 0
    assert closing(field, 5).min() == 1
    # An even size counts as the next odd one.
    assert closing(field, 4).min() == 1
    assert closing(field, 2).min() == 0
    # A picture smaller than the window goes on as its edge.
    small = np.ones((4, 9), np.float32)
    small[1, 4] = 0
    assert np.array_equal(closing(small, 5), np.ones((4, 9)))


def variance_between(counts, last):
    """Of the two classes of a histogram, the lower one up to a bin: by their definition."""
    bins = np.arange(len(counts))
    low, high = bins <= last, bins > last
    if not counts[low].sum() or not counts[high].sum():
        return 0.0
    means = [np.average(bins[part], weights=counts[part]) for part in (low, high)]
    shares = [counts[part].sum() / counts.sum() for part in (low, high)]
    return shares[0] * shares[1] * (means[0] - means[1]) ** 2


@pytest.mark.parametrize("seed", range(6))
def test_otsus_threshold_parts_the_classes_best(seed):
    counts = np.random.default_rng(seed).integers(0, 50, 12 + seed) * (np.arange(12 + seed) % 3 > 0)
    found = variance_between(counts, otsu(counts))
    assert found == pytest.approx(max(variance_between(counts, n) for n in range(len(counts))))


def test_otsus_threshold_is_the_first_of_equal_ones():
    assert otsu(np.array([5, 0, 0, 5])) == 0
    assert otsu(np.array([0, 5, 5, 0])) == 1
    assert otsu(np.zeros(4, np.int64)) == 0


def test_gaps_are_filled_from_around_and_the_rest_is_kept():
    gaps = np.zeros((32, 40), np.bool_)
    gaps[5:20, 10:30] = True
    y, x = np.mgrid[:32, :40]
    ramp = (x / 40 + y / 80).astype(np.float32)
    filled = fill_gaps(np.where(gaps, 99, ramp).astype(np.float32), gaps)
    assert np.array_equal(filled[~gaps], ramp[~gaps])
    assert np.abs(filled - ramp)[gaps].max() < 0.25
    assert ramp[~gaps].min() <= filled.min() and filled.max() <= ramp[~gaps].max()
    # Nearer to the left it is as dark as there, nearer to the right as light as there.
    assert filled[12, 11] < filled[12, 20] < filled[12, 28]
    flat = fill_gaps(np.where(gaps, 99, 0.25).astype(np.float32), gaps)
    assert flat == pytest.approx(np.full((32, 40), 0.25))
    assert np.array_equal(fill_gaps(ramp, np.ones_like(gaps)), np.zeros((32, 40)))
    two = fill_gaps(np.array([[1, 99], [3, 99]], np.float32), np.array([[0, 1], [0, 1]], bool))
    assert np.array_equal(two, [[1, 2], [3, 2]])


@pytest.mark.parametrize("reach", [0, 1, 4])
def test_sums_are_of_all_within_reach(reach):
    numbers = np.random.default_rng(2).integers(0, 9, (11, 13))
    wide = np.pad(numbers, ((reach, reach), (0, 0)), mode="edge")
    down = sum(wide[k : k + 11] for k in range(2 * reach + 1))
    assert np.array_equal(sums_down(numbers, reach, np.int64), down)
    field = numbers.astype(np.float32)
    around = np.pad(field, reach)
    square = sum(
        around[k : k + 11, j : j + 13] for k in range(2 * reach + 1) for j in range(2 * reach + 1)
    )
    assert np.array_equal(sums_around(field, reach), square)


def test_runs_are_sorted_and_end_one_past_their_last_pixel():
    mask = np.array([[1, 1, 0, 1], [0, 0, 1, 0], [1, 0, 0, 0]], bool)
    row, first, stop, label = connected_runs(mask)
    assert row.tolist() == [0, 0, 1, 2]
    assert first.tolist() == [0, 3, 2, 0]
    assert stop.tolist() == [2, 4, 3, 1]
    # Corners join; the last pixel touches nothing.
    assert label.tolist() == [0, 0, 0, 1]


def test_threads_say_sentences_in_the_language_of_whoever_calls_them():
    said = []
    with speaking("es"):
        in_threads(lambda _: said.append(spoken()), range(3))
    assert said == ["es"] * 3


def test_each_item_is_worked_on_and_a_fault_is_told():
    done = []
    in_threads(done.append, range(5))
    assert sorted(done) == [0, 1, 2, 3, 4]
    with pytest.raises(ZeroDivisionError):
        in_threads(lambda item: 1 / item, [1, 0, 2], threads=1)
