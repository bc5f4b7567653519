"""The steps by which the rules of writing paper are found and taken off, on figures by hand."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.analysis import ruled_lines
from filmhand.art.analysis.ruled_lines import RuledLineEraser, RuledLines, near_ruled_lines


def profile(*runs, size=60):
    out = np.zeros(size, np.float32)
    for first, shares in runs:
        out[first : first + len(shares)] = shares
    return out


@pytest.mark.parametrize(
    ("runs", "rows"),
    [
        ([(5, [1.0])], [5]),
        ([(5, [1.0, 1.0])], [5.5]),
        ([(5, [0.72])], [5]),
        ([(5, [0.719])], []),
        ([(5, [0.75, 1.0])], [5 + 1 / 1.75]),  # by how much of each row is seen
        ([(0, [1.0]), (59, [1.0])], [0, 59]),
        ([(5, [1.0] * 9)], [9]),
        ([(5, [1.0] * 10)], []),  # too thick for a rule
        ([(5, [1.0]), (7, [1.0])], [5, 7]),
        ([(5, [1.0, 0.7, 1.0])], [5, 7]),
    ],
)
def test_rules_are_thin_rows_that_are_seen_on_most_of_the_sheet(runs, rows):
    assert ruled_lines._rows_of_rules(profile(*runs)) == pytest.approx(rows)


@pytest.mark.parametrize(
    ("rows", "even"),
    [
        ([10, 30, 50], True),
        ([10, 30], False),
        ([10, 30, 50, 90], True),  # one between is hidden
        ([10, 18, 26], False),  # 8 pixels are too close to be rules
        ([10, 18.1, 26.2], True),
        # Off by a sixth of the distance at most: 0.16 of 20 is 3.2.
        ([0, 20, 40, 63.1], True),
        ([0, 20, 40, 56.7, 80, 103.3], False),
        # Three of five distances are enough, two are not.
        ([0, 20, 40, 60, 85, 110], True),
        ([0, 20, 45, 70, 76, 96], False),
    ],
)
def test_three_rules_or_more_are_even_where_most_distances_are_alike(rows, even):
    assert ruled_lines._evenly_spaced(np.array(rows, float)) is even


@pytest.mark.parametrize(
    ("rows", "rise", "height", "all_rows"),
    [
        ([30, 50, 70], 0, 100, [10, 30, 50, 70, 90]),
        ([30, 50, 70, 110], 0, 120, [10, 30, 50, 70, 90, 110]),
        ([30, 50, 71, 130], 0, 140, [9, 30, 50, 71, 90.6667, 110.3333, 130]),
        # A sheet that slants shows rules beyond the height of its middle.
        ([30, 50, 70], 12, 100, [-10, 10, 30, 50, 70, 90, 110]),
        ([10, 30, 50], 0, 60, [10, 30, 50]),
    ],
)
def test_hidden_rules_lie_evenly_between_and_beyond_those_that_are_seen(
    rows, rise, height, all_rows
):
    found = ruled_lines._with_hidden(np.array(rows, float), rise, height)
    assert found == pytest.approx(all_rows, abs=1e-3)


def test_a_ridge_is_deeper_than_both_rows_four_off():
    depth = np.zeros((12, 2), np.float32)
    depth[5] = 0.5, 0.5
    depth[1, 1] = 0.2
    ridge = ruled_lines._ridges(depth)
    assert ridge[5] == pytest.approx([0.5, 0.3])
    assert ridge[9 - 4 + 4 :].max() <= 0 and (ridge[:4] == 0).all() and (ridge[-4:] == 0).all()
    depth[9] = 0.4
    assert ruled_lines._ridges(depth)[5] == pytest.approx([0.1, 0.1])


def test_shearing_moves_each_station_by_its_own_rows():
    covered = np.arange(12, dtype=np.float32).reshape(4, 3) + 1
    profile = ruled_lines._Sheared.of(covered, 2).profile(np.array([-1, 0, 2]))
    # Station s of the line of row r lies at row r + offset; beyond the sheet lies nothing.
    assert (profile * 3).tolist() == [0 + 2 + 9, 1 + 5 + 12, 4 + 8 + 0, 7 + 11 + 0]


@pytest.mark.parametrize("slope", [-0.05, -0.0125, 0.0, 0.03])
def test_the_slope_is_that_at_which_rules_are_level(slope):
    stations, width, height = 24, 960, 400
    middles = (np.arange(stations) + 0.5) * width / stations - width / 2
    covered = np.zeros((height, stations), np.float32)
    for row in range(60, 341, 40):
        covered[np.round(row + slope * middles).astype(int), np.arange(stations)] = 1
    assert ruled_lines._slope(ruled_lines._Sheared.of(covered, 29), width) == pytest.approx(
        slope, abs=1.5 / width
    )


def test_places_run_straight_from_station_to_station_and_beyond():
    place = np.array([[0.2, 0.3, 0.7]])
    # Stations of 4 pixels each: their middles lie at 2, 6 and 10.
    along = ruled_lines._along(place, np.array([1.5, 3.5, 5.5, 9.5, 11.5]), 12)
    assert along[0] == pytest.approx([0.2, 0.25, 0.3, 0.7, 0.9])
    assert ruled_lines._along(place, np.array([-0.5]), 12)[0] == pytest.approx([0.15])


def rules(place, *, turned=False, depth=0.3):
    return RuledLines(np.array(place), turned, depth, 100, even=True)


def test_near_rules_are_so_many_pixels_to_either_side():
    # A level rule in the middle of row 5 of ten.
    near = near_ruled_lines((10, 8), [rules([[0.55, 0.55, 0.55]])], grown=2)
    assert near.all(axis=1).tolist() == [False] * 3 + [True] * 5 + [False] * 2
    assert near.any(axis=1).tolist() == near.all(axis=1).tolist()
    down = near_ruled_lines((8, 10), [rules([[0.55, 0.55]], turned=True)], grown=0)
    assert np.flatnonzero(down.all(axis=0)).tolist() == [5] and down.sum() == 8
    assert not near_ruled_lines((10, 8), []).any()
    edge = near_ruled_lines((10, 8), [rules([[0.05, 0.05]])])
    assert edge.all(axis=1).tolist() == [True] * 4 + [False] * 6


def test_what_the_ink_alone_is():
    """As the module's page says: ink (depth - rule) / (ink - rule)."""
    line = ruled_lines._Line(np.zeros(1), np.array([0, 0.2, 0.4, 0.2, 0]), turned=False)
    assert line.around == 2
    depth = np.array([0.46, 0.8, 1.0, 0.23, 0.5, 0.1], np.float32)
    away = np.array([0, 0, 0, 1, 2, 5.0])
    # Rules count for 1.15 of what was measured, for they are never quite even.
    wanted = [0, (0.8 - 0.46) / 0.54, 1.0, 0, 0.5, 0.1]
    assert line.alone(depth, away, 1.0) == pytest.approx(wanted, abs=1e-6)
    # Between two pixels it is between their depths; no rule takes more than 0.85 of the ink.
    assert line.alone(np.float32([0.345]), np.array([-0.5]), 1.0) == pytest.approx(0, abs=1e-6)
    assert line.alone(np.float32([0.5]), np.array([0.0]), 0.5) == pytest.approx([0.5])
    assert line.alone(np.float32([0.425]), np.array([0.0]), 0.5) == pytest.approx(0, abs=1e-6)


