"""How long is waited after failures that follow each other."""

from __future__ import annotations

import pytest

from filmhand.timing.backoff import LONGEST_PAUSE, Backoff


def length(pause: Backoff, now: list[float]) -> float:
    """How long `pause` holds, to a tenth of a second; the clock stands where it ends."""
    began = now[0]
    while pause.holds():
        now[0] = round(now[0] + 0.1, 1)
    return now[0] - began


def test_pauses_double_up_to_the_longest_and_begin_short_after_success() -> None:
    now = [100.0]
    pause = Backoff(lambda: now[0])
    assert not pause.holds()
    lengths = []
    for _ in range(8):
        pause.begin("gone")
        lengths.append(length(pause, now))
    expected = [5, 10, 20, 40, 80, 160, LONGEST_PAUSE, LONGEST_PAUSE]
    assert lengths == pytest.approx(expected, abs=0.05)
    pause.end()
    assert not pause.holds()
    pause.begin("gone")
    assert length(pause, now) == pytest.approx(5, abs=0.05)


def test_a_failure_during_a_pause_changes_its_reason_alone() -> None:
    now = [0.0]
    pause = Backoff(lambda: now[0])
    assert (pause.why, pause.looking) == ("", False)
    pause.begin("full", looking=True)
    assert (pause.why, pause.looking) == ("full", True)
    now[0] = 3.0
    pause.begin("gone")
    assert (pause.why, pause.looking) == ("gone", False)
    now[0] = 5.0
    assert not pause.holds()
    pause.begin("gone")  # as the first pause is over, not three seconds later
    now[0] = 14.9
    assert pause.holds()
    pause.begin("full", looking=True)
    pause.end()
    assert (pause.why, pause.looking) == ("", False)
    assert not pause.holds()
