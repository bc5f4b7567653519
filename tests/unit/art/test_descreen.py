from __future__ import annotations

import numpy as np
import pytest
from degraded import as_codes, jpeg, line_samples, tone_samples

from filmhand.art.repair import descreen
from filmhand.art.repair.descreen import ScreenedBefore, find_earlier_screen, without_screen


def dotted(size, period, angle, *, contrast=0.5, tone=None):
    """A picture under a sine screen, which has the peaks of a real one and no others."""
    y, x = np.mgrid[0:size, 0:size]
    turn = np.radians(angle)
    u = 2 * np.pi * (x * np.cos(turn) - y * np.sin(turn)) / period
    v = 2 * np.pi * (x * np.sin(turn) + y * np.cos(turn)) / period
    tone = 0.5 if tone is None else tone
    noise = 0.01 * np.random.default_rng(1).standard_normal((size, size))
    return as_codes(tone + contrast / 4 * (np.cos(u) + np.cos(v)) + noise)


@pytest.mark.parametrize(("period", "angle"), [(2.3, 45), (3.5, 15), (3.5, 60), (6, 0), (12, 30)])
def test_period_and_angle_are_measured(period, angle):
    found = find_earlier_screen(dotted(600, period, angle))
    assert found.period == pytest.approx(period, rel=0.01)
    # The lattice is the same a quarter further.
    assert (found.angle - angle + 45) % 90 == pytest.approx(45, abs=1)
    assert found.strength == pytest.approx(0.25, rel=0.25)
    assert found.share > 0.9


def test_weak_coarse_and_one_way_patterns_are_no_screens():
    assert find_earlier_screen(dotted(600, 3.5, 45, contrast=0.01)) is None
    assert find_earlier_screen(dotted(600, 30, 45)) is None
    y, x = np.mgrid[0:600, 0:600]
    assert find_earlier_screen(as_codes(0.5 + 0.2 * np.cos(2 * np.pi * (x + y) / 5))) is None


def test_no_sample_of_lines_or_tones_is_taken_for_a_screen():
    for samples in (line_samples(), tone_samples()):
        for name, coded in samples.items():
            assert find_earlier_screen(coded) is None, name


@pytest.mark.parametrize("shape", [(1, 1), (3, 400), (127, 900), (130, 130), (300, 200)])
def test_odd_shapes(shape):
    noise = np.random.default_rng(3).integers(0, 65536, shape).astype(np.uint16)
    assert find_earlier_screen(noise) is None
    assert without_screen(noise, ScreenedBefore(3, 45, 0.2, 1)).shape == shape


def test_dots_go_and_what_is_under_them_stays():
    y, x = np.mgrid[0:700, 0:700] / 700
    tone = 0.3 + 0.4 * (x > 0.5) + 0.1 * y
    art = dotted(700, 3.5, 45, tone=tone)
    before = art.copy()
    after = without_screen(art, find_earlier_screen(art))
    off = np.abs(after / 65535 - tone)
    assert off[8:-8, 8:335].max() < 0.03 and off[8:-8, 365:-8].max() < 0.03
    assert np.sqrt(np.mean(off**2)) < 0.03
    assert np.array_equal(art, before)
    # The edge rises within about a dot.
    row = after[300] / 65535
    assert np.count_nonzero((row > 0.4) & (row < 0.68)) <= 4


def test_tiles_join_without_a_seam():
    art = dotted(900, 3.1, 20)
    after = without_screen(art, find_earlier_screen(art))
    assert np.abs(np.diff(after[20:-20, 20:-20].astype(int), axis=1)).max() < 0.02 * 65535
    flat = np.full((500, 500), 30000, np.uint16)
    assert np.abs(without_screen(flat, find_earlier_screen(art)).astype(int) - 30000).max() <= 1


