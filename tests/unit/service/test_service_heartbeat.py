from __future__ import annotations

import json
import os
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from filmhand.peers.host import Lock
from filmhand.service.heartbeat import (
    BEATS_EVERY,
    LOOK_AT_MOST,
    TICK_AT_MOST,
    Heartbeat,
    heartbeat_health,
)


@pytest.fixture
def state(tmp_path: Path):
    lock = Lock(tmp_path)
    yield tmp_path
    lock.release()


def beat(state: Path, *, tick: float = 0, look: float = 0) -> None:
    now = time.monotonic()
    Heartbeat(state, lambda: now - tick).beat([("small", now - look)])


def test_a_fresh_sign_is_health(state: Path) -> None:
    beat(state, tick=TICK_AT_MOST - 5, look=LOOK_AT_MOST - 5)
    told = heartbeat_health(state)
    assert told["healthy"] and not told["wrong"]
    assert told["tick_age_s"] == pytest.approx(TICK_AT_MOST - 5, abs=3)
    assert told["look_age_s"]["small"] == pytest.approx(LOOK_AT_MOST - 5, abs=3)


@pytest.mark.parametrize(
    ("tick", "look", "says"),
    [
        (TICK_AT_MOST + 5, 0, "it hangs"),
        (0, LOOK_AT_MOST + 5, "small: the folder was last looked at"),
        (-30, 0, "it hangs"),  # a monotonic time that is yet to come is another boot's
        (0, -30, "small: "),
    ],
)
def test_old_and_impossible_signs_are_none(
    state: Path, tick: float, look: float, says: str
) -> None:
    beat(state, tick=tick, look=look)
    told = heartbeat_health(state)
    assert not told["healthy"]
    assert says in " ".join(told["wrong"])


def test_a_time_in_the_future_is_no_health(state: Path) -> None:
    beat(state)
    os.utime(state / "heartbeat.json", (time.time() + 3600,) * 2)
    assert "in the future" in heartbeat_health(state)["wrong"][0]


def test_a_sign_of_another_boot_is_none(state: Path) -> None:
    beat(state)
    sign = json.loads((state / "heartbeat.json").read_bytes())
    (state / "heartbeat.json").write_text(json.dumps(sign | {"boot": "another"}))
    assert not heartbeat_health(state)["healthy"]


@pytest.mark.parametrize("garbage", [b"", b"[]", b"{}", b"\xff", b'{"schema": 1, "looks": 3}'])
def test_garbage_is_no_health(state: Path, garbage: bytes) -> None:
    (state / "heartbeat.json").write_bytes(garbage)
    assert not heartbeat_health(state)["healthy"]


def test_without_a_service_there_is_no_health(tmp_path: Path) -> None:
    Heartbeat(tmp_path).beat([])
    assert "not running" in heartbeat_health(tmp_path)["wrong"][0]


def test_signs_are_written_every_few_seconds_only(state: Path) -> None:
    now = [1000.0]
    heartbeat = Heartbeat(state, lambda: now[0])
    ticks = []
    for _ in range(40):
        heartbeat.beat([])
        ticks.append(json.loads((state / "heartbeat.json").read_bytes())["tick"])
        now[0] += 0.5
    assert len(set(ticks)) == 20 / BEATS_EVERY


@pytest.mark.parametrize(
    ("tick", "look", "written", "healthy"),
    [
        (60.0, 120.0, 5.0, True),
        (-1.0, -1.0, 0.0, True),  # read while it was written
        (60.5, 0.0, 0.0, False),
        (0.0, 120.5, 0.0, False),
        (-1.5, 0.0, 0.0, False),
        (0.0, -1.5, 0.0, False),
        (0.0, 0.0, 5.5, False),
    ],
)
def test_how_old_a_sign_may_be(
    state: Path, monkeypatch: pytest.MonkeyPatch, tick: float, look: float, written: float,
    *, healthy: bool,
) -> None:  # fmt: skip
    Heartbeat(state, lambda: 1000.0).beat([("small", 1000.0 + tick - look)])
    os.utime(state / "heartbeat.json", (2000.0 + written,) * 2)
    now = SimpleNamespace(monotonic=lambda: 1000.0 + tick, time=lambda: 2000.0)
    monkeypatch.setattr("filmhand.service.heartbeat.time", now)
    told = heartbeat_health(state)
    assert told["healthy"] is healthy
    assert told["tick_age_s"] == tick
    assert told["look_age_s"] == {"small": look}


def test_a_sign_is_due_after_five_seconds_and_makes_its_folder(tmp_path: Path) -> None:
    now = [100.0]
    heartbeat = Heartbeat(tmp_path / "deep" / "state", lambda: now[0])
    path = tmp_path / "deep" / "state" / "heartbeat.json"
    for seconds, tick in ((0, 100.0), (4.9, 100.0), (0.1, 105.0)):
        now[0] = round(now[0] + seconds, 3)
        heartbeat.beat([])
        assert json.loads(path.read_bytes())["tick"] == tick
