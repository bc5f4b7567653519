"""Jobs of a cluster with the pretended renderer of job_harness, which here can be made to wait.

``run`` stands in for :func:`filmhand.cluster.task.run`; the job's own process runs this file. The
art's first word says what happens: ``wait FILE`` waits until FILE is there, ``deadly FILE`` kills
the dask worker as long as FILE is there, ``poison`` ends the job's process by a signal; all else is
as in job_harness.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import job_harness

from filmhand.cluster import task
from filmhand.worker import child
from filmhand.worker.sandbox import confine
from filmhand.worker.wire import request_from_json, result_to_json


def run(question: str) -> str:
    asked = json.loads(question)
    art = Path(asked["folder"]) / asked["files"]["art"][0]
    if art.exists():
        word, _, rest = art.read_text().partition(" ")
        if word == "deadly" and Path(rest.split()[0]).exists():
            os.kill(os.getpid(), signal.SIGKILL)
    return task.run(question, module="cluster_stub")


def make(question: dict[str, Any]) -> dict[str, Any]:
    request = request_from_json(question["requests"][0])
    word, _, rest = request.art.read_text().partition(" ")
    if word == "poison":
        os.kill(os.getpid(), signal.SIGSEGV)
    if word == "wait":
        flag = Path(rest.split()[0])
        flag.with_name(f"{flag.name}.{os.getpid()}").touch()  # tells the test that it began
        while not flag.exists():
            time.sleep(0.05)
    return result_to_json(job_harness.render(request))


def confine_with_flag(readable: Iterable[Path], writable: Iterable[Path]) -> None:
    """As a worker is confined, but for the folders of the flag and of the list of renderings."""
    art, *more = readable
    word, _, rest = art.read_text().partition(" ")
    flags = [Path(rest.split()[0]).parent] if word == "wait" else []
    folders = [*writable, *flags]
    confine([art, *more], [*folders, *(folder.parent.parent for folder in writable)])


if __name__ == "__main__":
    child.confine = confine_with_flag
    sys.exit(child.answer_parent(make))
