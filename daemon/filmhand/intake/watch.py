"""Hints from the system that something happened in a drop folder.

A hint only makes the next look come sooner. Lost events, a full queue, a limit on watches or a
dead thread therefore cost nothing but the usual interval, and no error here is worth stopping for.
"""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from filmhand.disk.folders import same_folder

# The library reports lost watches to stderr, in the middle of the service's own lines; here they
# mean nothing, since the next look sees everything.
logging.getLogger("watchdog").addHandler(logging.NullHandler())


class Watch:
    """Watches one folder as long as it is the same folder; makes itself anew when it is not."""

    def __init__(self, folder: Path, hint: Callable[[], None]) -> None:
        self._folder = folder
        self._hint = hint
        self._observer: Any = None
        self._watched: tuple[int, int] | None = None

    def keep(self, *, wanted: bool) -> None:
        """Begin, renew or end the watching, as the folder now needs it."""
        now = same_folder(self._folder) if wanted else None
        if now == self._watched and (now is None or self._lives()):
            return
        self.close()
        self._watched = now
        if now is None:
            return
        try:
            self._observer = _observe(self._folder, self._hint)
        except (OSError, ImportError, RuntimeError):
            self._observer = None

    def _lives(self) -> bool:
        """False if any of the observer's threads has ended; one that never began is left so."""
        if self._observer is None:
            return True
        return self._observer.is_alive() and all(
            emitter.is_alive() for emitter in self._observer.emitters
        )

    def close(self) -> None:
        """End the watching."""
        observer, self._observer, self._watched = self._observer, None, None
        if observer is not None:
            with contextlib.suppress(Exception):
                observer.stop()
                observer.join(1)


def _observe(folder: Path, hint: Callable[[], None]) -> Any:
    from watchdog.events import FileSystemEvent, FileSystemEventHandler  # noqa: PLC0415
    from watchdog.observers import Observer  # noqa: PLC0415

    class _Handler(FileSystemEventHandler):
        def on_any_event(self, event: FileSystemEvent) -> None:
            # Our own reading causes opened and closed-unread events; they tell nothing.
            if event.event_type not in {"opened", "closed_no_write"}:
                hint()

    observer = Observer()
    observer.schedule(_Handler(), str(folder), recursive=True)
    observer.start()
    return observer


def events_arrive(folder: Path, *, within: float) -> bool:
    """True if writing a file in `folder` causes a hint within so many seconds."""
    heard = threading.Event()
    try:
        observer = _observe(folder, heard.set)
    except (OSError, ImportError, RuntimeError):
        return False
    try:
        (folder / "event").write_bytes(b"")
        return heard.wait(within)
    finally:
        observer.stop()
        observer.join(5)
