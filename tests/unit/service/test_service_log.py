from __future__ import annotations

from itertools import pairwise

from filmhand.service.log import SparingLog


def test_what_comes_again_is_said_at_gaps_that_double() -> None:
    now, said = [0.0], []
    sparing = SparingLog(
        lambda event, **facts: said.append((now[0], facts["times"])), lambda: now[0]
    )
    for _ in range(86_400):  # once a second for a day
        sparing.say("ledger", why="database is locked")
        now[0] += 1
    assert said[0] == (0, None)
    assert len(said) < 15
    assert said[1] == (60, 60)
    gaps = [later[0] - earlier[0] for earlier, later in pairwise(said)]
    assert all(b == 2 * a for a, b in pairwise(gaps))


def test_what_lasts_for_weeks_is_still_said_once_a_day() -> None:
    now, said = [0.0], []
    sparing = SparingLog(
        lambda event, **facts: said.append((now[0], facts["times"] or 1)), lambda: now[0]
    )
    for _ in range(30 * 1440):  # once a minute for a month
        sparing.say("ledger", why="database is locked")
        now[0] += 60
    gaps = [later[0] - earlier[0] for earlier, later in pairwise(said)]
    assert set(gaps[-20:]) == {86_400}
    assert max(gaps) == 86_400
    assert sum(times for _, times in said) == said[-1][0] / 60 + 1  # none goes uncounted


def test_another_reason_is_said_at_once() -> None:
    said: list[str] = []
    sparing = SparingLog(lambda event, **facts: said.append(facts["why"]), lambda: 0.0)
    for why in ("one", "two", "one"):
        sparing.say("ledger", why=why)
    assert said == ["one", "two"]
    for number in range(1000):
        sparing.say("ledger", why=str(number))
    assert len(sparing._next) <= 100
