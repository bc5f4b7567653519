"""Jobs of a cluster with the pretended renderer of spool_bench, which here can be made to wait.

``run`` stands in for :func:`filmhand.cluster.task.run`; the job's own process runs this file. The
art's first word says what happens: ``wait FILE`` waits until FILE is there, ``deadly FILE`` kills
the dask worker as long as FILE is there, ``poison`` ends the job's process by a signal; all else is
as in spool_bench.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from pathlib import Path
from typing import Any

import spool_bench

from filmhand.cluster import task
from filmhand.jobs.context import RenderOrder
from filmhand.worker.process import main


def run(question: str) -> str:
    asked = json.loads(question)
    art = Path(asked["folder"]) / asked["files"]["art"][0]
    if art.exists():
        word, _, rest = art.read_text().partition(" ")
        if word == "deadly" and Path(rest.split()[0]).exists():
            os.kill(os.getpid(), signal.SIGKILL)
    return task.run(question, module="cluster_stub")


def make(question: dict[str, Any]) -> dict[str, Any]:
    art = Path(question["art"])
    word, _, rest = art.read_text().partition(" ")
    if word == "poison":
        os.kill(os.getpid(), signal.SIGSEGV)
    if word == "wait":
        flag = Path(rest.split()[0])
        flag.with_name(f"{flag.name}.{os.getpid()}").touch()  # tells the test that it began
        while not flag.exists():
            time.sleep(0.05)
    paths = {key: question[key] and Path(question[key]) for key in ("ticket", "mask")}
    order = RenderOrder(
        art, question["name"], question["profile"], paths["ticket"], paths["mask"],
        Path(question["out"]), Path(question["scratch"]), question["job"],
    )  # fmt: skip
    return {
        "films": [
            {
                "suffix": film.suffix,
                "files": {form: path.name for form, path in film.files.items()},
                "proof": film.proof.name,
                "record": film.record,
            }
            for film in spool_bench.render(order)
        ]
    }


if __name__ == "__main__":
    sys.exit(main(make))
