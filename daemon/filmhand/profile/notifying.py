"""Who is told of refusals, warnings and trouble, and how.

Nothing secret stands in a profile: passwords and addresses that let in whoever knows them are named
by a variable of the environment, or by a file.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Any

from filmhand.profile.profile_words import Allowed, SecretPlace
from filmhand.profile.read.values import NotAWordError, read_parts
from filmhand.values import dataclass

_MOST_TARGETS = 10
# RFC 5321, 4.5.3.1, has 64 and 255 octets; quoted and internationalized addresses are left out.
_ADDRESS = r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@[A-Za-z0-9.-]{1,253}"
_SERVER = (
    r"(smtps?)://(?:([A-Za-z0-9._%+@-]{1,128})@)?([A-Za-z0-9.-]{1,253}|\[[0-9A-Fa-f:]{2,45}\])"
    r"(?::(\d{1,5}))?/?"
)
_VARIABLE = r"\$\{([A-Za-z_][A-Za-z0-9_]{0,99})\}"
_HOOK = (
    r"https?://(?:[A-Za-z0-9.-]{1,253}|\[[0-9A-Fa-f:]{2,45}\])(?::\d{1,5})?"
    r"(?:/[A-Za-z0-9._~-]{0,19})*"
)


class NewsKind(StrEnum):
    """What people can ask to be told of."""

    REFUSED = "refused"
    WARNED = "warned"
    HELD = "held"
    PRINTER = "printer"
    FILM_LOW = "film-low"


@dataclass(frozen=True, slots=True)
class SecretSource:
    """Where a secret is found: in a variable of the environment, or in a file."""

    variable: str | None = None
    file: Path | None = None

    def __str__(self) -> str:
        if self.variable:
            return SecretPlace.VARIABLE.say(name=self.variable)
        return SecretPlace.FILE.say(path=self.file)


@dataclass(frozen=True, slots=True)
class MailServer:
    """Where mail is handed in. ``tls`` is from the first byte; else STARTTLS comes first."""

    host: str
    port: int
    user: str | None
    tls: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NotifyWishes:
    """Who is told, and of what.

    Attributes
    ----------
    mail : addresses that get mail, through ``server``, from ``sender``, with its ``password``
    hook : where a message is posted as JSON; a plain address only where nothing of it is secret
    service : the addresses of services, in the words of the library that knows them
    about : what is told
    """

    mail: tuple[str, ...] = ()
    server: MailServer | None = None
    sender: str | None = None
    password: SecretSource | None = None
    hook: SecretSource | str | None = None
    service: tuple[SecretSource, ...] = ()
    about: tuple[NewsKind, ...] = tuple(NewsKind)


def read_notify(value: object) -> NotifyWishes | None:
    """``off`` (None), or a group that says who is told.

    >>> read_notify({"hook": "https://hooks.example.org/films"}).hook
    'https://hooks.example.org/films'
    """
    if value == "off" or value is False:
        return None
    if not isinstance(value, dict) or not value:
        raise NotAWordError(("off",), more=Allowed.NOTIFY.say())
    readers: dict[str, Callable[[object], Any]] = {
        "mail": _some(_read_address, Allowed.ADDRESSES.say()),
        "server": _read_server,
        "sender": _read_address,
        "password": _read_secret,
        "hook": _read_hook,
        "service": _some(_read_secret, Allowed.SECRETS.say()),
        "about": _some(_read_kind, Allowed.ABOUT.say(kinds=", ".join(NewsKind))),
    }
    wishes = NotifyWishes(**read_parts(value, readers))
    if not (wishes.mail or wishes.hook or wishes.service):
        raise ValueError(Allowed.NOTIFY_SOMEBODY.say())
    if wishes.mail and wishes.server is None:
        raise ValueError(Allowed.NOTIFY_SERVER.say())
    if wishes.server is not None and not wishes.mail:
        raise ValueError(Allowed.NOTIFY_MAIL.say())
    user = None if wishes.server is None else wishes.server.user
    if (user is None) != (wishes.password is None):
        raise ValueError(Allowed.NOTIFY_PASSWORD.say())
    return wishes


def _some(read: Callable[[object], Any], allowed: str) -> Callable[[object], tuple[Any, ...]]:
    def read_all(value: object) -> tuple[Any, ...]:
        items = value if isinstance(value, list) else [value]
        if not 1 <= len(items) <= _MOST_TARGETS:
            raise ValueError(Allowed.AT_MOST.say(allowed=allowed, most=_MOST_TARGETS))
        try:
            return tuple(dict.fromkeys(read(item) for item in items))
        except ValueError:
            raise ValueError(allowed) from None

    return read_all


def _read_address(value: object) -> str:
    if not isinstance(value, str) or not re.fullmatch(_ADDRESS, value):
        raise ValueError(Allowed.ADDRESS.say())
    return value


def _read_server(value: object) -> MailServer:
    found = re.fullmatch(_SERVER, value) if isinstance(value, str) else None
    port = int(found[4]) if found and found[4] else 0
    if not found or port > 65535:
        raise ValueError(Allowed.SERVER.say())
    tls = found[1] == "smtps"
    # Submission over TLS, and with STARTTLS (RFC 8314, 3.3; RFC 6409, 3.1).
    return MailServer(found[3].strip("[]"), port or (465 if tls else 587), found[2], tls)


def _read_secret(value: object) -> SecretSource:
    if isinstance(value, str):
        found = re.fullmatch(_VARIABLE, value)
        if found:
            return SecretSource(variable=found[1])
        if value.startswith("/") and len(value) <= 1000 and value.isprintable():
            return SecretSource(file=Path(value))
    raise ValueError(Allowed.SECRET.say())


def _read_hook(value: object) -> SecretSource | str:
    try:
        return _read_secret(value)
    except ValueError:
        if isinstance(value, str) and re.fullmatch(_HOOK, value):
            return value
    raise ValueError(Allowed.HOOK.say())


def _read_kind(value: object) -> NewsKind:
    return NewsKind(str(value))
