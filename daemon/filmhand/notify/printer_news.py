"""What is new about printers, from what the status says of them."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from filmhand.language import speaking
from filmhand.notify.message import News
from filmhand.notify.notify_words import MessageWord
from filmhand.profile.notifying import NewsKind
from filmhand.values import dataclass

_STAYS = 60.0  # seconds
_MOST = 1000  # that are remembered


@dataclass(frozen=True, slots=True)
class _Key:
    """What makes news the same as what was told; low film is, whatever else is said with it."""

    printer: str
    profile: str
    kind: NewsKind
    about: str
    say: str


class PrinterNews:
    """Remembers what was told: trouble that stays is told once, and again when it comes back.

    A printer that wakes up or warms itself passes by; only what has stayed for a minute is told.
    Film that is low is told at once, and again only after the printer has printed and not said so.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._since: dict[_Key, float] = {}  # when each came; infinite once told

    def of(
        self,
        printers: Sequence[Mapping[str, Any]],
        languages: Mapping[str, str | None] | None = None,
    ) -> list[News]:
        """What is to be told now.

        Parameters
        ----------
        printers : each with ``printer``, ``profiles``, ``why``, ``film_low`` if the why is that,
            and lists ``printing``, ``held`` and ``doubtful`` of mappings with ``profile``, ``why``
            and perhaps ``film`` and ``do``
        languages : that profiles are told in, where they say one
        """
        found: dict[_Key, News] = {}
        for printer, about, one in _all_news(printers, languages or {}):
            say = "" if one.kind is NewsKind.FILM_LOW else one.say
            found[_Key(printer, one.profile, one.kind, about, say)] = one
        now = self._clock()
        since = {key: self._since.get(key, now) for key in list(found)[:_MOST]}
        new = [
            key
            for key, came in since.items()
            if now - came >= (0 if key.kind is NewsKind.FILM_LOW else _STAYS)
        ]
        rests = {told.get("printer") for told in printers if not told.get("printing")}
        low = {
            key: since
            for key, since in self._since.items()
            if key.kind is NewsKind.FILM_LOW and key.printer in rests
        }
        self._since = low | since | dict.fromkeys(new, math.inf)
        return [found[key] for key in new]


def _all_news(
    printers: Sequence[Mapping[str, Any]], languages: Mapping[str, str | None]
) -> Iterator[tuple[str, str, News]]:
    """The printer, what of it the news is about, in no language, and the news."""
    for told in printers:
        printer = str(told.get("printer", ""))
        for profile in told.get("profiles") or ():
            if told.get("why"):
                with speaking(languages.get(profile)):
                    news = _in_its_way(told, printer, profile)
                yield printer, "", news
        for kind in ("held", "doubtful"):
            for one in told.get(kind) or ():
                with speaking(languages.get(one["profile"])):
                    news = _of_film(one, printer)
                yield printer, str(one.get("film", kind)), news


def _in_its_way(told: Mapping[str, Any], printer: str, profile: str) -> News:
    name = MessageWord.PRINTER_IS.say(printer=printer)
    if told.get("film_low"):
        do = MessageWord.PUT_FILM_IN.say()
        return News.of(NewsKind.FILM_LOW, profile, name, told["why"], do)
    return News.of(NewsKind.PRINTER, profile, name, told["why"])


def _of_film(one: Mapping[str, Any], printer: str) -> News:
    """News of a film that nobody knows of whether it was printed, or of films that are held."""
    name = MessageWord.PRINTER_HOLDS.say(printer=printer)
    if "film" in one:
        name = MessageWord.DOUBTFUL.say(film=one["film"])
    return News.of(NewsKind.PRINTER, one["profile"], name, one["why"], one.get("do", ""))
