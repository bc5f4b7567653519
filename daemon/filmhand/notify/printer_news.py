"""What is new about printers, from what the status says of them."""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from filmhand.notify.message import News
from filmhand.profile.notifying import NewsKind

# What means that film will be short (media-low of RFC 8011, 5.4.12), in our words and in others'.
_FILM = r"(?:media|film|paper|tray)"
_LOW = re.compile(
    rf"\b{_FILM}\b.{{0,40}}\b(?:low|nearly empty)\b|\blow on {_FILM}\b", re.IGNORECASE
)
_STAYS = 60.0  # seconds
_MOST = 1000  # that are remembered


class PrinterNews:
    """Remembers what was told: trouble that stays is told once, and again when it comes back.

    A printer that wakes up or warms itself passes by; only what has stayed for a minute is told.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._since: dict[tuple[str, str, str], float] = {}  # when each came; infinite once told

    def of(self, printers: Sequence[Mapping[str, Any]]) -> list[News]:
        """What is to be told now.

        Parameters
        ----------
        printers : each with ``printer``, ``profiles``, ``why``, and lists ``printing``, ``held``
            and ``doubtful`` of mappings with ``profile``, ``why`` and perhaps ``film`` and ``do``
        """
        found = {(one.profile, one.name, one.say): one for one in _all_news(printers)}
        now = self._clock()
        since = {key: self._since.get(key, now) for key in list(found)[:_MOST]}
        new = [key for key, came in since.items() if now - came >= _STAYS]
        self._since = since | dict.fromkeys(new, math.inf)
        return [found[key] for key in new]


def _all_news(printers: Sequence[Mapping[str, Any]]) -> Iterator[News]:
    for told in printers:
        printer = f"The printer {told.get('printer', '')}"
        for profile in told.get("profiles") or ():
            if told.get("why"):
                yield _news(profile, printer, told["why"])
        for one in told.get("held") or ():
            yield _news(one["profile"], f"{printer} holds films", one["why"])
        for one in told.get("doubtful") or ():
            yield News.of(
                NewsKind.PRINTER, one["profile"], f"{one.get('film', 'A film')} is doubtful",
                one["why"], one.get("do", ""),
            )  # fmt: skip


def _news(profile: str, name: str, why: str) -> News:
    kind = NewsKind.FILM_LOW if _LOW.search(why) else NewsKind.PRINTER
    do = "Put film in before the tray is empty." if kind is NewsKind.FILM_LOW else ""
    return News.of(kind, profile, name, why, do)
