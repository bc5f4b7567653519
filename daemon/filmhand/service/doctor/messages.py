"""Whether people can be told of what happens, as profiles ask in `notify`."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator, Mapping
from pathlib import Path

from filmhand.disk import file_names
from filmhand.notify.notifier import send_trials
from filmhand.notify.secret import NotifyTrouble, secret_of
from filmhand.notify.targets import targets_of
from filmhand.profile.model import Profile
from filmhand.profile.notifying import NotifyWishes, SecretSource
from filmhand.service.doctor.folder_probe import Finding, Level

_WHAT = "messages"


def examine_messages(
    profiles: Mapping[str, Profile], station: Path, *, send: bool
) -> Iterator[Finding]:
    """Look at each profile's secrets, and ``send`` a trial message to each target if asked."""
    for name, profile in sorted(profiles.items()):
        if profile.notify is not None:
            yield from _secrets(name, profile.notify)
            if send:
                yield from _trials(name, profile.notify, file_names.shown(station.name))
            else:
                told = "; ".join(target.shown for target in targets_of(profile.notify))
                yield Finding(
                    Level.OK, name, _WHAT, f"Told are: {told}.",
                    "Send a trial: filmhand doctor STATION --notify",
                )  # fmt: skip


def _secrets(name: str, wishes: NotifyWishes) -> Iterator[Finding]:
    sources = [wishes.password, wishes.hook, *wishes.service]
    for source in sources:
        if isinstance(source, SecretSource):
            try:
                secret_of(source)
            except NotifyTrouble as trouble:
                # The service may have variables that this shell has not.
                level = Level.NOTE if source.variable else Level.WRONG
                yield Finding(level, name, _WHAT, f"For messages, {trouble}.")
    if wishes.service and importlib.util.find_spec("apprise") is None:
        say = "The profile tells services, and the library that speaks with them is not installed."
        yield Finding(Level.WRONG, name, _WHAT, say, "Install it: pip install 'filmhand[notify]'")


def _trials(name: str, wishes: NotifyWishes, station: str) -> Iterator[Finding]:
    for shown, trouble in send_trials(name, wishes, station=station):
        if trouble:
            say = f"A trial message did not go out to {shown}: {trouble}."
            yield Finding(Level.WRONG, name, _WHAT, say)
        else:
            yield Finding(Level.OK, name, _WHAT, f"A trial message went out to {shown}.")
