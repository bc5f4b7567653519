from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.art.raster import closing, grown, label_components, local_maximum

PICTURE = np.random.default_rng(3).random((41, 57)).astype(np.float32)


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
