"""Words to the service manager, one datagram each (sd_notify(3)), without a library.

Said by the main loop only: a helper thread would go on saying that all is well while the service
hangs.
"""

from __future__ import annotations

import contextlib
import os
import socket
import time

_LONGEST = 200  # characters of a status line


class ServiceManager:
    """The service manager, where one listens; else every call does nothing."""

    def __init__(self) -> None:
        self._address = os.environ.get("NOTIFY_SOCKET", "")
        self._status = ""

    def ready(self) -> None:
        """The service does its work."""
        self._send("READY=1")

    def reloading(self) -> None:
        """The profiles are being read again; :meth:`ready` follows."""
        self._send(f"RELOADING=1\nMONOTONIC_USEC={time.monotonic_ns() // 1000}")

    def stopping(self) -> None:
        """The service ends."""
        self._send("STOPPING=1")

    def alive(self) -> None:
        """The main loop has gone round again."""
        self._send("WATCHDOG=1")

    def status(self, text: str) -> None:
        """One line on what goes on, sent when it changes."""
        if text != self._status:
            self._status = text
            line = "".join(c if c.isprintable() else " " for c in text)[:_LONGEST]
            self._send(f"STATUS={line}")

    def _send(self, state: str) -> None:
        if not self._address:
            return
        address = self._address
        if address.startswith("@"):
            address = "\0" + address[1:]
        with (
            contextlib.suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as channel,
        ):
            channel.setblocking(False)
            channel.sendto(state.encode("utf-8", "replace"), address)


def watchdog_seconds() -> float | None:
    """How long the manager waits for a sign of life of this process; None if it does not."""
    with contextlib.suppress(ValueError):
        if int(os.environ.get("WATCHDOG_PID", os.getpid())) == os.getpid():
            seconds = int(os.environ.get("WATCHDOG_USEC", "0")) / 1e6
            return seconds if seconds > 0 else None
    return None
