"""How the pixels of a tile turn, on walls of bricks small enough to be walked through."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen import growth
from filmhand.screen.grain import Grain, _Crowding, _nearest
from filmhand.screen.growth import Growing, ranked
from filmhand.screen.lattice import TileBrick
from filmhand.units import Resolution

# A line of five pixels to a course, the next course shifted by two: each pixel of the 5 touches
# those 1 and 2 places on.
FIVE = TileBrick(5, 1, 2)
WALLS = [TileBrick.of((7, 1), (-1, 6)), TileBrick.of((6, 0), (0, 6)), TileBrick.of((8, 2), (-2, 4))]


def neighbors(brick):
    """The four neighbors of every pixel, by number."""
    row, column = np.divmod(np.arange(brick.length * brick.height), brick.length)
    ways = ((1, 0), (-1, 0), (0, 1), (0, -1))
    return np.stack([brick.index(column + x, row + y) for x, y in ways], 1).tolist()


def reached(brick, start, allowed):
    """How many steps each allowed pixel lies from the start; those that no way leads to are left
    out."""
    beside, steps, edge = neighbors(brick), dict.fromkeys(start, 0), list(start)
    for here in edge:
        for there in beside[here]:
            if there in allowed and there not in steps:
                steps[there] = steps[here] + 1
                edge.append(there)
    return steps


def halves(brick, seed):
    """Ranks by chance of three quarters of the pixels, and after them of the last quarter."""
    count = brick.length * brick.height
    mine, others = np.split(np.arange(count), [count * 3 // 4])
    random = np.random.default_rng(seed)
    return (
        mine,
        others,
        np.concatenate(
            [random.permutation(mine.size), mine.size + random.permutation(others.size)]
        ),
    )


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("brick", WALLS, ids=str)
def test_what_would_be_cut_off_turns_before_its_last_way_out_does(brick, seed):
    mine, others, ranks = halves(brick, seed)
    count = ranks.size
    others = set(others.tolist())

    def bare(turned, time):
        return set(np.flatnonzero(turned >= time).tolist())

    def joined(turned, time):
        """What is bare then and has a way to what is bare of the other half."""
        left = bare(turned, time)
        return reached(brick, [p for p in left if p in others], left)

    # The last way out of each pixel: until the pixel of that rank turns it is joined to others.
    last = {
        p: max((t for t in range(ranks[p] + 1) if p in joined(ranks, t)), default=-1)
        for p in mine.tolist()
    }
    islands = {p for p in last if last[p] < ranks[p]}
    assert islands
    freed = growth._without_islands(brick, ranks, mine, np.array(sorted(others)))
    assert np.array_equal(np.sort(freed), np.arange(count))
    for time in range(count):
        assert bare(freed, time) == joined(freed, time).keys(), time
    # The others keep their order, and what is cut off goes where it was.
    order = np.argsort(freed).tolist()
    kept = [p for p in order if p not in islands]
    assert kept == sorted(kept, key=lambda p: ranks[p])
    for p in islands:
        ways_out = [q for q in order[freed[p] + 1 :] if q not in islands or last[q] != last[p]]
        assert ways_out[0] == np.flatnonzero(ranks == last[p])[0]


@pytest.mark.parametrize("seed", range(4))
def test_of_what_is_cut_off_the_deepest_turns_first(seed):
    brick = WALLS[seed % 3]
    mine, others, ranks = halves(brick, seed)
    freed = growth._without_islands(brick, ranks, mine, others)
    moved = {}
    for time in range(ranks.size):
        left = set(np.flatnonzero(ranks > time).tolist())
        open_ones = reached(brick, [p for p in left if p in set(others.tolist())], left)
        cut = [p for p in mine.tolist() if p in left and p not in open_ones and p not in moved]
        way = int(np.flatnonzero(ranks == time)[0])
        steps = reached(brick, [way], set(cut))
        moved |= {p: (time, -steps[p]) for p in cut}
    assert moved
    places = sorted(moved, key=lambda p: freed[p])
    assert [moved[p] for p in places] == sorted(moved.values())


def test_nothing_moves_where_nothing_is_cut_off():
    ranks = np.array([0, 2, 3, 4, 1])
    assert growth._without_islands(FIVE, ranks, np.array([0, 4]), np.array([1, 2, 3])) is ranks


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("brick", WALLS, ids=str)
def test_a_center_grows_edge_to_edge_along_its_highest_values(brick, seed):
    random = np.random.default_rng(seed)
    count = brick.length * brick.height
    members = np.sort(random.permutation(count)[: count * 2 // 3])
    center = random.integers(0, 3, members.size)
    value = np.round(random.uniform(-1, 1, members.size), 2)
    lowered = growth._in_one_piece(brick, members, center, value)
    for one in range(3):
        high = {
            int(p): float(v)
            for p, v in zip(members[center == one], value[center == one], strict=True)
        }
        first = max(high, key=lambda p: (high[p], -p))
        # The best way to a pixel is that whose lowest place is highest.
        best = {first: high[first]}
        for level in sorted(set(high.values()), reverse=True):
            for p in reached(brick, [first], {q for q in high if high[q] >= level}):
                best.setdefault(p, level)
        for p, low in zip(members[center == one].tolist(), lowered[center == one], strict=True):
            if p in best:
                # A billionth lower for each step, so that the pixel before comes before.
                assert best[p] - count * 1e-9 <= low <= best[p]
            else:
                assert low == high[p] - 8  # below all others, in its own order
        order = sorted(best, key=lambda p: -lowered[members.searchsorted(p)])
        assert order[0] == first
        for stop in range(1, len(order) + 1):
            assert len(reached(brick, [first], set(order[:stop]))) == stop


# Eight pixels in a row that closes: a dot of four around 1, a dot of four around 5.
ROW = TileBrick(8, 1, 0)
TWO = (np.arange(8), np.repeat([0, 1], 4), np.array([2.0, 3.0, 1.0, 0.5] * 2))


def grown(smallest, turn_order=(0.75, 0.25)):
    order, together = growth._growth_order(ROW, Growing(*TWO, np.array(turn_order), smallest))
    return order.tolist(), together.tolist()


def test_centers_take_turns_pixel_by_pixel_in_their_order():
    assert grown(1) == ([5, 1, 4, 0, 6, 2, 7, 3], [0, 1, 2, 3, 4, 5, 6, 7])
    assert grown(1, (0.25, 0.75))[0] == [1, 5, 0, 4, 2, 6, 3, 7]


def test_up_to_its_smallest_size_a_center_turns_at_once():
    assert grown(2) == ([5, 4, 1, 0, 6, 2, 7, 3], [0, 0, 1, 1, 2, 3, 4, 5])
    assert grown(3) == ([5, 4, 6, 1, 0, 2, 7, 3], [0, 0, 0, 1, 1, 1, 2, 3])
    assert grown(4) == ([5, 4, 6, 7, 1, 0, 2, 3], [0, 0, 0, 0, 1, 1, 1, 1])
    assert grown(9)[1] == [0, 0, 0, 0, 1, 1, 1, 1]


def test_pixels_that_turn_together_share_the_middle_of_their_ranks():
    """Dots 0 to 3 and shadow dots 4 to 7 of a row of eight, which have no way to be islands."""
    turn = np.array([0.5])
    one = np.zeros(4, np.int64)

    def ranks(dot, shadow_dot):
        dots = Growing(np.arange(4), one, np.array([4.0, 3.0, 2.0, 1.0]), turn, dot)
        shadows = Growing(np.arange(4, 8), one, np.array([1.0, 2.0, 3.0, 4.0]), turn, shadow_dot)
        return ranked(ROW, dots, shadows).tolist()

    assert ranks(1, 1) == [0, 1, 2, 3, 4, 5, 6, 7]
    assert ranks(3, 1) == [1, 1, 1, 3, 4, 5, 6, 7]
    assert ranks(1, 3) == [0, 1, 2, 3, 4, 6, 6, 6]
    assert ranks(2, 4) == [0, 0, 2, 3, 6, 6, 6, 6]  # halves to the even one


def test_a_dot_is_put_into_the_largest_void_of_a_torus():
    # Four on a ring: the first is picked by the seed, then the one opposite.
    ring = np.array([[0.0, 0.0], [0.25, 0.0], [0.5, 0.0], [0.75, 0.0]])
    for seed in range(8):
        place = growth.dot_order(ring, seed=seed)
        assert sorted(place) == [0.125, 0.375, 0.625, 0.875]
        order = np.argsort(place)
        assert (order[1] - order[0]) % 4 == 2
    firsts = {int(growth.dot_order(ring, seed=seed).argmin()) for seed in range(8)}
    assert len(firsts) > 1
    # Across the edge as well as within, and both ways alike.
    for points in ([[0.05, 0], [0.95, 0], [0.4, 0]], [[0, 0.05], [0, 0.95], [0, 0.4]]):
        for seed in range(8):
            second = growth.dot_order(np.array(points), seed=seed).argsort()[1]
            first = growth.dot_order(np.array(points), seed=seed).argsort()[0]
            assert second == 2 or first == 2


@pytest.mark.parametrize("dpi", [(300, 300), (300, 100)])
def test_the_nearest_center_is_found_across_the_edges_of_the_torus(dpi):
    grain = Grain(120, 120 * dpi[1] // dpi[0], 200, Resolution(*dpi))
    random = np.random.default_rng(2)
    # One center somewhere in each of 15 x 15 fields: no void is wider than two of them.
    fields = np.stack(np.meshgrid(np.arange(15), np.arange(15)), -1).reshape(-1, 2)
    centers = (fields + random.random(fields.shape)) / 15
    places = random.random((2000, 2))
    nearest, distance = _nearest(grain, places, centers)
    apart = np.abs(places[:, None] - centers[None])
    inches = np.minimum(apart, 1 - apart) * [120 / dpi[0], grain.height / dpi[1]]
    by_all = np.hypot(inches[..., 0], inches[..., 1])
    assert distance == pytest.approx(by_all.min(axis=1))
    assert by_all[np.arange(len(places)), nearest] == pytest.approx(by_all.min(axis=1))


def crowd_by_hand(shape, sigma, taken):
    """How crowded each sample is: a Gaussian of each center, by its distance on the torus."""
    y, x = np.mgrid[: shape[0], : shape[1]]
    crowd = np.zeros(shape)
    for row, column in taken:
        down, across = np.abs(y - row), np.abs(x - column)
        down, across = np.minimum(down, shape[0] - down), np.minimum(across, shape[1] - across)
        crowd += np.exp(-(down**2 + across**2) / (2 * sigma**2))
    return crowd


def test_centers_crowd_one_another_by_a_gaussian_on_the_torus():
    shape, sigma = (7, 11), 1.5
    field = _Crowding(shape, sigma)
    places = [(0, 0), (3, 9), (6, 10), (5, 2)]
    for row, column in places:
        field.put(row * 11 + column)
    crowd = crowd_by_hand(shape, sigma, places)
    assert field._crowd == pytest.approx(crowd)
    # The shares of the sides at which they lie, in the order of the samples.
    shares = [(0.5, 0.5), (9.5, 3.5), (2.5, 5.5), (10.5, 6.5)]
    assert field.centers() == pytest.approx(np.array(shares) / (11, 7))
    free = crowd + 99 * field.taken.reshape(shape)
    assert field.largest_void() == int(free.argmin())
    ranked_by_crowd = sorted(places, key=lambda place: -crowd[place])
    assert field.tightest_cluster() == ranked_by_crowd[0][0] * 11 + ranked_by_crowd[0][1]
    # What is fixed stays where it is.
    field.fixed[field.tightest_cluster()] = True
    assert field.tightest_cluster() == ranked_by_crowd[1][0] * 11 + ranked_by_crowd[1][1]
    field.take(3 * 11 + 9)
    assert field._crowd == pytest.approx(crowd_by_hand(shape, sigma, [places[0], *places[2:]]))
    assert len(field.centers()) == 3


def test_spreading_moves_centers_from_clusters_to_voids_until_none_would_move():
    field = _Crowding((12, 12), 2.0)
    for place in range(9):  # side by side
        field.put(place)
    field.spread(200)
    apart = field.centers()[:, None] - field.centers()
    apart = np.abs((apart + 0.5) % 1 - 0.5)
    distance = np.hypot(*(12 * apart).transpose(2, 0, 1)) + 99 * np.eye(9)
    assert distance.min() >= 3
    before = field.taken.copy()
    field.spread(1)
    assert np.array_equal(field.taken, before)
    few = _Crowding((12, 12), 2.0)
    for place in range(9):
        few.put(place)
    few.spread(2)  # no more moves than these
    assert few.taken[:9].sum() == 7
