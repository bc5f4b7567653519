"""All that a station tells people: one delivery for each target of each profile.

What waits, and when the last message went out, lies in the state folder, so that a restart neither
loses it nor tells more than one message a minute. What can be half-done when we die here is a
message on its way: it is told again.
"""

from __future__ import annotations

import contextlib
import json
import math
import socket
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from filmhand.disk import atomic, forms
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import plain_error
from filmhand.language import speaking
from filmhand.notify.delivery import GAP, Delivery
from filmhand.notify.message import Digest, Message, News, message_of, trial_message
from filmhand.notify.notify_words import DeliveryWord
from filmhand.notify.printer_news import PrinterNews
from filmhand.notify.secret import NotifyTrouble
from filmhand.notify.targets import Target, targets_of
from filmhand.profile.notifying import NotifyWishes

_FILE = "notify.json"
_LARGEST = 1 << 20
_SCHEMA = "filmhand-notify/1"
_STATE = forms.record({"schema": forms.text(longest=40), "targets": forms.table(
    forms.text(longest=300), forms.anything, most=10_000)})  # fmt: skip
_ONE = forms.record({"sent_at": forms.optional(forms.any_number), "waiting": forms.anything})


class Notifier:
    """Tells people what the profiles ask to be told.

    Parameters
    ----------
    state : the local folder of the station
    station : its name
    say : takes events for the log
    link : where the station's page is served, if it is
    now : the computer's clock, in seconds
    """

    def __init__(
        self,
        state: Path,
        station: str,
        say: Callable[..., None],
        *,
        link: Callable[[], str | None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
        now: Callable[[], float] = time.time,
    ) -> None:
        self._state = state
        self._station = station
        self._say = say
        self._link = link
        self._clock = clock
        self._now = now
        self._wishes: dict[str, NotifyWishes] = {}
        self._languages: dict[str, str | None] = {}
        self._deliveries: dict[str, list[Delivery]] = {}
        self._kept = self._read()
        self._printers = PrinterNews(clock)
        self._dirty = False

    def arrange(
        self,
        wishes: Mapping[str, NotifyWishes | None],
        languages: Mapping[str, str | None] | None = None,
    ) -> None:
        """From here the profiles ask for this; what waits for a target that stays goes to it.

        ``languages`` are those that they are told in, where they say one.
        """
        self._languages = dict(languages or {})
        wanted = {name: one for name, one in wishes.items() if one is not None}
        if wanted == self._wishes:
            return
        for name in [name for name in self._deliveries if wanted.get(name) != self._wishes[name]]:
            for delivery in self._deliveries.pop(name):
                self._kept[_key(name, delivery)] = delivery.as_json()
        for name, one in wanted.items():
            if name not in self._deliveries:
                self._deliveries[name] = [
                    self._delivery(name, target) for target in targets_of(one)
                ]
        self._wishes, self._dirty = wanted, True

    def _delivery(self, profile: str, target: Target) -> Delivery:
        kept = self._kept.pop(f"{profile}/{target.key}", {})
        sent_at, wait = kept.get("sent_at"), 0.0
        if sent_at is not None and math.isfinite(sent_at):
            # A clock that was set back must not hold messages for longer than the gap.
            wait = min(GAP, max(0.0, GAP - (self._now() - sent_at)))
        compose = partial(self._compose, profile)
        delivery = Delivery(target, compose, self._say, clock=self._clock, wait=wait)
        delivery.sent_at = sent_at
        with contextlib.suppress(ValueError):
            delivery.put_first(Digest.from_json(kept.get("waiting")))
        return delivery

    def _compose(self, profile: str, digest: Digest) -> Message:
        with speaking(self._languages.get(profile)):
            return message_of(
                digest,
                profile=profile,
                station=self._station,
                computer=socket.gethostname(),
                link=self._link(),
            )

    def tell(self, news: News) -> None:
        """Tell whoever asked for it; may be called from any thread, and never waits."""
        wishes = self._wishes.get(news.profile)
        if wishes is not None and news.kind in wishes.about:
            for delivery in self._deliveries.get(news.profile, []):
                delivery.add(news)
            self._dirty = True

    def tell_of_printers(self, told: Sequence[Mapping[str, Any]]) -> None:
        """Tell what is new in what the status says of each printer."""
        for news in self._printers.of(told, self._languages):
            self.tell(news)

    def look(self) -> None:
        """Send what is due, and keep what waits; returns at once."""
        now = self._now()
        changed = [one.look(now) for one in self._all()]
        if self._dirty or any(changed):
            self._dirty = False
            self._write()

    def troubles(self) -> list[str]:
        """A sentence on each target that cannot be told."""
        return [
            DeliveryWord.DO_NOT_GO_OUT.say(profile=name, trouble=trouble)
            for name, deliveries in self._deliveries.items()
            for trouble in (one.trouble() for one in deliveries)
            if trouble
        ]

    def finish(self, seconds: float) -> None:
        """Send what is due and wait for what is on its way, but no longer than that."""
        until = self._clock() + seconds
        self.look()
        for delivery in self._all():
            delivery.finish(max(0.0, until - self._clock()))
        changed = [one.look(self._now()) for one in self._all()]
        if any(changed):
            self._write()

    def _all(self) -> Iterable[Delivery]:
        return [one for deliveries in list(self._deliveries.values()) for one in deliveries]

    # --- the state folder --------------------------------------------------------------------

    def _write(self) -> None:
        targets = dict(self._kept)
        for name, deliveries in self._deliveries.items():
            targets |= {_key(name, one): one.as_json() for one in deliveries}
        data = json.dumps({"schema": _SCHEMA, "targets": targets}).encode()
        try:
            atomic.write_atomic(self._state / _FILE, data, durable=False)
        except OSError as error:
            self._say("messages not kept", why=plain_error(error))

    def _read(self) -> dict[str, dict[str, Any]]:
        """What an earlier run left, by profile and target; nothing where that cannot be read."""
        kept = {}
        with contextlib.suppress(OSError, ValueError):
            told = _STATE(forms.read_json(Beneath(self._state) / _FILE, _LARGEST))
            if told["schema"] == _SCHEMA:
                for key, one in told["targets"].items():
                    with contextlib.suppress(ValueError):
                        kept[key] = dict(_ONE(one))
        return kept


def _key(profile: str, delivery: Delivery) -> str:
    return f"{profile}/{delivery.target.key}"


def send_trials(
    profile: str, wishes: NotifyWishes, *, station: str, link: str | None = None
) -> list[tuple[str, str]]:
    """Send a trial message to each target of a profile now.

    Returns
    -------
    each target's name for people, and what was in the way; empty if it was sent
    """
    computer = socket.gethostname()
    message = trial_message(profile=profile, station=station, computer=computer, link=link)
    found = []
    for target in targets_of(wishes):
        try:
            target.send(message)
        except NotifyTrouble as trouble:
            found.append((target.shown, str(trouble)))
        else:
            found.append((target.shown, ""))
    return found
