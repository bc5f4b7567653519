"""What a job's process can reach here, found out by one that tries; for ``filmhand doctor``.

``python -m filmhand.worker.sandbox_trial FILE PORT PID`` shuts itself in as a job's process does,
tries to read a file that is not its own, to connect, and to signal that process and its parent, and
prints what it could do.
"""

from __future__ import annotations

import json
import os
import socket
import sys
import tempfile
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from filmhand.request import tell_nobody
from filmhand.values import dataclass
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.listening import listen
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

    Raises EnvironmentTrouble, OSError or ValueError where it cannot be started or does not answer.
    """
    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        file, work = Path(folder) / "file", Path(folder) / "work"
        file.write_bytes(b"trial")
        work.mkdir()
        with socket.create_server(("127.0.0.1", 0)) as listener:
            port = listener.getsockname()[1]
            answer = _answer(work, [str(file), str(port), str(os.getpid())])
    return Reach(**json.loads(answer))


def _answer(folder: Path, arguments: list[str]) -> bytes:
    """What the trial prints, started as the service starts its jobs."""
    forks = ForkServer()
    try:
        child = forks.start(folder, module=__name__, arguments=arguments)
        assert child.stdin is not None
        child.stdin.close()
        try:
            return listen(child, _SECONDS, tell_nobody)[0]
        finally:
            child.kill_group()
            child.reap()
    finally:
        forks.close()


def _can(attempt: Callable[[], object]) -> bool:
    try:
        attempt()
    except OSError:
        return False
    return True


def _try(file: Path, port: int, others: Iterable[int]) -> Reach:
    held = confine([], [Path.cwd()])
    return Reach(
        held.landlock,
        held.calls_filtered,
        files=_can(file.read_bytes),
        network=_can(lambda: socket.create_connection(("127.0.0.1", port), 5).close()),
        signals=any(_can(partial(os.kill, pid, 0)) for pid in others),
    )


if __name__ == "__main__":
    others = (int(sys.argv[3]), os.getppid())
    told = _try(Path(sys.argv[1]), int(sys.argv[2]), others)
    print(json.dumps({name: getattr(told, name) for name in Reach.__slots__}))  # noqa: T201
