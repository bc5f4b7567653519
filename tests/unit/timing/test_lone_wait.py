from __future__ import annotations

from filmhand.timing.lone_wait import LoneWait


def test_what_people_read_changes_seldom_while_the_pauses_grow() -> None:
    now = [0.0]
    wait = LoneWait(lambda: now[0])
    told = []
    for _ in range(7):
        wait.again("it may not be read")
        told.append(wait.told())
        now[0] += wait.pause.left()
    assert told[0] == "it may not be read (tried once, again within a minute)"
    assert told[3] == "it may not be read (tried 4 times, again within a minute)"
    assert told[6] == "it may not be read (tried 7 times, again within 5 minutes)"


def test_after_a_day_it_is_over() -> None:
    now = [0.0]
    wait = LoneWait(lambda: now[0])
    now[0] = 86399.0
    assert not wait.over()
    now[0] = 86400.0
    assert wait.over()