@pytest.mark.parametrize("side", [5, 8])
def test_a_chequered_pattern_is_left_as_it_was_drawn(side):
    y, x = np.mgrid[:700, :900]
    flag = as_codes(np.where((x // side + y // side) % 2, 0.1, 0.9))
    assert find_earlier_screen(flag) is None


@pytest.mark.parametrize("seed", range(4))
def test_square_codes_as_jpeg_are_no_screens(seed):
    squares = np.pad(np.random.default_rng(seed).random((33, 33)) < 0.5, 4)
    place = np.arange(800) * 41 // 800
    assert find_earlier_screen(jpeg(as_codes(1.0 - squares[place][:, place]), 30)) is None


@pytest.mark.parametrize(("first", "size"), [(-64, 700), (-64, 5), (640, 700), (-64, 1), (-3, 2)])
def test_beyond_its_edges_art_goes_on_mirrored(first, size):
    places = descreen._mirrored(first, size)
    assert len(places) == 512
    for number, found in enumerate(places.tolist()):
        place = first + number
        while not 0 <= place < size and size > 1:
            place = -place if place < 0 else 2 * (size - 1) - place
        assert found == (place if size > 1 else 0)


def share_kept(screen, x, y):
    """What the filter keeps of a wave of so many cycles a pixel, to the right and down."""
    size = 512
    kept = descreen._filter(screen)
    assert kept.shape == (size, size // 2 + 1)
    return kept[round(y * size) % size, round(x * size)]


def test_the_screen_goes_with_its_corners_and_the_picture_stays():
    # Periods of 4 pixels across and down: corners at 0.25, diagonals and doubles beyond.
    screen = ScreenedBefore(4.0, 0.0, 0.3, 1.0)
    blurred = np.exp(-2 * (np.pi * 0.28 * 4 * 0.0625) ** 2)
    assert share_kept(screen, 0, 0) == pytest.approx(1, abs=1e-6)
    assert share_kept(screen, 0.0625, 0) == pytest.approx(blurred, rel=0.01)
    for x, y in ((0.25, 0), (0, 0.25), (0, -0.25), (0.25, 0.25), (0.25, -0.25), (0.5, 0)):
        assert share_kept(screen, x, y) < 1e-6, (x, y)
    # The whole ring goes, for other inks have the same ruling at other angles.
    assert share_kept(screen, 0.176777, 0.176777) < 1e-3
    # By the blur alone, between the ring and the corners.
    off = 0.31
    alone = np.exp(-2 * (np.pi * 0.28 * 4 * off) ** 2)
    ring = 1 - np.exp(-(((off - 0.25) / (0.12 * 0.25)) ** 2) / 2)
    assert share_kept(screen, off, 0) == pytest.approx(alone * ring, rel=0.1)


def test_the_corners_lie_as_the_screen_is_turned():
    # Rows at arctan(3/4), counter-clockwise as seen: cycles of (4, -3) and (3, 4) fifths.
    screen = ScreenedBefore(5.0, np.degrees(np.arctan2(3, 4)), 0.3, 1.0)
    # Their sum and difference, and no mirror of them.
    assert share_kept(screen, 0.28, 0.04) < 1e-4
    assert share_kept(screen, 0.04, -0.28) < 1e-4
    clear = share_kept(screen, 0.28, -0.04), share_kept(screen, 0.04, 0.28)
    assert min(clear) > 10 * max(share_kept(screen, 0.28, 0.04), share_kept(screen, 0.04, -0.28))


@pytest.mark.parametrize(("x", "y"), [(20.3, 31.6), (5.5, 250.2), (100.0, 3.25)])
def test_a_peak_between_the_bins_is_found_to_a_tenth(x, y):
    rows, columns = np.mgrid[:256, :129]
    amplitude = np.exp(-((columns - x) ** 2) - (rows - y) ** 2)
    row, column = np.unravel_index(amplitude.argmax(), amplitude.shape)
    found_y, found_x = descreen._refined(amplitude, int(row), int(column))
    assert found_x == pytest.approx(x, abs=0.01)
    assert found_y == pytest.approx(y if y <= 128 else y - 256, abs=0.01)


def test_frequencies_lie_in_rings_of_a_sixty_fourth():
    rings = descreen._rings(64)
    ring, edges = rings.ring, rings.edges
    down = np.minimum(np.arange(64), 64 - np.arange(64))[:, None] / 64
    turns = np.hypot(down, np.arange(33) / 64)
    assert np.array_equal(rings.looked_at, (turns >= 3 / 64) & (turns <= 0.66))
    assert ring[0, 0] == 0 and ring[0, 5] == 5 and ring[3, 4] == 5 and ring[32, 32] == 45
    inside = ring.ravel()[rings.order]
    for number in range(48):
        assert (inside[edges[number] : edges[number + 1]] == number).all()
    assert edges[-1] == ring.size
    power = np.random.default_rng(2).random((64, 33)).astype(np.float32)
    background = rings.background(power, np.array([0, 3, 3, 0]), np.array([5, 4, 30, 0]))
    wanted = [np.median(power[ring == number]) for number in (5, 5, ring[3, 30])]
    assert np.array_equal(background, [*wanted, power[0, 0]])


def test_a_peak_is_as_high_as_all_beside_it_around_the_edges_too():
    power = np.random.default_rng(4).random((6, 4)).astype(np.float32)
    rows, columns = np.indices(power.shape).reshape(2, -1)
    wrapped = np.pad(np.pad(power, ((1, 1), (0, 0)), mode="wrap"), ((0, 0), (1, 1)), mode="reflect")
    beside = descreen._beside(power, rows, columns)
    for row, column, highest in zip(rows, columns, beside, strict=True):
        around = wrapped[row : row + 3, column : column + 3].copy()
        around[1, 1] = 0
        assert highest == around.max()


@pytest.mark.parametrize(
    ("shape", "count", "corners"),
    [
        ((256, 256), 3, [(0, 0)]),
        ((600, 300), 3, [(0, 0), (0, 44), (172, 0), (172, 44), (344, 0), (344, 44)]),
        ((512, 100), 3, [(0, 0), (206, 0), (412, 0)]),
        ((128, 200), 6, [(0, 0), (0, 72)]),
    ],
)
def test_windows_are_spread_evenly(shape, count, corners):
    coded = np.arange(shape[0] * shape[1], dtype=np.uint32).reshape(shape)
    windows = list(descreen._windows(coded, count))
    size = min(256, *shape)
    assert [window.shape for window in windows] == [(size, size)] * len(corners)
    for window, (top, left) in zip(windows, corners, strict=True):
        assert window[0, 0] * 65535 == pytest.approx(coded[top, left], rel=1e-5, abs=0.1)


@pytest.mark.parametrize(("side", "found"), [(127, False), (128, True)])
@pytest.mark.parametrize("turned", [False, True])
def test_art_narrower_than_half_a_window_is_not_looked_at(side, found, turned):
    strip = dotted(900, 3.5, 45)[:side]
    art = np.ascontiguousarray(strip.T if turned else strip)
    assert (find_earlier_screen(art) is not None) is found


@pytest.mark.parametrize("seed", range(40))
def test_windows_are_left_out_only_where_they_cannot_tell(seed, monkeypatch):
    """Of windows that show a screen (a pair), none (None) or no picture (False)."""
    rng = np.random.default_rng(seed)
    odds = rng.dirichlet((1, 1, 1))
    shown = [((1, 1), None, False)[kind] for kind in rng.choice(3, 36, p=odds)]
    monkeypatch.setattr(descreen, "_screen_in", shown.__getitem__)
    found = descreen._unless_too_few(list(range(36)))
    pairs, lively = (sum(map(kind, shown)) for kind in (bool, lambda one: one is not False))
    if lively and pairs / lively >= 0.4:
        assert found == shown
    elif lively:
        assert found == []


def test_nothing_is_transformed_once_it_cannot_tell(monkeypatch):
    looked = []

    def screens(windows):
        for window in windows:
            looked.append(window)
            yield None

    monkeypatch.setattr(descreen, "_screens", screens)
    assert descreen._unless_too_few(list(range(36))) == []
    # Of 14 more that would all show one, 14 of 36 are too few.
    assert len(looked) == 22
