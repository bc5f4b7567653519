"""A real dask cluster on this computer: a scheduler and workers as processes of their own."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

_QUIET = {
    "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1",
    "DASK_DISTRIBUTED__WORKER__MEMORY__TERMINATE": "False",
}


class LocalCluster:
    """Starts and kills the parts of a cluster that listens on the loopback address only."""

    def __init__(self, folder: Path, *, protocol: str = "tcp", **environment: str) -> None:
        self.folder = folder
        self.protocol, self.environment = protocol, environment
        self.log = folder / "log"
        self.port = _free_port()
        self.scheduler: subprocess.Popen[bytes] | None = None
        self.workers: list[subprocess.Popen[bytes]] = []

    @property
    def address(self) -> str:
        kind = {"tcp": "dask", "tls": "dask+tls"}[self.protocol]
        return f"{kind}://127.0.0.1:{self.port}"

    def start_scheduler(self) -> None:
        self.scheduler = self._start(
            "dask_scheduler", "--host", f"{self.protocol}://127.0.0.1", "--port", str(self.port),
            "--protocol", self.protocol, "--no-dashboard",
        )  # fmt: skip
        until = time.monotonic() + 30
        while True:
            with contextlib.suppress(OSError):
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            assert time.monotonic() < until
            time.sleep(0.05)

    def staff(self, count: int, *, threads: int = 2) -> None:
        """Start workers until so many run, and wait until the scheduler knows them."""
        self.workers = [worker for worker in self.workers if worker.poll() is None]
        known, missing = self._registered(), count - len(self.workers)
        for _ in range(missing):
            self.workers.append(
                self._start(
                    "dask_worker", f"{self.protocol}://127.0.0.1:{self.port}",
                    "--host", "127.0.0.1",
                    "--no-nanny", "--no-dashboard", "--nthreads", str(threads),
                    "--local-directory", str(self.folder), "--death-timeout", "60",
                )
            )  # fmt: skip
        until = time.monotonic() + 30
        while self._registered() < known + missing:
            assert time.monotonic() < until
            time.sleep(0.05)

    def _registered(self) -> int:
        return self.log.read_text().count("Register worker addr")

    def worker_of(self, pid: int) -> subprocess.Popen[bytes]:
        """The worker that started this process."""
        status = Path(f"/proc/{pid}/status").read_text().splitlines()
        parent = next(int(line.split()[1]) for line in status if line.startswith("PPid:"))
        return next(worker for worker in self.workers if worker.pid == parent)

    def _start(self, command: str, *words: str) -> subprocess.Popen[bytes]:
        search = os.pathsep.join(sys.path)
        with self.log.open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{command}", *words],
                env={**os.environ, "PYTHONPATH": search, **_QUIET, **self.environment},
                stdout=log,
                stderr=log,
                cwd=self.folder,
                start_new_session=True,
            )

    def stop(self) -> None:
        for process in [*self.workers, *filter(None, [self.scheduler])]:
            kill(process)


def kill(process: subprocess.Popen[bytes]) -> None:
    """End a part of the cluster with its whole process group, without a word."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port
