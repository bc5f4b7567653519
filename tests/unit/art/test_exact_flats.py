from __future__ import annotations

import numpy as np

from filmhand.art.analysis.exact_flats import flat_codes


def test_a_flat_of_one_gray_counts_under_its_upper_bits() -> None:
    counts, total = flat_codes(np.full((8, 8), 0x12FF, np.uint16))
    assert (counts[0x12], counts.sum(), total) == (10, 10, 10)  # two bands of five places


def test_of_a_very_tall_picture_four_hundred_bands_are_looked_at() -> None:
    _, total = flat_codes(np.zeros((10_000, 4), np.uint16))
    assert total == 400


def test_one_pixel_in_the_last_corner_of_a_block_is_seen() -> None:
    coded = np.zeros((4, 4), np.uint16)
    coded[3, 3] = 1
    assert flat_codes(coded)[0].sum() == 0
    assert flat_codes(np.zeros((4, 4), np.uint16))[0].sum() == 1
    assert flat_codes(np.zeros((3, 9), np.uint16))[1] == 0
