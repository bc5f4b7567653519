"""A worker whose job misbehaves as its art says; run as ``python -m worker_stub``."""

from __future__ import annotations

import errno
import os
import resource
import signal
import sys
import time
from pathlib import Path
from typing import Any

from filmhand.errors import Quantity, Reason, Refused
from filmhand.worker.child import answer_parent
from filmhand.worker.wire import request_from_json


def make(question: dict[str, Any]) -> dict[str, Any]:
    request = question["requests"][0]
    word, _, rest = Path(request["art"]).read_text().partition(" ")
    out = Path(request["out"])
    match word:
        case "refuse":
            needed = Quantity(25, "ppi")
            raise Refused(
                Reason.TOO_SMALL, "Small.", "Larger.", found=Quantity(19.5, "ppi"), needed=needed
            )
        case "signal":
            os.kill(os.getpid(), signal.Signals[rest])
            time.sleep(60)
        case "sleep":
            time.sleep(60)
        case "spin":
            while True:
                pass
        case "memory":
            return {"films": bytearray(4 * 2**30)}
        case "bug":
            raise ZeroDivisionError("a bug")
        case "full":
            raise OSError(errno.ENOSPC, "No space left on device")
        case "file":
            resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
            (out / "film.pdf").write_bytes(b"x" * 5000)
        case "exit":
            os._exit(3)
        case "print":
            print("noise on stdout " * 100_000, flush=True)
            sys.stderr.write("noise on stderr\x1b[31m " * 100_000)
        case "escape":
            return {"films": [film("../outside")]}
        case "child":
            sleeper = os.fork()
            if not sleeper:
                time.sleep(60)
            (out / "pid").write_text(str(sleeper))
        case "limits":
            (out / "film.pdf").write_text(
                repr([resource.getrlimit(r) for r in (resource.RLIMIT_AS, resource.RLIMIT_CORE)])
                + Path("/proc/self/status").read_text()
                + "out of memory score: "
                + Path("/proc/self/oom_score_adj").read_text()
                + repr(dict(os.environ))
            )
            return {"films": [film("film.pdf")]}
        case "icc":
            (out / "film.pdf").write_bytes(request_from_json(request).profile.icc.file.read())
            return {"films": [film("film.pdf")]}
        case "note":
            (out / "pid").write_text(str(os.getpid()))
            time.sleep(60)
    (out / "film.pdf").write_text(f"film of {request['name']}")
    return {"films": [film("film.pdf")]}


def film(name: str) -> dict[str, Any]:
    return {"suffix": "", "files": {"pdf": name}, "proof": name, "record": {"schema": "x"}}


if __name__ == "__main__":
    sys.exit(answer_parent(make))
