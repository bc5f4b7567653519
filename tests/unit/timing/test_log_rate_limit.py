"""Which kinds of trouble are remembered where there are very many."""

from __future__ import annotations

import pytest

from filmhand.timing.log_rate_limit import FIRST_GAP, LogRateLimit


def test_a_kind_that_came_lately_is_remembered_longest() -> None:
    now = [0.0]
    limit = LogRateLimit(lambda: now[0])
    for kind in range(100):
        assert limit.comes(kind) == 1
    assert limit.goes()
    now[0] = 10 * FIRST_GAP
    assert limit.comes(0) == 1  # new again, though the oldest
    assert limit.comes("another") == 1  # one kind must be forgotten for it, and that is not 0
    assert limit.goes()
    now[0] += 1
    assert limit.comes(0) == 0
    assert limit.comes(99) == 1


@pytest.mark.parametrize(("rest", "times"), [(479, 2), (480, 1)])
def test_trouble_that_rests_for_two_gaps_is_new(rest: float, times: int) -> None:
    now = [0.0]
    limit = LogRateLimit(lambda: now[0])
    for when, said in ((0, 1), (FIRST_GAP, 1), (FIRST_GAP + 1, 0)):  # the gap is now 240 s
        now[0] = when
        assert limit.comes("gone") == said
        assert limit.goes() == bool(said)
    now[0] += rest
    assert limit.comes("gone") == times
