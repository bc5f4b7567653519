"""Levels, islands, the busiest place and the subject of a picture, on pictures of a few pixels."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.analysis import subject
from filmhand.art.analysis.auto_levels import auto_levels, percentile_codes
from filmhand.art.analysis.busiest_place import busiest_place
from filmhand.art.analysis.exact_flats import find_pale_ink
from filmhand.art.analysis.islands import find_islands
from filmhand.art.analysis.subject import find_subject


def test_percentiles_are_the_codes_that_so_many_pixels_lie_below_and_above():
    coded = np.arange(100, dtype=np.uint16).reshape(10, 10)
    # Ten of a hundred lie below code 10, and ten above code 89.
    assert percentile_codes(coded, black=10, white=10) == (10, 89)
    assert percentile_codes(coded, black=0, white=0) == (0, 99)
    assert percentile_codes(coded, black=10.5, white=10.5) == (10, 89)
    assert percentile_codes(np.full((3, 3), 7, np.uint16), black=1, white=1) == (7, 7)


@pytest.mark.parametrize("shape", [(64, 5), (65, 5), (200, 5)])
def test_every_row_of_small_art_is_counted(shape):
    coded = np.full(shape, 500, np.uint16)
    coded[-1] = 9
    assert percentile_codes(coded, black=0.1, white=0.1) == (9, 500)


def test_of_large_art_four_megapixels_are_counted():
    coded = np.zeros((4000, 4000), np.uint16)
    coded[::2, ::2] = 500  # every second of every second row is looked at
    assert percentile_codes(coded, black=1, white=1) == (500, 500)
    coded[1:, 1:][::2, ::2] = 1000
    assert percentile_codes(coded[:1990, :1990], black=1, white=1) == (0, 1000)


def two(low, high):
    return np.repeat(np.array([low, high], np.uint16), 500)[:, None]


@pytest.mark.parametrize(
    ("low", "high", "levels"),
    [
        # Two percent to gain: a span of 64250 of 65535.
        (500, 64_751, (0, 65_535)),
        (500, 64_749, (500, 64_749)),
        # Contrast at most doubles: 32768 codes at the least, widened by the room at either end.
        (10_000, 42_768, (10_000, 42_768)),
        (30_000, 35_000, (16_239, 49_007)),
        (0, 20_000, (0, 32_768)),
        (45_535, 65_535, (32_767, 65_535)),
        # Under two percent of all codes it is one flat.
        (30_000, 31_310, (0, 65_535)),
        (30_000, 31_311, (15_306, 48_074)),
    ],
)
def test_levels_of_two_tones(low, high, levels):
    assert auto_levels(two(low, high), drawn=False) == levels
    assert auto_levels(two(low, high), drawn=True) == (0, 65_535)


@pytest.mark.parametrize(
    ("ink", "ground", "found"),
    [
        (20_000, 65_535, (20_000, 65_535)),
        (6_553, 65_535, None),  # a tenth of white is black
        (6_554, 65_535, (6_554, 65_535)),
        (20_000, 60_000, (20_000, 60_000)),
        (20_000, 64_225, (20_000, 65_535)),  # as light as bare film
        (20_000, 42_500, (20_000, 65_535)),  # no ground is so dark
        (64_700, 65_535, (64_700, 65_535)),
        (64_800, 65_535, None),  # hardly to be seen
    ],
)
def test_pale_ink_and_its_ground(ink, ground, found):
    pale = find_pale_ink(two(ink, ground))
    assert (pale and (pale.ink, pale.ground)) == found
    if pale:
        assert pale.tone == pytest.approx(1 - ink / 65_535)
        codes = np.array([[0, ink, pale.ground, 65_535]], np.uint16)
        assert pale.brought_up(codes).tolist() == [[0, 0, 65_535, 65_535]]


def busiest_by_hand(coded, size):
    """By the definition, window by window."""
    across, down = min(size[0], coded.shape[1]), min(size[1], coded.shape[0])
    block = max(1, min(across, down) // 16)
    rows, columns = coded.shape[0] // block, coded.shape[1] // block
    tone = np.array([
        [1 - coded[r * block : (r + 1) * block, c * block : (c + 1) * block].mean() / 65_535
         for c in range(columns)] for r in range(rows)
    ])  # fmt: skip
    busy = np.zeros_like(tone)
    for r in range(rows):
        for c in range(columns):
            change = abs(tone[r, c] - tone[r - 1, c]) if r else 0
            change += abs(tone[r, c] - tone[r, c - 1]) if c else 0
            busy[r, c] = tone[r, c] * (1 - tone[r, c]) * (0.1 + change)
    high, wide = max(1, down // block), max(1, across // block)
    best = max(
        (busy[r : r + high, c : c + wide].sum(), -r, -c)
        for r in range(rows - high + 1) for c in range(columns - wide + 1)
    )  # fmt: skip
    return (
        (-best[2] + wide / 2) * block / coded.shape[1],
        (-best[1] + high / 2) * block / coded.shape[0],
    )


@pytest.mark.parametrize("size", [(9, 7), (40, 33), (64, 20), (5, 500)])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_busiest_place_is_that_of_the_definition(size, seed):
    chance = np.random.default_rng(seed)
    coded = chance.integers(0, 65_536, (70, 90)).astype(np.uint16)
    assert busiest_place(coded, size) == pytest.approx(busiest_by_hand(coded, size))


def islands_of(ink, *, least=1.0, far=3, size=1):
    found = find_islands(ink.astype(np.float32), size, least=least, far=far)
    return sorted(found.places)


@pytest.mark.parametrize(
    ("amount", "gone"), [(1.0, True), (1.01, False)]
)  # as much ink as one solid block is little
def test_an_island_is_of_little_ink(amount, gone):
    ink = np.zeros((30, 30))
    ink[10, 10] = ink[10, 11] = amount / 2
    assert islands_of(ink) == ([(11, 10)] if gone else [])


@pytest.mark.parametrize(
    ("blocks", "least", "gone"),
    [(9, 1.0, True), (10, 1.0, False), (12, 3.0, True), (13, 3.0, False)],
)
def test_a_faint_haze_that_is_wide_is_no_island(blocks, least, gone):
    ink = np.zeros((30, 30))
    ink[10, 5 : 5 + blocks] = 0.01
    assert bool(islands_of(ink, least=least)) is gone


@pytest.mark.parametrize(("apart", "gone"), [(3, False), (4, True)])
def test_an_island_lies_far_from_all_that_is_large(apart, gone):
    ink = np.zeros((40, 40))
    ink[10:20, 10:20] = 1
    ink[15, 19 + apart] = 0.5
    assert bool(islands_of(ink)) is gone


@pytest.mark.parametrize(("beside", "gone"), [(0.5, True), (0.51, False)])
def test_an_island_has_little_beside_it(beside, gone):
    ink = np.zeros((40, 40))
    ink[20, 20], ink[20, 22] = 0.5, beside
    assert bool(islands_of(ink)) is gone


def test_an_island_is_told_by_its_middle_in_pixels():
    ink = np.zeros((30, 30))
    ink[4, 10] = ink[5, 10] = ink[6, 10] = 0.1
    # The middle of block (10, 5), of seven pixels each.
    assert islands_of(ink, size=7) == [(round(10.5 * 7), round(5.5 * 7))]
    found = find_islands(ink.astype(np.float32), 7, least=1.0, far=3)
    picture = np.zeros((210, 210), np.uint16)
    found.clear(picture, 9)
    assert (picture == 9).sum() == 3 * 49 and (picture[28:49, 70:77] == 9).all()


def test_blocks_at_the_foot_and_the_right_are_smaller():
    coded = np.random.default_rng(1).integers(0, 65_536, (7, 11)).astype(np.uint16)
    mean, darkest = subject._blocks(coded, 3)
    assert mean.shape == darkest.shape == (3, 4)
    for row in range(3):
        for column in range(4):
            part = coded[3 * row : 3 * row + 3, 3 * column : 3 * column + 3] / 65_535
            assert mean[row, column] == pytest.approx(part.mean(), rel=1e-5)
            assert darkest[row, column] == pytest.approx(part.min(), rel=1e-5)
    plain, same = subject._blocks(coded, 1)
    assert plain is same and plain == pytest.approx(coded / 65_535)


@pytest.mark.parametrize(
    ("size", "dust"), [((1, 1), True), ((5, 5), True), ((6, 1), False), ((1, 6), False)]
)
def test_specks_of_five_blocks_are_dust(size, dust):
    busy = np.zeros((60, 60), bool)
    busy[30 : 30 + size[0], 30 : 30 + size[1]] = True
    assert np.array_equal(subject._dust(busy), busy if dust else np.zeros_like(busy))


@pytest.mark.parametrize(("apart", "dust"), [(3, False), (4, True)])
def test_dust_has_three_blocks_of_air_around_it(apart, dust):
    busy = np.zeros((60, 60), bool)
    busy[30, 10] = True
    busy[:, 10 + apart :] = True
    assert bool(subject._dust(busy)[30, 10]) is dust


@pytest.mark.parametrize(("count", "dust"), [(40, True), (41, False)])
def test_forty_specks_are_dust_and_more_are_not(count, dust):
    busy = np.zeros((100, 100), bool)
    for number in range(count):
        busy[5 + 12 * (number // 8), 5 + 12 * (number % 8)] = True
    assert subject._groups(busy) == count
    assert bool(subject._dust(busy).any()) is dust


@pytest.mark.parametrize(
    ("box", "kept"),
    [
        # A hundredth of the subject's longer side stays, a pixel at the least.
        ((200, 100, 600, 300), (196, 96, 604, 304)),
        ((300, 300, 340, 320), (299, 299, 341, 321)),
        ((2, 3, 700, 500), (0, 0, 707, 507)),
        ((0, 0, 800, 600), None),
    ],
)
def test_a_subject_keeps_a_small_edge(box, kept):
    coded = np.full((600, 800), 65_535, np.uint16)
    left, top, right, bottom = box
    # Chequered, so that it is no background where it fills the sheet.
    y, x = np.mgrid[:600, :800]
    inside = (x >= left) & (x < right) & (y >= top) & (y < bottom)
    coded[inside] = np.where((x + y) % 2, 0, 30_000)[inside]
    assert find_subject(coded) == kept


@pytest.mark.parametrize(("level", "found"), [(0.51, True), (0.49, False)])
def test_a_background_is_light(level, found):
    coded = np.full((300, 300), round(level * 65_535), np.uint16)
    coded[100:200, 100:200] = 0
    assert (find_subject(coded) is not None) is found


@pytest.mark.parametrize(("step", "seen"), [(0.024, False), (0.026, True)])
def test_what_differs_by_a_fortieth_of_white_is_no_background(step, seen):
    coded = np.full((300, 300), 60_000, np.uint16)
    coded[100:200, 100:200] = 60_000 - round(step * 65_535)
    assert (find_subject(coded) is not None) is seen
