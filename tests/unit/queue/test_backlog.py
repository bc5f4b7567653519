from __future__ import annotations

from pathlib import Path

from filmhand.disk.beneath import Beneath
from filmhand.queue.backlog import Backlog


def test_what_is_put_off_waits_longer_each_time_and_the_others_go_on(tmp_path: Path) -> None:
    root = Beneath(tmp_path)
    now = [0.0]
    backlog = Backlog(lambda: now[0])
    one, two = root / "1", root / "2"
    waits = []
    backlog.fill([one, two])
    assert backlog.pop() == one
    for times in (1, 2, 3):
        backlog.put_off(one, "a.png", "it was ended")
        backlog.fill([one, two])
        assert backlog.pop() == two and not backlog
        tried = "once" if times == 1 else f"{times} times"
        assert f"(tried {tried}, again within a minute)" in dict(backlog.waiting())["a.png"]
        began = now[0]
        while not backlog.due():
            now[0] += 1
        waits.append(now[0] - began)
        backlog.fill([one, two])
        assert backlog.pop() == two  # what was put off comes last ...
        assert backlog.pop(others=True) is None  # ... and after what is new
        now[0] += 300
        assert backlog.pop(others=True) == one  # but not for ever
    backlog.fill([one, two])
    assert waits == [5, 10, 20]
    assert len(backlog) == 2 and backlog.waits
    backlog.settled(one)
    assert not backlog.waits and not backlog.due()
    assert dict(backlog.waiting()) == {"1": "goes on", "2": "goes on"}