def test_the_depth_of_ink_is_the_upper_quartile_of_what_is_deeper_than_rules():
    depth = np.tile(np.array([0.1, 0.2, 0.6, 0.7, 0.8, 0.9, 1.0], np.float32), (3, 1))
    found = ruled_lines._ink_depth(lambda a, b: depth[a:b], 3, deeper_than=0.5)
    assert found == pytest.approx(0.9)
    assert ruled_lines._ink_depth(lambda a, b: depth[a:b], 3, deeper_than=1.0) == 1.0


def test_a_band_is_straightened_between_its_rows():
    band = np.arange(10, dtype=float)[:, None] ** 2 * np.ones(3)
    straight = ruled_lines._straightened(band, np.array([4.0, 4.5, 0.0]), 1)
    # At whole rows their squares, halfway the mean of two; beyond the band its last row.
    assert straight[:, 0].tolist() == [9, 16, 25]
    assert straight[:, 1].tolist() == [12.5, 20.5, 30.5]
    assert straight[:, 2].tolist() == [0, 0, 1]
    last = ruled_lines._straightened(band, np.array([9.0, 9, 9]), 1)
    assert last[:, 0].tolist() == [64, 81, 81]


@pytest.mark.parametrize("turned", [False, True])
def test_bands_lie_around_their_paths_and_on_the_sheet(turned, monkeypatch):
    monkeypatch.setattr(ruled_lines, "_ROWS_AT_ONCE", 7)
    sheet = np.arange(30 * 40, dtype=np.float32).reshape(40, 30)
    shape = (30, 40) if turned else (40, 30)
    stored = sheet.T if turned else sheet
    paths = np.array([np.full(30, 20.0), np.full(30, 1.0), np.linspace(36.2, 38.6, 30)])
    told = []
    read = lambda a, b: stored[a:b]  # noqa: E731
    for path, first, band in ruled_lines._bands(read, shape, paths, turned, around=3):
        told.append((path[0], first, len(band)))
        assert np.array_equal(band, sheet[first : first + len(band)])
    # From 3 rows above to 3 below, where there are any.
    assert told == [(20, 17, 7), (1, 0, 5), (36.2, 33, 7)]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("slope", [0.0, 0.02])
