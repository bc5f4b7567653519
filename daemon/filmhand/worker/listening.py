"""What a job's process says: its progress, its answer, and what it wrote to standard error."""

from __future__ import annotations

import json
import os
import subprocess
import threading
import time
from collections.abc import Callable
from functools import partial
from typing import IO

from filmhand.request import TellProgress
from filmhand.worker.job_process import JobProcess
from filmhand.worker.wire import progress_from_json

_STDERR_BYTES = 64 * 1024
_LONGEST_LINE = 200  # bytes, of progress
_ANSWER_BYTES = 64 * 1024 * 1024


def listen(child: JobProcess, seconds: float, tell: TellProgress) -> tuple[bytes, str, bool]:
    """The answer, what was said on stderr (cut to its end), and whether the time ran out.

    The process and all that it started have been ended by then.
    """
    assert child.stdout is not None
    assert child.stderr is not None
    kept: dict[str, bytes] = {"answer": b"", "said": b""}
    readers = [
        threading.Thread(target=_drain, args=(pipe, kept, key, size, hear), daemon=True)
        for pipe, key, size, hear in (
            (child.stdout, "answer", _ANSWER_BYTES, partial(_hear, tell)),
            (child.stderr, "said", _STDERR_BYTES, None),
        )
    ]
    for reader in readers:
        reader.start()
    late = not _ended(child, readers[0], time.monotonic() + seconds)
    child.kill_group()
    for reader in readers:
        reader.join()
    return kept["answer"], kept["said"].decode("utf-8", "backslashreplace"), late


def _ended(child: JobProcess, answer: threading.Thread, deadline: float) -> bool:
    """Wait until the child has ended, or the deadline has come (False).

    The end of the answer tells it at once. The process is looked at only now and then, in case
    something that it left running keeps the pipe open.
    """
    while answer.is_alive() and child.poll() is None and time.monotonic() < deadline:
        answer.join(timeout=min(0.5, max(0.0, deadline - time.monotonic())))
    try:
        child.wait(timeout=max(0.0, deadline - time.monotonic()))
    except subprocess.TimeoutExpired:
        return False
    return True


def _drain(
    pipe: IO[bytes],
    kept: dict[str, bytes],
    key: str,
    size: int,
    hear: Callable[[bytearray], None] | None,
) -> None:
    """Read a pipe to its end, so that the child never blocks, and keep the last `size` bytes.

    `hear` is shown what is kept so far, and takes off what it understands.
    """
    with pipe:
        data = bytearray()
        while block := os.read(pipe.fileno(), 65536):
            data += block
            if hear is not None and b"\n" in block:
                hear(data)
            if len(data) > 2 * size:
                del data[:-size]
        kept[key] = bytes(data[-size:])


def _hear(tell: TellProgress, data: bytearray) -> None:
    """Take the lines of progress off the beginning; whatever else stands there is the answer."""
    while (end := data.find(b"\n", 0, _LONGEST_LINE)) >= 0:
        try:
            step, behind = progress_from_json(json.loads(data[:end]))
        except (ValueError, KeyError, TypeError):
            return
        del data[: end + 1]
        tell(step, behind)
