"""Threads that speak the language of whoever gives them work; none where there is one core for all.

A process that has one core gains nothing by threads: they wait for each other, and each costs its
start and memory of its own. There whoever hands over work does it at once.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import copy_context
from functools import cache, partial
from types import TracebackType
from typing import ParamSpec, Self, TypeVar

_Given = ParamSpec("_Given")
_Answer = TypeVar("_Answer")

_alone = False


def work_alone() -> None:
    """From now on no pool of this process starts a thread: it has one core for all its work."""
    global _alone  # noqa: PLW0603 - a fact of the process, as its limits are
    _alone = True


class SpeakingPool(ThreadPoolExecutor):
    """Threads that say sentences in the language of whoever hands them something to do."""

    def submit(
        self, call: Callable[_Given, _Answer], /, *args: _Given.args, **named: _Given.kwargs
    ) -> Future[_Answer]:
        """As of any executor; done before this returns where the process works alone."""
        asked = partial(copy_context().run, call, *args, **named)
        if not _alone:
            return super().submit(asked)
        done: Future[_Answer] = Future()
        try:
            done.set_result(asked())
        except Exception as error:
            done.set_exception(error)
        return done


class SpareThread:
    """A thread that does meanwhile what is going to be asked for.

    Where a job has none to spare, or this one has not come to it, whoever asks does it; so the
    answer is the same. What nobody has asked for when the ``with`` ends is not begun any more.

    Parameters
    ----------
    threads : how many the job may have, with the one that asks
    """

    def __init__(self, threads: int) -> None:
        self._pool = SpeakingPool(1) if threads > 1 and not _alone else None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        where: TracebackType | None,
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def begin(
        self, call: Callable[_Given, _Answer], /, *args: _Given.args, **named: _Given.kwargs
    ) -> Callable[[], _Answer]:
        """Have something done; gives what asks for the answer, and raises the call's errors."""
        by_hand = cache(partial(call, *args, **named))
        if self._pool is None:
            return by_hand
        begun = self._pool.submit(call, *args, **named)
        return lambda: by_hand() if begun.cancel() else begun.result()
