"""Printers that announce themselves on the network: DNS-SD over multicast DNS (RFC 6762, 6763).

What is announced is hostile input: an address counts only where a profile could name it.
"""

from __future__ import annotations

import importlib
import socket
import threading
from collections.abc import Iterable
from typing import Any

from filmhand.errors import FilmhandError
from filmhand.printer.printer_words import DiscoveryTrouble
from filmhand.profile.printing import read_print
from filmhand.values import dataclass

PRINTERS_EXTRA = "pip install 'filmhand[printers]'"
LISTEN_FOR = 4.0  # seconds; printers answer within one, those asleep by a proxy too
_ASK_FOR_MS = 2000
_MOST = 200
_MOST_ADDRESSES = 4
_ANSWERS_WITHIN = 1.0  # seconds
# Plain first: where a printer has both, its address needs no certificate.
_SERVICES = {"_ipp._tcp.local.": "ipp", "_ipps._tcp.local.": "ipps"}


class CannotLook(FilmhandError):
    """The library that looks for printers is absent, or the network cannot be listened to."""


@dataclass(frozen=True, slots=True)
class AnnouncedPrinter:
    """A printer's name for people, and its address."""

    name: str
    uri: str


def find_printers(seconds: float = LISTEN_FOR) -> list[AnnouncedPrinter]:
    """The printers that answer within so many seconds, each once, by name.

    Raises
    ------
    CannotLook
        With a sentence that tells what to do.
    """
    try:
        library: Any = importlib.import_module("zeroconf")
    except ImportError as error:
        raise CannotLook(DiscoveryTrouble.NO_LIBRARY.say(command=PRINTERS_EXTRA)) from error
    names = _Names()
    try:
        network = library.Zeroconf()
    except OSError as error:
        why = error.strerror or error
        raise CannotLook(DiscoveryTrouble.NO_NETWORK.say(why=why)) from error
    try:
        browser = library.ServiceBrowser(network, list(_SERVICES), names)
        threading.Event().wait(seconds)
        browser.cancel()
        told = [
            (scheme, network.get_service_info(kind, name, timeout=_ASK_FOR_MS))
            for kind, scheme in _SERVICES.items()
            for name in sorted(names.of(kind))[:_MOST]
        ]
    finally:
        network.close()
    found: dict[str, AnnouncedPrinter] = {}
    for scheme, info in told:
        one = _printer_of(scheme, info) if info is not None else None
        if one is not None:
            found.setdefault(one.name, one)
    return [found[name] for name in sorted(found)]


class _Names:
    """Listens to which services there are; the library calls these by name."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._of: dict[str, set[str]] = {}

    def of(self, kind: str) -> Iterable[str]:
        with self._lock:
            return set(self._of.get(kind, ()))

    def add_service(self, network: Any, kind: str, name: str) -> None:
        with self._lock:
            self._of.setdefault(kind, set()).add(name)

    def update_service(self, network: Any, kind: str, name: str) -> None:
        """Nothing that changes matters here."""

    def remove_service(self, network: Any, kind: str, name: str) -> None:
        with self._lock:
            self._of.get(kind, set()).discard(name)


def _printer_of(scheme: str, info: Any) -> AnnouncedPrinter | None:
    """The printer of an announcement; None where a profile could not name its address."""
    name = str(info.name).removesuffix(f".{info.type}")
    shown = "".join(c for c in name if c.isprintable())[:200]
    path = (info.properties or {}).get(b"rp") or b"ipp/print"  # "rp": resource path (Bonjour)
    host, port = str(info.server or "").rstrip("."), int(info.port or 0)
    addresses = sorted(one for one in info.parsed_addresses() if ":" not in one)
    # The name if this computer knows it, else the first number that answers: a printer may have
    # several, and not all of them lead to it.
    places = [host, *addresses[:_MOST_ADDRESSES]]
    host = next((one for one in places if _answers(one, port)), (addresses or [host])[0])
    where = host if port == 631 else f"{host}:{port}"
    uri = f"{scheme}://{where}/{bytes(path).decode('ascii', 'replace').lstrip('/')}"
    try:
        wishes = read_print({"printer": uri})
    except ValueError:
        return None
    return AnnouncedPrinter(shown, uri) if wishes is not None and wishes.printer else None


def _answers(host: str, port: int) -> bool:
    try:
        with socket.create_connection((host, port), _ANSWERS_WITHIN):
            return True
    except (OSError, UnicodeError):
        return False
