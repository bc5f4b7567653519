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
from filmhand.service.doctor.doctor_words import DoctorWord, Level, Topic
from filmhand.service.doctor.folder_probe import Finding


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
                say = DoctorWord.TOLD_ARE.say(targets=told)
                do = DoctorWord.SEND_TRIAL.say()
                yield Finding(Level.OK, name, Topic.MESSAGES, say, do)


def _secrets(name: str, wishes: NotifyWishes) -> Iterator[Finding]:
    sources = [wishes.password, wishes.hook, *wishes.service]
    for source in sources:
        if isinstance(source, SecretSource):
            try:
                secret_of(source)
            except NotifyTrouble as trouble:
                # The service may have variables that this shell has not.
                level = Level.NOTE if source.variable else Level.WRONG
                say = DoctorWord.SECRET_TROUBLE.say(trouble=trouble)
                yield Finding(level, name, Topic.MESSAGES, say)
    if wishes.service and importlib.util.find_spec("apprise") is None:
        say, do = DoctorWord.NO_LIBRARY.say(), DoctorWord.INSTALL_LIBRARY.say()
        yield Finding(Level.WRONG, name, Topic.MESSAGES, say, do)


def _trials(name: str, wishes: NotifyWishes, station: str) -> Iterator[Finding]:
    for shown, trouble in send_trials(name, wishes, station=station):
        if trouble:
            say = DoctorWord.TRIAL_FAILED.say(target=shown, trouble=trouble)
            yield Finding(Level.WRONG, name, Topic.MESSAGES, say)
        else:
            say = DoctorWord.TRIAL_SENT.say(target=shown)
            yield Finding(Level.OK, name, Topic.MESSAGES, say)
