"""Work shared with a fork of this process, for code that keeps other threads waiting.

Pillow's Group 4 coder is such code: two threads of it take longer than one.
"""

from __future__ import annotations

import os
import pickle
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn, TypeVar

_Item = TypeVar("_Item")
_Answer = TypeVar("_Answer")

_THREADS = Path("/proc/self/task")
_LOST = object()


def in_order_in_fork(
    function: Callable[[_Item], _Answer], items: Sequence[_Item]
) -> Iterator[_Answer]:
    """function(item) for each item, in order; every second one is worked out by a fork.

    What the fork does not deliver, whatever has become of it, is worked out here. Where forking is
    not safe, because other threads are running or the system does not tell, all of it is.

    function : its answers must be picklable
    """
    outlet, child = _fork(function, items[1::2]) if len(items) > 1 and _is_alone() else (-1, 0)
    if not child:
        yield from map(function, items)
        return
    try:
        with os.fdopen(outlet, "rb") as pipe:
            for index, item in enumerate(items):
                answer: Any = _received(pipe) if index % 2 else _LOST
                yield function(item) if answer is _LOST else answer
    finally:
        # Where a sandbox allows no signal to another process, the closed pipe ends it, at its next
        # answer.
        with suppress(ProcessLookupError, PermissionError):
            os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


def _is_alone() -> bool:
    """Whether this process has one thread only, in Python or out of it."""
    try:
        return len(list(_THREADS.iterdir())) == 1
    except OSError:
        return False


def _fork(function: Callable[[_Item], Any], items: Sequence[_Item]) -> tuple[int, int]:
    """The descriptor to read from and the number of the process, or (-1, 0)."""
    outlet, inlet = os.pipe()
    try:
        child = os.fork()
    except OSError:  # no more processes, or no memory, are to be had
        os.close(outlet)
        child = 0
    else:
        if child == 0:
            os.close(outlet)
            _deliver(function, items, inlet)
    os.close(inlet)
    return (outlet, child) if child else (-1, 0)


def _deliver(function: Callable[[_Item], Any], items: Sequence[_Item], inlet: int) -> NoReturn:
    """Send the answers until all are sent, one fails, or nobody listens any more."""
    try:
        with os.fdopen(inlet, "wb") as pipe:
            for item in items:
                pickle.dump(function(item), pipe)
                pipe.flush()
    finally:
        os._exit(0)  # without ending what belongs to the process that was forked


def _received(pipe: Any) -> Any:
    try:
        return pickle.load(pipe)
    except (EOFError, pickle.UnpicklingError):
        return _LOST
