"""What people are told by a running service: of jobs that ended here, and of printers."""

from __future__ import annotations

import shlex
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from filmhand.disk import file_names
from filmhand.jobs.ledger import Entry
from filmhand.notify.message import News, sentences_of
from filmhand.notify.notifier import Notifier
from filmhand.notify.notify_words import MessageWord
from filmhand.profile.model import Profile
from filmhand.profile.notifying import NewsKind
from filmhand.service.service_words import ServiceWord


class StationNews:
    """The messages of one run of the service; `once` sends them at its end, all in one."""

    def __init__(
        self,
        station: Path,
        state: Path,
        say: Callable[..., None],
        *,
        link: Callable[[], str | None],
        at_once: bool,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._at_once = at_once
        name = file_names.shown(station.name)
        self._notifier = Notifier(state, name, say, link=link, clock=clock)

    def take(self, entry: Entry) -> None:
        """A job that ended here, or is held; may be called from any thread."""
        news = news_of(entry)
        if news is not None:
            self._notifier.tell(news)

    def mind(
        self, profiles: Mapping[str, Profile], printers: Sequence[Mapping[str, Any]] = ()
    ) -> list[str]:
        """Do as the profiles ask now, send what is due; sentences on who cannot be told."""
        self._notifier.arrange(
            {name: one.notify for name, one in profiles.items()},
            {name: one.language for name, one in profiles.items()},
        )
        self._notifier.tell_of_printers(printers)
        if self._at_once:
            self._notifier.look()
        return self._notifier.troubles()

    def finish(self, seconds: float) -> None:
        """Send what is due, and wait for what is on its way, but no longer than that."""
        self._notifier.finish(seconds)


def news_of(entry: Entry) -> News | None:
    """The news of a refusal, of films that are held, or have warnings; None of anything else."""
    if entry.outcome == "refused":
        say, do = (str(entry.about.get(key) or "") for key in ("say", "do"))
        return News.of(NewsKind.REFUSED, entry.profile, entry.name, say, do)
    if entry.outcome == "held":
        film, day = shlex.quote(str(entry.about["film"])), str(entry.about["until"])
        row = MessageWord.RELEASE_OR_WAIT if day else MessageWord.RELEASE
        do = row.say(film=film, day=day)
        return News.of(NewsKind.HELD, entry.profile, entry.name, str(entry.about["why"]), do)
    films = entry.about.get("films", [])
    warnings = dict.fromkeys(str(one) for film in films for one in film.get("warnings", []))
    if entry.outcome != "made" or not warnings:
        return None
    return News.of(
        NewsKind.WARNED, entry.profile, entry.name, sentences_of(warnings),
        ServiceWord.LOOK_AT_PROOF.say(),
    )  # fmt: skip
