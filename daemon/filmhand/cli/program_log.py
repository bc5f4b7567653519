"""What is said where the program itself failed, and where its details are kept."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

from filmhand.errors import ProgramFailed


def program_failed(over: str, how: str, details: str) -> ProgramFailed:
    """The failure as a sentence, with the details in the log of the user's own commands.

    Parameters
    ----------
    over : what was worked on
    how : the last word of the details
    details : all that is known, for whoever mends the program
    """
    log = _log()
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    try:
        log.parent.mkdir(parents=True, exist_ok=True)
        with log.open("a", encoding="utf-8") as stream:
            stream.write(f"{now} {over}\n{details.rstrip()}\n\n")
    except OSError:
        return ProgramFailed(over, how, f"The details: {details.strip()}")
    return ProgramFailed(over, how, f"The details are in {log}.")


def _log() -> Path:
    """In the user's folder for state; in the system's folder for temporary files without one."""
    told = os.environ.get("XDG_STATE_HOME", "")
    try:
        base = Path(told) if Path(told).is_absolute() else Path.home() / ".local" / "state"
    except RuntimeError:  # a user without a home
        base = Path("/tmp" if os.name == "posix" else ".")
    return base / "filmhand" / "commands.log"
