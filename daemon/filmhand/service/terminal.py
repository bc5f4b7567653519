"""Whether somebody may be reading a stream."""

from __future__ import annotations

from typing import TextIO


def is_terminal(stream: TextIO | None) -> bool:
    """Whether somebody may be reading it; a stream that is closed or missing is none."""
    try:
        return stream is not None and stream.isatty()
    except ValueError:
        return False
