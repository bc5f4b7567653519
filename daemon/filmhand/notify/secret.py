"""Secrets, from the environment or from a file that only its owner can read.

A secret is read when it is needed and kept nowhere; no message ever holds one.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping

from filmhand.errors import FilmhandError
from filmhand.notify.notify_words import SecretTrouble
from filmhand.profile.notifying import SecretSource

_LARGEST = 4096  # bytes


class NotifyTrouble(FilmhandError):
    """A message could not be sent; the sentence says why and holds nothing secret."""


def secret_of(source: SecretSource, environment: Mapping[str, str] = os.environ) -> str:
    """The secret.

    Raises
    ------
    NotifyTrouble
        where it is not there, or others could read it
    """
    if source.variable is not None:
        found = environment.get(source.variable, "").strip()
        if not found:
            raise NotifyTrouble(SecretTrouble.NOT_SET.say(variable=source.variable))
        return found
    return _from_file(source)


def _from_file(source: SecretSource) -> str:
    assert source.file is not None
    try:
        descriptor = os.open(source.file, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        raise NotifyTrouble(SecretTrouble.NOT_READ.say(source=source, why=error.strerror)) from None
    try:
        about = os.fstat(descriptor)
        if not stat.S_ISREG(about.st_mode):
            raise NotifyTrouble(SecretTrouble.NO_FILE.say(source=source))
        if about.st_uid not in (os.geteuid(), 0):
            raise NotifyTrouble(SecretTrouble.OF_ANOTHER_USER.say(source=source))
        if about.st_mode & 0o077:
            raise NotifyTrouble(SecretTrouble.OPEN_TO_OTHERS.say(source=source))
        data = os.read(descriptor, _LARGEST + 1)
    finally:
        os.close(descriptor)
    found = data.decode("utf-8", "replace").strip()
    if not found or len(data) > _LARGEST or "\n" in found:
        raise NotifyTrouble(SecretTrouble.NOT_ONE_LINE.say(source=source))
    return found