def test_a_rule_is_taken_off_to_its_last_pixel_in_strips_of_any_height(turned, slope):
    height, width = 240, 400
    y, x = np.mgrid[:height, :width]
    middle = 120 + slope * (x - width / 2)
    sheet = (0.3 * np.exp(-((y - middle) ** 2) / 2)).astype(np.float32)
    ink = np.zeros_like(sheet)
    ink[60:180, 150:160] = 0.9  # a stroke across the rule
    depth = np.maximum(sheet, ink)
    stations = (np.arange(24) + 0.5) / 24 * width
    place = (120 + slope * (stations - width / 2) + 0.5)[None] / height
    art = np.ascontiguousarray(depth.T if turned else depth)
    eraser = RuledLineEraser(
        [RuledLines(place, turned, 0.3, 240, even=True)],
        lambda a, b: art[a:b].copy(), art.shape, reach=2,
    )  # fmt: skip
    assert eraser.ink == pytest.approx(0.9, abs=0.01)
    parts = [eraser.clean(art[top : top + 50].copy(), top) for top in range(0, len(art), 50)]
    clean = np.concatenate(parts)
    clean = clean.T if turned else clean
    bare = np.ones_like(ink, bool)
    bare[:, 148:162] = False
    assert clean[bare].max() < 0.03
    assert clean[60:180, 151:159].min() > 0.8
    whole = eraser.clean(art.copy(), 0)
    assert np.array_equal(whole.T if turned else whole, clean)


@pytest.mark.parametrize(
    ("height", "count", "last"), [(1000, 40, 992), (9, 2, 1), (8, 1, 0), (3, 1, 0)]
)
def test_ink_is_looked_for_in_forty_places_from_the_top_to_the_foot(height, count, last):
    asked = []

    def read(first, stop):
        asked.append((first, stop))
        return np.full((stop - first, 5), 0.7, np.float32)

    assert ruled_lines._ink_depth(read, height, deeper_than=0.5) == pytest.approx(0.7)
    assert len(asked) == count
    assert asked[0] == (0, min(8, height)) and asked[-1] == (last, min(last + 8, height))
