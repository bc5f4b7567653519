"""A worker that tries to reach what is not its own, as its art says; ``python -m sandbox_stub``."""

from __future__ import annotations

import ctypes
import json
import os
import resource
import signal
import socket
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from filmhand.worker.child import answer_parent


def connect(port: str) -> None:
    socket.create_connection(("127.0.0.1", int(port)), 5).close()


def call_by_number(number: str) -> None:
    library = ctypes.CDLL(None, use_errno=True)
    if library.syscall(int(number), 0, 0, 0, 0, 0, 0) < 0:
        raise OSError(ctypes.get_errno(), "")


def move_and_back(path: str) -> None:
    Path(path).rename(path + ".moved")
    Path(path + ".moved").rename(path)


def connect_to_name(name: str) -> None:
    with socket.socket(socket.AF_UNIX) as speaker:
        speaker.connect("\0" + name)


def fork_and_read(path: str) -> None:
    child = os.fork()
    if not child:
        try:
            Path(path).read_bytes()
        except PermissionError:
            os._exit(13)
        os._exit(0)
    if os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]):
        raise PermissionError(13, "in the fork")


TRIES: dict[str, Callable[[str], object]] = {
    "read": lambda path: Path(path).read_bytes(),
    "list": lambda path: list(Path(path).iterdir()),
    "write": lambda path: Path(path).write_bytes(b"x"),
    "append": lambda path: Path(path).open("ab").close(),
    "cut": lambda path: os.truncate(path, 1),
    "make": lambda path: (Path(path) / "made").write_bytes(b"x"),
    "remove": lambda path: Path(path).unlink(),
    "move": move_and_back,
    "link": lambda path: (Path(path) / "link").symlink_to("/etc/passwd"),
    "pipe": lambda path: os.mkfifo(Path(path) / "pipe"),
    "rights": lambda path: Path(path).chmod(0o777),
    "times": lambda path: os.utime(path, (1, 1)),
    "fork": fork_and_read,
    "program": lambda path: os.execv("/bin/true", [path]),
    "connect": connect,
    "abstract": connect_to_name,
    "signal": lambda pid: os.kill(int(pid), 0),
    "strangle": lambda pid: resource.prlimit(int(pid), resource.RLIMIT_NOFILE, (1000, 1000)),
    "call": call_by_number,
}


def attempt(what: str, at: str) -> str:
    """``done``, or the name of the error."""
    try:
        TRIES[what](at)
    except OSError as error:
        return type(error).__name__
    return "done"


def make(question: dict[str, Any]) -> dict[str, Any]:
    request = question["requests"][0]
    tries = json.loads(Path(request["art"]).read_text())
    told = [attempt(*one) for one in tries]
    (Path(request["out"]) / "film.pdf").write_text(json.dumps(told))
    film = {"suffix": "", "files": {"pdf": "film.pdf"}, "proof": "film.pdf", "record": {}}
    return {"films": [film]}


if __name__ == "__main__":
    if len(sys.argv) > 1:  # without a sandbox
        signal.signal(signal.SIGPIPE, signal.SIG_IGN)
        print(attempt(*sys.argv[1:]))
    else:
        sys.exit(answer_parent(make))
