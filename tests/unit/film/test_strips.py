"""How a film is parted for its files, how much is under way, and what is looked at first."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from filmhand.film.bits import BitSheet
from filmhand.film.strips import FilePlan, in_order, plan_file, read_strip, swells
from filmhand.units import Resolution

DPI = Resolution(600, 600)


@pytest.mark.parametrize(
    ("width", "rows"),
    [
        (1, 256),
        (65_536, 256),
        (65_537, 255),  # the most rows that hold 2^24 pixels
        (131_072, 128),
        (2_097_152, 8),
        (4_000_000, 8),
    ],
)
def test_strips_have_256_rows_or_16_million_pixels_but_8_rows_at_least(width, rows, tmp_path):
    with BitSheet.create(tmp_path / "bits", width=width, height=3) as sheet:
        plan = plan_file(sheet, dpi=DPI, group4=True)
    assert plan == FilePlan(width, 3, DPI, rows, group4=True)
    assert plan.row_bytes == -(-width // 8)


@pytest.mark.parametrize(
    ("height", "strips"),
    [(1, [(0, 1)]), (4, [(0, 4)]), (5, [(0, 4), (4, 1)]), (8, [(0, 4), (4, 4)])],
)
def test_each_row_lies_in_one_strip_with_the_row_above_it(height, strips, tmp_path):
    plan = FilePlan(8, height, DPI, 4, group4=True)
    assert [(y, plan.rows_at(y)) for y in plan.starts] == strips
    with BitSheet.create(tmp_path / "bits", width=8, height=height) as sheet:
        sheet.write(0, np.arange(1, height + 1, dtype=np.uint8)[:, None])
        for y, rows in strips:
            strip = read_strip(sheet, plan, y)
            assert strip.rows[:, 0].tolist() == list(range(y + 1, y + rows + 1))
            assert (strip.before is None) == (y == 0)
            assert y == 0 or strip.before.tolist() == [[y]]


@pytest.mark.parametrize("threads", [0, 1, 2, 3])
def test_no_more_is_begun_than_one_for_each_thread_and_one(threads):
    begun = itertools.count()
    answers = in_order(lambda item: -item, begun, threads=threads)
    assert next(answers) == 0
    assert next(begun) == (threads + 1 if threads > 1 else 1)
    answers.close()


def test_answers_come_in_the_order_of_their_items():
    assert list(in_order(str, range(7), threads=3)) == list("0123456")
    assert list(in_order(str, (), threads=3)) == []


class Watched:
    """A sheet that tells which of its rows were read."""

    def __init__(self, sheet):
        self.sheet, self.width, self.height, self.seen = sheet, sheet.width, sheet.height, []

    def read(self, y, n):
        self.seen.append((y, n))
        return self.sheet.read(y, n)


@pytest.mark.parametrize(
    ("height", "bands"),
    [
        (20, [(0, 20)]),
        (33, [(0, 32), (32, 1)]),
        (512, [(top, 32) for top in range(0, 512, 32)]),
        # 16 bands of 32 rows, a fifteenth of the way from the first to the last apart.
        (632, [(40 * number, 32) for number in range(16)]),
        (6032, [(400 * number, 32) for number in range(16)]),
        (6046, [(400 * number, 32) for number in range(16)]),
    ],
)
def test_a_low_film_is_looked_at_whole_and_a_high_one_in_bands(height, bands, tmp_path):
    with BitSheet.create(tmp_path / "bits", width=8, height=height) as sheet:
        watched = Watched(sheet)
        assert not swells(watched)
    assert watched.seen == bands


def test_group_4_swells_where_it_takes_over_half_of_what_the_bits_take(tmp_path):
    """By hand from ITU-T T.6: a row of single pixels takes 387 bits, that after it 129.

    The row: 3 + 8 + 3 bits for its first pixel and the gap (a white run of none before it), 3 +
    6 + 3 for each of 31 more, 1 for the end. Below it 4 for each pixel that stops, 1 for the
    end. Blank rows take 1. Twice that among 32 rows is 1060 bits, once 546; half of 32 rows of
    8 bytes is 1024.
    """
    for rows, expected in ((1, False), (2, True)):
        ink = np.zeros((32, 64), np.bool_)
        ink[1 : 1 + 2 * rows : 2, ::2] = True
        with BitSheet.create(tmp_path / "bits", width=64, height=32) as sheet:
            sheet.write(0, np.packbits(ink, axis=1))
            assert swells(sheet) is expected, rows
