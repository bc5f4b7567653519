from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from degraded import as_codes, skimage_picture, soft_noise
from PIL import Image

from filmhand.art.repair.jpeg_blocks import find_blocks, without_blocks


def through_jpeg(codes, quality):
    buffer = BytesIO()
    Image.fromarray((codes // 257).astype(np.uint8)).save(buffer, "JPEG", quality=quality)
    with Image.open(buffer) as image:
        return np.asarray(image).astype(np.uint16) * 257, tuple(image.quantization[0])


def clouds(height=300, width=340):
    rng = np.random.default_rng(4)
    return as_codes(0.5 + 0.15 * soft_noise(rng, (height, width), radius=14))


@pytest.mark.parametrize(("down", "across"), [(0, 0), (3, 0), (0, 5), (7, 1)])
def test_the_squares_are_found_wherever_they_begin(down, across):
    art, table = through_jpeg(clouds(), 15)
    found = find_blocks(art[down:, across:], table)
    assert (found.down, found.across) == (-down % 8, -across % 8)
    assert found.blockiness > 1.3


@pytest.mark.parametrize(("down", "across"), [(3, 0), (0, 5), (7, 1), (4, 6)])
@pytest.mark.parametrize("less", [0, 3, 6])
def test_they_are_smoothed_wherever_they_begin(down, across, less):
    whole, table = through_jpeg(clouds(), 15)
    art = np.ascontiguousarray(whole[down:, across : whole.shape[1] - less])
    made = without_blocks(art, table, find_blocks(art, table))
    # Away from the edges it is the same as the whole picture smoothed and then cut.
    wanted = without_blocks(whole, table, find_blocks(whole, table))
    wanted = wanted[down:, across : whole.shape[1] - less]
    assert np.array_equal(made[24:-24, 24:-24], wanted[24:-24, 24:-24])


def test_mirrored_and_turned_art_too():
    art, table = through_jpeg(clouds(), 15)
    flipped = find_blocks(art[::-1, ::-1], table)
    assert (flipped.down, flipped.across) == (300 % 8, 340 % 8)
    assert find_blocks(np.ascontiguousarray(art.T), table).blockiness > 1.3


def test_fine_tables_and_pictures_without_squares_are_let_be():
    clean = clouds()
    art, fine = through_jpeg(clean, 75)
    coarse = through_jpeg(clean, 15)[1]
    assert find_blocks(art, fine) is None
    assert find_blocks(clean, coarse) is None
    assert find_blocks(np.full((300, 300), 30000, np.uint16), coarse) is None
    assert find_blocks(clean[:20], coarse) is None


def test_steps_go_and_no_seams_come():
    clean = clouds(500, 260)
    art, table = through_jpeg(clean, 15)
    found = find_blocks(art, table)
    after = without_blocks(art, table, found)
    error = [np.sqrt(np.mean((a.astype(float) - clean) ** 2)) for a in (art, after)]
    assert error[1] < 0.8 * error[0]
    # The same from a part: strips begin elsewhere, and only the halo at the cut differs.
    part = without_blocks(art[104:], table, find_blocks(art[104:], table))
    assert np.abs(part[40:].astype(int) - after[144:]).max() <= 1


def test_edges_are_kept():
    art = np.full((160, 160), 60000, np.uint16)
    art[:, 77:] = 5000
    coded, table = through_jpeg(art, 15)
    found = find_blocks(through_jpeg(clouds(), 15)[0], table)
    after = without_blocks(coded, table, found)
    assert after[:, 75].min() > 50000 and after[:, 78].max() < 15000


def test_a_picture_of_scikit_image_keeps_its_mean():
    camera = skimage_picture("camera")
    if camera is None:
        pytest.skip("scikit-image is not installed")
    art, table = through_jpeg(camera[:200, :203], 20)
    before = art.copy()
    after = without_blocks(art, table, find_blocks(art, table))
    assert after.shape == art.shape and np.array_equal(art, before)
    assert abs(float(after.mean()) - float(art.mean())) < 60
    assert np.array_equal(after, without_blocks(art, table, find_blocks(art, table)))
