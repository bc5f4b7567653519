"""What a job's process can reach here, found out by one that tries; for ``filmhand doctor``.

``python -m filmhand.worker.sandbox_trial FILE PORT PID`` shuts itself in as a job's process does,
tries to read a file that is not its own, to connect and to signal, and prints what it could do.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from filmhand.worker.sandbox import confine

_SECONDS = 30.0


@dataclass(frozen=True, slots=True)
class Reach:
    """What a process that was shut in could still do, and by what it was.

    ``landlock`` is the version of Landlock's interface, 0 for none.
    """

    landlock: int
    calls_filtered: bool
    files: bool
    network: bool
    signals: bool


def reach_of_a_job() -> Reach:
    """Start such a process beside a file and a port of our own, and hear what it could do.

    Raises OSError or ValueError where it cannot be started or does not answer.
    """
    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        file, work = Path(folder) / "file", Path(folder) / "work"
        file.write_bytes(b"trial")
        work.mkdir()
        with socket.create_server(("127.0.0.1", 0)) as listener:
            port = listener.getsockname()[1]
            search = str(Path(__file__).resolve().parents[2])
            done = subprocess.run(
                [sys.executable, "-P", "-m", __name__, str(file), str(port), str(os.getpid())],
                cwd=work,
                env={**os.environ, "PYTHONPATH": search},
                capture_output=True,
                timeout=_SECONDS,
                check=False,
            )
    return Reach(**json.loads(done.stdout))


def _can(attempt: Callable[[], object]) -> bool:
    try:
        attempt()
    except OSError:
        return False
    return True


def _try(file: Path, port: int, parent: int) -> Reach:
    held = confine([], [Path.cwd()])
    return Reach(
        held.landlock,
        held.calls_filtered,
        files=_can(file.read_bytes),
        network=_can(lambda: socket.create_connection(("127.0.0.1", port), 5).close()),
        signals=_can(lambda: os.kill(parent, 0)),
    )


if __name__ == "__main__":
    told = _try(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
    print(json.dumps({name: getattr(told, name) for name in Reach.__slots__}))  # noqa: T201
