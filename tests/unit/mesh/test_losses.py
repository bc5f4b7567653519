from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.printing.losses import AtRisk, blacken_runs, passes, print_piece
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips
from filmhand.mesh.table import read_mesh
from filmhand.units import Resolution

DPI = Resolution(1200, 1200)


def runs(*rows):
    return SmallRuns(*(np.array(column, np.int64) for column in zip(*rows, strict=True)))


def piece_of(film, now, *, row=0, column=0, block=(8, 8), resolution=DPI):
    impression = PrintedStrips(now, resolution, left=column, width=film.shape[1])
    halo_x, halo_y = impression.halo
    padded = np.pad(film, ((halo_y,) * 2, (halo_x,) * 2))
    return print_piece(impression, padded, row=row, column=column, block=block)


def test_runs_with_ink_are_found():
    passed = np.zeros((4, 6), np.uint16)
    passed[1, 3] = 7
    asked = runs((0, 11, 0, 3), (1, 11, 3, 5), (2, 12, 0, 6))
    assert passes(asked, passed, row=10).tolist() == [False, True, False]


def test_fill_blackens_what_lies_on_the_film_and_tells_it():
    film = np.zeros((3, 4), bool)
    changed = blacken_runs(
        film,
        runs((0, 5, -1, 2), (0, 9, -1, 2), (1, 6, 0, 4), (2, 6, 2, 3)),
        np.array([True, True, False]),
        row=5,
    )
    assert changed.tolist() == film.tolist()
    assert film.tolist() == [[1, 1, 0, 0], [1, 1, 1, 1], [0, 0, 0, 0]]


def test_dots_on_a_crossing_are_lost_and_others_are_not():
    # Threads of 80 um end at every 232.6 um, counted right and down from the sheet's corner.
    now = PrintConditions(mesh=read_mesh("43-80"), gap_um=0)
    pixel = DPI.pixel_um()[0]
    film = np.zeros((160, 160), bool)
    pitch = now.pitch_um / pixel
    crossing = round(5 * pitch), round(4 * pitch)  # the lower right corner of one
    for down, across in ((-3, -3), (4, 5)):
        top, left = crossing[0] + down, crossing[1] + across
        film[top : top + 2, left : left + 2] = True
    film[20:40, 60:80] = True
    found = piece_of(film, now)
    assert found.lost_count == 1
    assert found.lost[crossing[0] - 3 : crossing[0] - 1, crossing[1] - 3 : crossing[1] - 1].all()
    assert found.lost.sum() == 4
    assert not found.lost[20:40, 60:80].any()
    assert found.filled_count == 0


def test_holes_in_an_opening_fill_and_are_printed():
    now = PrintConditions(mesh=read_mesh("43-80"), gap_um=0)
    pitch = now.pitch_um / DPI.pixel_um()[0]
    film = np.ones((160, 160), bool)
    rng = np.random.default_rng(2)
    for row in range(10, 150, 14):
        for column in range(10, 150, 14):
            down, across = rng.integers(0, 3, 2)
            film[row + down : row + down + 3, column + across : column + across + 3] = False
    found = piece_of(film, now)
    assert 2 < found.filled_count < 60
    assert found.filled.sum() == 9 * found.filled_count
    assert pitch > 9
    share = np.repeat(np.repeat(found.share, 2, axis=0), 2, axis=1)
    # A filled shadow dot prints; a block reaches a pixel beyond it at most.
    assert (share[found.filled] > 0.5).all()


def test_what_the_piece_cuts_is_not_told_as_lost():
    now = PrintConditions(mesh=read_mesh("43-80"), gap_um=500, light_deg=45)  # every dot vanishes
    film = np.zeros((64, 64), bool)
    film[30:32, 30:32] = True
    assert piece_of(film, now).lost_count == 1
    impression = PrintedStrips(now, DPI, left=0, width=64)
    halo_x, halo_y = impression.halo
    padded = np.zeros((64 + 2 * halo_y, 64 + 2 * halo_x), bool)
    padded[halo_y - 1 : halo_y + 1, halo_x + 4 : halo_x + 6] = True
    found = print_piece(impression, padded, row=100, column=0, block=(8, 8))
    assert found.lost_count == 0


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_dots_that_reach_beyond_a_side_are_not_told_as_lost(side):
    now = PrintConditions(mesh=read_mesh("43-80"), gap_um=500, light_deg=45)  # every dot vanishes
    impression = PrintedStrips(now, DPI, left=0, width=64)
    halo_x, halo_y = impression.halo
    size = 64 + 2 * halo_y, 64 + 2 * halo_x

    def lost_at(row, column):
        """How many are lost of one dot of 2 x 2, its place counted from the piece's corner."""
        padded = np.zeros(size, bool)
        padded[halo_y + row : halo_y + row + 2, halo_x + column : halo_x + column + 2] = True
        return print_piece(impression, padded, row=96, column=96, block=(8, 8)).lost_count

    # Half out, it may have printed beyond.
    inside, across, outside = {
        "left": ((30, 0), (30, -1), (30, -2)),
        "right": ((30, 62), (30, 63), (30, 64)),
        "top": ((0, 30), (-1, 30), (-2, 30)),
        "bottom": ((62, 30), (63, 30), (64, 30)),
    }[side]
    assert [lost_at(*place) for place in (inside, across, outside)] == [1, 0, 0]


