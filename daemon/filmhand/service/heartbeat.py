"""The sign of life that `filmhand health` reads: the main loop's and that of each profile's looks.

Ages are told on the monotonic clock of this boot, which does not jump. The file's own time must
not lie in the future, so that a file that somebody copied or a clock that ran ahead is not taken
for life.
"""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from filmhand.disk import atomic
from filmhand.peers.host import is_locked
from filmhand.service.service_words import ServiceWord

BEATS_EVERY = 5.0  # seconds between two signs
TICK_AT_MOST = 60.0  # seconds since the last sign
LOOK_AT_MOST = 120.0  # seconds since a profile was looked at; shares are looked at every 10 s
_FUTURE = 5.0  # seconds; some file systems round
_SCHEMA = "filmhand-heartbeat/1"


class Heartbeat:
    """Writes `heartbeat.json` in the state folder."""

    def __init__(self, state: Path, clock: Callable[[], float] = time.monotonic) -> None:
        self._path = state / "heartbeat.json"
        self._clock = clock
        self._at = float("-inf")

    def beat(self, looks: Iterable[tuple[str, float]]) -> None:
        """Write a sign if one is due; `looks` gives when each profile was looked at last."""
        now = self._clock()
        if now - self._at < BEATS_EVERY:
            return
        self._at = now
        sign = {"schema": _SCHEMA, "boot": boot(), "tick": now, "looks": dict(looks)}
        with contextlib.suppress(OSError):  # a full disk is told elsewhere
            self._path.parent.mkdir(parents=True, exist_ok=True)
            atomic.write_atomic(self._path, json.dumps(sign).encode() + b"\n", durable=False)


def boot() -> str:
    """Identifies this boot of this computer, to which monotonic times belong."""
    with contextlib.suppress(OSError):
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    return ""


def heartbeat_health(state: Path) -> dict[str, Any]:
    """Whether the service of this state folder is alive, with one sentence for each ailment."""
    if not is_locked(state):
        return _told([ServiceWord.NO_SERVICE.say()])
    path = state / "heartbeat.json"
    try:
        found = path.stat().st_mtime
        sign = json.loads(path.read_bytes())
        if sign["schema"] != _SCHEMA or sign["boot"] != boot():
            raise ValueError("of another boot or version")
        now = time.monotonic()
        tick = now - float(sign["tick"])
        looks = {str(name): now - float(at) for name, at in sign["looks"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return _told([ServiceWord.NO_SIGN_YET.say()])
    wrong = []
    if found > time.time() + _FUTURE:
        wrong.append(ServiceWord.SIGN_OF_THE_FUTURE.say())
    if not -1 <= tick <= TICK_AT_MOST:
        wrong.append(ServiceWord.HANGS.say(seconds=f"{tick:.0f}"))
    wrong += [
        ServiceWord.NOT_LOOKED_AT.say(profile=name, seconds=f"{age:.0f}")
        for name, age in sorted(looks.items())
        if not -1 <= age <= LOOK_AT_MOST
    ]
    return _told(wrong, tick=tick, looks=looks)


def _told(
    wrong: list[str], *, tick: float | None = None, looks: dict[str, float] | None = None
) -> dict[str, Any]:
    return {
        "healthy": not wrong,
        "wrong": wrong,
        "tick_age_s": None if tick is None else round(tick, 3),
        "look_age_s": {name: round(age, 3) for name, age in (looks or {}).items()},
    }
