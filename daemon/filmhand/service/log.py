"""What the service says: JSON lines to stderr and to a file, sentences on a terminal.

Everything that comes from a customer passes through JSON's escapes or
:func:`filmhand.service.log_words.event_in_words`, so that a file name cannot write to a terminal.
A closed stderr or a full disk never stops the service.
"""

from __future__ import annotations

import contextlib
import json
import logging
import logging.handlers
import sys
import threading
from collections import deque
from pathlib import Path
from typing import Any, TextIO

import structlog

from filmhand.errors import ExitCode
from filmhand.service.log_words import event_in_words
from filmhand.service.terminal import is_terminal

_FILE_BYTES = 10_000_000
_FILES = 5
_LOUD = {
    "paused",
    "unreachable",
    "low on space",
    "metrics not written",
    "not tidied",
    "status not written",
    "refused",
    "worker failed",
    "filmhand itself failed",
    "looking failed",
    "profile not right",
    "ledger",
    "a job lost its notes; its file is back in drop",
    "a job lost its notes; its scan is back in calibrate",
    "station is not there",
    "printer waits",
    "printing paused",
    "print doubtful",
    "message not sent",
    "messages not kept",
}


def complain(text: str, code: ExitCode) -> int:
    """Say it on stderr, as far as anybody listens, and return the exit code."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stderr.write(text + "\n")
        sys.stderr.flush()
    return int(code)


def read_log(path: Path, most: int) -> list[dict[str, Any]]:
    """The last lines of a log and of the files before it, oldest first.

    Parameters
    ----------
    most : lines at most; what is no line of ours is passed over
    """
    found: deque[dict[str, Any]] = deque(maxlen=most)
    names = [f"{path.name}.{number}" for number in range(_FILES, 0, -1)] + [path.name]
    for name in names:
        with contextlib.suppress(OSError), path.with_name(name).open("rb") as stream:
            for raw in stream:
                with contextlib.suppress(ValueError):
                    line = json.loads(raw)
                    if isinstance(line, dict) and "event" in line:
                        found.append(line)
    return list(found)


class ServiceLog:
    """Says events with their facts; safe to use from several threads."""

    def __init__(self, path: Path | None, stream: TextIO | None = None) -> None:
        self._stream: TextIO | None = stream or sys.stderr  # None where it was closed
        self._lock = threading.Lock()
        self._file = _open(path) if path is not None else None
        self._stamp = structlog.processors.TimeStamper(fmt="iso", utc=True)
        self._json = structlog.processors.JSONRenderer(default=str)
        self._in_words = is_terminal(self._stream)

    def say(self, event: str, **facts: Any) -> None:
        """One line; facts that are None are left out."""
        level = "warning" if event in _LOUD else "info"
        known = {k: v for k, v in facts.items() if v is not None}
        line = self._stamp(None, level, {"event": event, **known, "level": level})
        text = str(self._json(None, level, dict(line)))
        with self._lock:
            if self._file is not None:
                self._file.emit(_record(text))
            shown = event_in_words(json.loads(text)) if self._in_words else text
            if self._stream is not None:
                # Nobody may be listening any more; the file and the folders still tell.
                with contextlib.suppress(OSError, ValueError):
                    self._stream.write(shown + "\n")
                    self._stream.flush()

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            if self._file is not None:
                self._file.close()
                self._file = None


def _open(path: Path) -> logging.Handler | None:
    try:
        handler = logging.handlers.RotatingFileHandler(
            path, maxBytes=_FILE_BYTES, backupCount=_FILES, encoding="utf-8", delay=True
        )
    except OSError:
        return None
    handler.handleError = lambda record: None  # type: ignore[method-assign]
    return handler


def _record(text: str) -> logging.LogRecord:
    return logging.LogRecord("filmhand", logging.INFO, "", 0, text, None, None)
