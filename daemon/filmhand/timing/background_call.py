"""Work that may hang on a dead share, done beside the main loop, one at a time."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Generic, TypeVar

Result = TypeVar("Result")


class BackgroundCall(Generic[Result]):
    """Runs a call in a thread; while it hangs no second one is started.

    An exception of the call is raised by :meth:`result`.
    """

    def __init__(self, name: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._name = name
        self._clock = clock
        self._began: float | None = None
        self._answer: list[Result] = []
        self._error: Exception | None = None
        self._done = threading.Event()

    def start(self, call: Callable[[], Result]) -> bool:
        """Begin `call`; False if the last one has not ended or its result was not fetched."""
        if self._began is not None:
            return False
        self._began = self._clock()
        self._done.clear()
        threading.Thread(target=self._run, args=(call,), name=self._name, daemon=True).start()
        return True

    def _run(self, call: Callable[[], Result]) -> None:
        try:
            self._answer = [call()]
        except Exception as error:  # raised again where the result is fetched
            self._error = error
        self._done.set()

    def result(self) -> list[Result]:
        """The result, once, in a list; empty while there is none."""
        if self._began is None or not self._done.is_set():
            return []
        answer, error = self._answer, self._error
        self._began, self._answer, self._error = None, [], None
        if error is not None:
            raise error
        return answer

    def running_for(self) -> float:
        """Seconds since the call began; 0 if none is running."""
        if self._began is None or self._done.is_set():
            return 0.0
        return self._clock() - self._began

    def wait(self, seconds: float) -> None:
        """Wait for the call, but no longer than that."""
        if self._began is not None:
            self._done.wait(seconds)
