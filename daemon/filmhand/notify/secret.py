"""Secrets, from the environment or from a file that only its owner can read.

A secret is read when it is needed and kept nowhere; no message ever holds one.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping

from filmhand.errors import FilmhandError
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
            raise NotifyTrouble(
                f"the variable {source.variable} is not set for the service; set it and start the "
                "service again"
            )
        return found
    return _from_file(source)


def _from_file(source: SecretSource) -> str:
    assert source.file is not None
    try:
        descriptor = os.open(source.file, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        raise NotifyTrouble(f"{source} cannot be read: {error.strerror}") from None
    try:
        about = os.fstat(descriptor)
        if not stat.S_ISREG(about.st_mode):
            raise NotifyTrouble(f"{source} is no regular file")
        if about.st_uid not in (os.geteuid(), 0):
            raise NotifyTrouble(f"{source} belongs to another user; give it to the service's own")
        if about.st_mode & 0o077:
            raise NotifyTrouble(f"others may read {source}; take that away: chmod 600")
        data = os.read(descriptor, _LARGEST + 1)
    finally:
        os.close(descriptor)
    found = data.decode("utf-8", "replace").strip()
    if not found or len(data) > _LARGEST or "\n" in found:
        raise NotifyTrouble(f"{source} must hold one line, the secret, and does not")
    return found
