"""Mending stray bits: what may change, and what must not."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.components import count_components
from filmhand.mesh.mend import Crumbs, Mending, mend

SMALLEST = 12


def mended(
    bits: np.ndarray, *, allowance: int = 10**6, barred: np.ndarray | None = None
) -> tuple[np.ndarray, Mending]:
    """The bits after one round of mending, and what was done."""
    bits = bits.copy()
    size = (bits.shape[1], bits.shape[0])
    dots, holes = count_components(
        lambda a, b: bits[a:b], size, small_dot=SMALLEST, small_hole=SMALLEST
    )

    def write(top: int, rows: np.ndarray) -> None:
        bits[top : top + len(rows)] = rows

    done = mend(
        lambda a, b: bits[a:b],
        write,
        size,
        dots=Crumbs.of(dots.small),
        holes=Crumbs.of(holes.small),
        smallest_dot=SMALLEST,
        smallest_hole=SMALLEST,
        allowance=allowance,
        barred=None if barred is None else lambda a, b: barred[a:b],
    )
    return bits, done


def too_small(bits: np.ndarray) -> int:
    dots, holes = count_components(lambda a, b: bits[a:b], (bits.shape[1], bits.shape[0]))
    return int((dots.areas < SMALLEST).sum() + (holes.areas < SMALLEST).sum())


def spotted(seed: int = 3) -> np.ndarray:
    """Bare film and a black block, with crumbs of 1 to 11 pixels in each."""
    rng = np.random.default_rng(seed)
    bits = np.zeros((700, 240), bool)
    bits[:, 120:] = True
    for row in range(15, 690, 20):
        for column in (*range(15, 100, 20), *range(140, 230, 20)):
            wide, high = rng.integers(1, 4, 2)
            bits[row : row + high, column : column + wide] ^= True
    return bits


def test_small_crumbs_go_and_large_ones_grow() -> None:
    bits = np.zeros((40, 60), bool)
    bits[10:12, 10:12] = True  # 4 pixels: taken away
    bits[10:13, 30:33] = True  # 9 pixels: grown by 3
    after, done = mended(bits)
    assert (done.removed, done.grown, done.filled) == (1, 1, 0)
    assert not after[:, :20].any()
    assert after[:, 20:].sum() == SMALLEST
    assert done.pixels == 4 + 3
    assert done.rows <= set(range(8, 16))


def test_everything_too_small_is_put_right_and_tone_stays() -> None:
    bits = spotted()
    assert too_small(bits) > 200
    after, done = mended(bits)
    assert too_small(after) == 0
    assert done.count == too_small(bits)
    assert done.pixels == (after != bits).sum()
    assert abs(int(after.sum()) - int(bits.sum())) < 0.35 * done.pixels
    changed = set(np.flatnonzero((after != bits).any(axis=1)).tolist())
    assert done.rows == changed


@pytest.mark.parametrize("allowance", [0, 1, 50, 333])
def test_no_more_changes_than_allowed_least_first(allowance: int) -> None:
    bits = spotted()
    after, done = mended(bits, allowance=allowance)
    assert done.pixels <= allowance
    assert (after != bits).sum() == done.pixels
    if done.count > 0:
        assert too_small(after) == too_small(bits) - done.count


def test_nothing_is_inked_where_it_is_barred() -> None:
    bits = spotted()
    barred = np.zeros_like(bits)
    barred[:, ::3] = True
    after, done = mended(bits, barred=barred)
    assert done.count > 0
    assert not (after & ~bits & barred).any()


def test_whole_dots_are_left_alone() -> None:
    bits = np.zeros((60, 60), bool)
    bits[10:14, 10:14] = True
    bits[30:36, 30:33] = True
    after, done = mended(bits)
    assert done.count == 0
    assert np.array_equal(after, bits)
