from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from degraded import as_codes, skimage_picture, soft_noise
from PIL import Image
from scipy import fft, ndimage

from filmhand.art.repair import jpeg_blocks
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


TABLE = np.arange(16, 80, dtype=np.float32).reshape(8, 8) * 40


def test_squares_are_coded_again_by_their_table():
    """ITU-T T.81, A.3.3 and A.3.4: the orthogonal transform, rounded to steps, and back."""
    picture = np.random.default_rng(1).uniform(0, 65535, (16, 24)).astype(np.float32)
    again = jpeg_blocks._coded_again(picture.copy(), TABLE)
    for top in range(0, 16, 8):
        for left in range(0, 24, 8):
            square = np.s_[top : top + 8, left : left + 8]
            found = np.rint(fft.dctn(picture[square], norm="ortho") / TABLE) * TABLE
            assert again[square] == pytest.approx(fft.idctn(found, norm="ortho"), abs=0.5)


def test_the_average_is_of_the_picture_and_of_its_squares_laid_elsewhere():
    picture = np.random.default_rng(2).uniform(0, 65535, (40, 48)).astype(np.float32)
    total = picture.astype(np.float64)[8:-8, 8:-8]
    layings = jpeg_blocks._LAYINGS
    assert len(set(layings)) == len(layings) and (0, 0) not in layings
    for down, across in layings:
        laid = picture.copy()
        part = np.s_[down : down + 32, across : across + 40]
        laid[part] = jpeg_blocks._coded_again(np.ascontiguousarray(picture[part]), TABLE)
        total = total + laid[8:-8, 8:-8]
    wanted = total / (len(layings) + 1)
    assert jpeg_blocks._averaged(picture, TABLE) == pytest.approx(wanted, abs=0.5)


def test_flats_are_smoothed_by_half_a_step_at_most_and_lively_parts_are_not():
    step = 1000.0
    y, x = np.mgrid[:80, :120]
    picture = (30_000 + 400 * ((x // 8 + y // 8) % 2)).astype(np.float32)
    picture[:, 60:] += 9_000 * (x[:, 60:] > 90)
    found = jpeg_blocks._flats_smoothed(picture, step)
    # Means over seventeen rows and columns, edges repeated.
    soft = ndimage.uniform_filter(picture.astype(np.float64), 17, mode="nearest")
    change = ndimage.maximum_filter(picture, 17, mode="nearest") - ndimage.minimum_filter(
        picture, 17, mode="nearest"
    )
    weight = np.clip((2.4 * step - change) / (0.8 * step), 0, 1)
    wanted = picture + weight * np.clip(soft - picture, -step / 2, step / 2)
    assert found == pytest.approx(wanted, abs=0.1)
    assert np.array_equal(found[:, 84:98], picture[:, 84:98])
    lively = (40_000 * (x % 2)).astype(np.float32)
    assert jpeg_blocks._flats_smoothed(lively, step) is lively


def test_steps_are_means_by_their_place_in_a_square_without_edges():
    coded = np.zeros((5, 33), np.uint16)
    coded[:, 8:], coded[:, 16:], coded[:, 20:] = 300, 700, 60_000
    # From column 7 to 8 a step of 300, from 15 to 16 one of 400; what follows is an edge.
    assert jpeg_blocks._steps(coded).tolist() == pytest.approx([0, 0, 0, 0, 0, 0, 0, 175])
    coded[:, 20:] = 700 + 12 * 257
    steps = jpeg_blocks._steps(coded)
    assert steps[3] == pytest.approx(12 * 257 / 4) and steps[7] == pytest.approx(175)


@pytest.mark.parametrize(("steps", "coarse"), [(13, False), (14, True)])
def test_a_table_is_coarse_from_fourteen_on(steps, coarse):
    art, _ = through_jpeg(clouds(), 15)
    table = [99] * 64
    for place in (1, 2, 8, 9, 16):
        table[place] = steps
    assert (find_blocks(art, tuple(table)) is not None) is coarse
    assert find_blocks(art[:31], tuple(table)) is None
