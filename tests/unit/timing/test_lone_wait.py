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


def test_the_time_that_is_left_is_told_in_whole_minutes() -> None:
    now = [0.0]
    wait = LoneWait(lambda: now[0])
    assert (wait.times, wait.stuck, wait.mark) == (0, True, None)
    for _ in range(5):  # the fifth pause is 80 s
        now[0] += wait.pause.left()
        wait.again("it may not be read")
    for passed, told in ((19.0, "2 minutes"), (20.0, "a minute"), (79.0, "a minute")):
        begun = now[0]
        now[0] += passed
        assert wait.told().endswith(f"(tried 5 times, again within {told})")
        now[0] = begun
    assert not LoneWait(lambda: 0.0, stuck=False).stuck
