from __future__ import annotations

import errno
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from filmhand.film.bits import BitSheet, box_sums, pad_mask


def test_new_sheet_is_blank_and_knows_its_size(tmp_path: Path) -> None:
    with BitSheet.create(tmp_path / "s.bits", width=13, height=5) as sheet:
        assert (sheet.width, sheet.height, sheet.row_bytes) == (13, 5, 2)
        assert not sheet.read(0, 5).any()
        assert sheet.read(0, 5).shape == (5, 2)
    assert (tmp_path / "s.bits").stat().st_size == 10


def test_rows_come_back_where_they_were_written(tmp_path: Path) -> None:
    rows = np.arange(30, dtype=np.uint8).reshape(10, 3)
    with BitSheet.create(tmp_path / "s.bits", width=24, height=10) as sheet:
        sheet.write(4, rows[4:7])
        sheet.write(0, rows[:4])
        assert np.array_equal(sheet.read(2, 5), rows[2:7])
        assert not sheet.read(7, 3).any()


def test_pad_bits_are_cleared_without_touching_the_callers_rows(tmp_path: Path) -> None:
    rows = np.full((2, 2), 0xFF, np.uint8)
    with BitSheet.create(tmp_path / "s.bits", width=11, height=2) as sheet:
        sheet.write(0, rows)
        assert sheet.read(0, 2).tolist() == [[0xFF, 0b11100000]] * 2
    assert (rows == 0xFF).all()


@pytest.mark.parametrize(("width", "mask"), [(8, 0xFF), (16, 0xFF), (1, 0x80), (15, 0xFE)])
def test_pad_mask(width: int, mask: int) -> None:
    assert pad_mask(width) == mask


def test_a_column_view_is_written_as_it_looks(tmp_path: Path) -> None:
    wide = np.arange(40, dtype=np.uint8).reshape(4, 10)
    with BitSheet.create(tmp_path / "s.bits", width=40, height=4) as sheet:
        sheet.write(0, wide[:, ::2])
        assert np.array_equal(sheet.read(0, 4), wide[:, ::2])


@pytest.mark.parametrize(
    "rows",
    [np.zeros((1, 3), np.uint8), np.zeros((1, 2), np.uint16), np.zeros(2, np.uint8)],
    ids=["too wide", "wrong type", "flat"],
)
def test_rows_of_another_form_are_not_taken(tmp_path: Path, rows: np.ndarray) -> None:
    with (
        BitSheet.create(tmp_path / "s.bits", width=16, height=4) as sheet,
        pytest.raises(ValueError, match="rows must be uint8 of shape"),
    ):
        sheet.write(0, rows)


@pytest.mark.parametrize(("y", "n"), [(-1, 1), (3, 2), (4, 1), (0, 5)])
def test_rows_must_lie_on_the_sheet(tmp_path: Path, y: int, n: int) -> None:
    with BitSheet.create(tmp_path / "s.bits", width=8, height=4) as sheet:
        with pytest.raises(ValueError, match="do not lie on a sheet"):
            sheet.read(y, n)
        with pytest.raises(ValueError, match="do not lie on a sheet"):
            sheet.write(y, np.zeros((n, 1), np.uint8))


@pytest.mark.parametrize(("width", "height"), [(0, 1), (1, 0), (-3, 4)])
def test_a_sheet_has_at_least_one_pixel(tmp_path: Path, width: int, height: int) -> None:
    with pytest.raises(ValueError, match="at least 1 x 1"):
        BitSheet.create(tmp_path / "s.bits", width=width, height=height)


def test_threads_may_write_different_rows_at_once(tmp_path: Path) -> None:
    rows = np.random.default_rng(3).integers(0, 256, (400, 50), np.uint8)
    with BitSheet.create(tmp_path / "s.bits", width=400, height=400) as sheet:
        with ThreadPoolExecutor(4) as pool:
            list(pool.map(lambda y: sheet.write(y, rows[y : y + 5]), range(0, 400, 5)))
        assert np.array_equal(sheet.read(0, 400), rows)


def test_a_file_that_was_cut_is_an_error_not_blank_rows(tmp_path: Path) -> None:
    with BitSheet.create(tmp_path / "s.bits", width=8, height=4) as sheet:
        (tmp_path / "s.bits").write_bytes(b"\0\0")
        with pytest.raises(OSError, match="ends before row 4"):
            sheet.read(0, 4)


def test_closing_twice_is_no_error(tmp_path: Path) -> None:
    sheet = BitSheet.create(tmp_path / "s.bits", width=8, height=4)
    sheet.close()
    sheet.close()
    with pytest.raises(OSError, match=r"."):
        sheet.read(0, 1)


@pytest.mark.parametrize(("across", "down"), [(1, 1), (2, 3), (3, 2), (5, 1), (1, 4), (8, 8)])
@pytest.mark.parametrize("most", [1, 255, 65535])
def test_the_sum_of_a_box_is_that_of_its_pixels(across: int, down: int, most: int) -> None:
    rows = np.random.default_rng(3).integers(0, most + 1, (23, 37))
    rows[:8, :8] = most  # the largest sums there are
    sums = box_sums(rows, across=across, down=down, most=most)
    assert sums.dtype == np.uint32
    assert sums.tolist() == [
        [int(rows[y : y + down, x : x + across].sum()) for x in range(0, 38 - across, across)]
        for y in range(0, 24 - down, down)
    ]


def test_a_sheet_that_finds_no_room_leaves_no_file_open(tmp_path: Path, monkeypatch) -> None:
    descriptors = Path("/proc/self/fd")
    if not descriptors.exists():
        pytest.skip("this system has no /proc")

    def full(*_: int) -> None:
        raise OSError(errno.ENOSPC, "no space left")

    monkeypatch.setattr(os, "ftruncate", full)
    before = sorted(path.name for path in descriptors.iterdir())
    with pytest.raises(OSError, match="no space"):
        BitSheet.create(tmp_path / "s.bits", width=8, height=8)
    assert sorted(path.name for path in descriptors.iterdir()) == before
