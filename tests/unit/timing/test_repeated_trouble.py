"""Trouble that comes again and again without lasting, such as the ledger's."""

from __future__ import annotations

from itertools import pairwise

from filmhand.timing.log_rate_limit import LogRateLimit

DAY = 86_400.0


def said_over(seconds: int, every: int) -> list[tuple[float, int]]:
    """When it was said that it came, and how many times it had."""
    now, said = [0.0], []
    limit = LogRateLimit(lambda: now[0], longest=DAY, forgets=False)
    while now[0] < seconds:
        times = limit.happens("database is locked")
        if times:
            said.append((now[0], times))
        now[0] += every
    return said


def test_what_comes_again_is_said_at_gaps_that_double() -> None:
    said = said_over(86_400, every=1)
    assert said[0] == (0, 1)
    assert len(said) < 15
    assert said[1] == (60, 60)
    gaps = [later[0] - earlier[0] for earlier, later in pairwise(said)]
    assert all(b == 2 * a for a, b in pairwise(gaps))


def test_what_lasts_for_weeks_is_still_said_once_a_day() -> None:
    said = said_over(30 * 86_400, every=60)
    gaps = [later[0] - earlier[0] for earlier, later in pairwise(said)]
    assert set(gaps[-20:]) == {DAY}
    assert max(gaps) == DAY
    assert sum(times for _, times in said) == said[-1][0] / 60 + 1  # none goes uncounted


def test_what_comes_seldom_is_not_new_each_time() -> None:
    said = said_over(30 * 86_400, every=300)
    gaps = [later[0] - earlier[0] for earlier, later in pairwise(said)]
    assert max(gaps) == DAY
    assert sum(times for _, times in said) == said[-1][0] / 300 + 1


def test_another_reason_is_said_at_once() -> None:
    limit = LogRateLimit(lambda: 0.0, longest=DAY, forgets=False)
    assert [limit.happens(why) for why in ("one", "two", "one")] == [1, 1, 0]
    for number in range(1000):
        limit.happens(str(number))
    assert len(limit._past) <= 100
