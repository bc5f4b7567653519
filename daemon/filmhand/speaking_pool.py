"""Threads that speak the language of whoever gives them work."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import copy_context
from functools import partial
from typing import ParamSpec, TypeVar

_Given = ParamSpec("_Given")
_Answer = TypeVar("_Answer")


class SpeakingPool(ThreadPoolExecutor):
    """Threads that say sentences in the language of whoever hands them something to do."""

    def submit(
        self, call: Callable[_Given, _Answer], /, *args: _Given.args, **named: _Given.kwargs
    ) -> Future[_Answer]:
        """As of any executor."""
        return super().submit(partial(copy_context().run, call, *args, **named))
