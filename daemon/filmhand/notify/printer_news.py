"""What is new about printers, from what the status says of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from filmhand.notify.message import News
from filmhand.profile.notifying import NewsKind

# What means that film will be short (media-low of RFC 8011, 5.4.12), in our words and in others'.
_FILM = r"(?:media|film|paper|tray)"
_LOW = re.compile(
    rf"\b{_FILM}\b.{{0,40}}\b(?:low|nearly empty)\b|\blow on {_FILM}\b", re.IGNORECASE
)
_MOST = 1000  # that are remembered


class PrinterNews:
    """Remembers what was told: trouble that stays is told once, and again when it comes back."""

    def __init__(self) -> None:
        self._told: set[tuple[str, str, str]] = set()

    def of(self, printers: Sequence[Mapping[str, Any]]) -> list[News]:
        """What is new since the last call.

        Parameters
        ----------
        printers : each with ``printer``, ``profiles``, ``why``, and lists ``printing``, ``held``
            and ``doubtful`` of mappings with ``profile``, ``why`` and perhaps ``film`` and ``do``
        """
        found = {(one.profile, one.name, one.say): one for one in _all_news(printers)}
        new = [news for key, news in found.items() if key not in self._told]
        self._told = set(list(found)[:_MOST])
        return new


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