@pytest.mark.parametrize("dpi", [300, 600, 2400])
def test_blocks_may_be_smaller_or_larger_than_a_pixel(dpi):
    now = PrintConditions(mesh=read_mesh("90-48"))
    film = np.zeros((128, 128), bool)
    film[32:96, 32:96] = True
    found = piece_of(film, now, resolution=Resolution(dpi, dpi))
    cells = PrintedStrips(now, Resolution(dpi, dpi), left=0, width=8).cells[0]
    assert found.share.shape == (128 * cells // 8,) * 2
    assert found.share.max() == pytest.approx(1)
    assert found.share.min() == 0


def test_candidates_hold_all_that_can_be_lost_or_filled():
    now = PrintConditions(mesh=read_mesh("43-80"), gap_um=0)
    least = AtRisk.of(now, DPI)
    pixel = DPI.pixel_um()[0]
    assert least.dot * pixel**2 > (80 * 2**0.5) ** 2 * np.pi / 4
    assert least.shadow_dot * pixel**2 > now.mesh.opening_um**2


def test_candidates_by_hand():
    """At 1200 dpi a pixel is 21.17 um, 448 um2.

    A circle of two and a half threads of 80 um is 31416 um2 or 70.1 pixels; an opening of 152.56
    um a square of 23274 um2 or 51.9. Undercut of 20 um widens the circle to 240 um: 101.0 pixels.
    What has fewer pixels than one more than these is looked at. Ink that needs 10 um widens the
    circle to 220 um: 84.8 pixels.
    """
    now = PrintConditions(mesh=read_mesh("43-80"), gap_um=0, passage_um=0)
    assert AtRisk.of(now, DPI) == AtRisk(72, 53)
    thick = PrintConditions(mesh=read_mesh("43-80"), gap_um=0, passage_um=10)
    assert AtRisk.of(thick, DPI) == AtRisk(86, 53)
    undercut = PrintConditions(mesh=read_mesh("43-80"), gap_um=20, light_deg=45, passage_um=0)
    assert AtRisk.of(undercut, DPI) == AtRisk(102, 53)
    assert AtRisk.of(now, Resolution(1200, 600)) == AtRisk(37, 27)


@pytest.mark.parametrize("block", [(8, 4), (8, 2), (2, 4), (4, 1), (16, 8), (8, 16), (16, 2)])
def test_blocks_of_unequal_sides_are_those_of_the_print(block):
    resolution = Resolution(600, 1200)  # 8 x 4 cells to a pixel
    now = PrintConditions(mesh=read_mesh("43-80"))
    film = np.zeros((64, 64), bool)
    film[8:50, 8:50] = np.random.default_rng(1).random((6, 7))[
        np.arange(42)[:, None] // 7, np.arange(42) // 6
    ] < 0.5  # fmt: skip
    found = piece_of(film, now, resolution=resolution, block=block)
    impression = PrintedStrips(now, resolution, left=0, width=64)
    assert impression.cells == (8, 4)
    halo_x, halo_y = impression.halo
    cells, _ = impression.of(np.pad(film, ((halo_y,) * 2, (halo_x,) * 2)), row=0, reduce=(1, 1))
    across, down = block
    wanted = cells.reshape(256 // down, down, 512 // across, across).mean(axis=(1, 3))
    assert found.share == pytest.approx(wanted, abs=1e-6)


def test_ink_passes_where_any_cell_of_a_run_is_open():
    rng = np.random.default_rng(8)
    passed = (rng.random((700, 60)) < 0.1) * rng.integers(1, 300, (700, 60))
    row, start = rng.integers(0, 700, 2000), rng.integers(0, 59, 2000)
    stop = np.minimum(60, start + rng.integers(1, 9, 2000))
    asked = SmallRuns(np.arange(2000), row + 40, start, stop)
    wanted = [passed[y, a:b].any() for y, a, b in zip(row, start, stop, strict=True)]
    assert passes(asked, passed, row=40).tolist() == wanted
