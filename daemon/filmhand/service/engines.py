"""The engine that a profile's `workers` names: this computer, or one row for each other kind."""

from __future__ import annotations

import threading
from collections.abc import Callable

from filmhand.cluster.scheduler import Cluster
from filmhand.worker.engine import Engine, LocalEngine

# By what stands before :// in `workers`, which profile/read/values.py reads.
KINDS: dict[str, Callable[[str], Engine]] = {"dask": Cluster, "dask+tls": Cluster}


class Engines:
    """The engines that profiles name; each is made when it is first asked for."""

    def __init__(self, size: int) -> None:
        self._lock = threading.Lock()
        self._known: dict[str | None, Engine] = {None: LocalEngine(size)}

    def at(self, workers: str | None) -> Engine:
        """The engine of a profile; None is this computer. The same one each time."""
        with self._lock:
            engine = self._known.get(workers)
            if engine is None:
                assert workers is not None
                engine = self._known[workers] = KINDS[workers.partition("://")[0]](workers)
            return engine

    def close(self) -> None:
        """Let go of all of them."""
        with self._lock:
            known = list(self._known.values())
        for engine in known:
            engine.close()
