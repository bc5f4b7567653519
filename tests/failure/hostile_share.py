"""A pass-through share that misbehaves on demand: ``hostile_share.py BEHIND MOUNT FAULTS``.

What lies in BEHIND shows under MOUNT, as on a network share: no events for changes by others, no
rename without replacing (the older FUSE interface has none). FAULTS is a JSON file that tests
rewrite at any time, a list of rules; the first that fits an operation is applied to it:

=========  ==========================================================================
operation  its name here, such as ``rename``; ``*`` fits all
path       a part of the path that must be in it
error      the name of the error that is answered, such as ``ESTALE``
after      true: the operation takes place, and then the error is answered all the same
delay      seconds until the answer
skip       so many fitting operations go well first
times      so many go wrong, and then all is well
chance     the part of the operations that go wrong, by a seeded generator
=========  ==========================================================================

Every operation that went wrong is one line in FAULTS.hits, so that tests know their fault was met.
"""

from __future__ import annotations

import contextlib
import errno
import functools
import json
import os
import random
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mfusepy


def faulty(method: Callable[..., Any]) -> Callable[..., Any]:
    """Let the rules have their way with an operation."""

    @functools.wraps(method)
    def operation(share: HostileShare, *arguments: Any) -> Any:
        rule = share.rule_for(method.__name__, [a for a in arguments if isinstance(a, str)])
        if rule is None:
            return method(share, *arguments)
        time.sleep(rule.get("delay", 0))
        result = None
        if rule.get("after") or "error" not in rule:
            result = method(share, *arguments)
        if "error" in rule:
            raise mfusepy.FuseOSError(getattr(errno, rule["error"]))
        return result

    return operation


class HostileShare(mfusepy.Operations):  # type: ignore[misc]
    """The operations; paths begin with a slash and mean files in `behind`."""

    use_ns = True

    def __init__(self, behind: Path, faults: Path) -> None:
        self._behind = str(behind)
        self._faults = faults
        self._lock = threading.Lock()
        self._rules: list[dict[str, Any]] = []
        self._read: object = None
        self._chance = random.Random(1)

    def rule_for(self, operation: str, paths: list[str]) -> dict[str, Any] | None:
        """The rule that this operation falls under now."""
        with self._lock:
            self._look_at_faults()
            for rule in self._rules:
                if rule.get("operation", "*") not in {"*", operation}:
                    continue
                if not any(rule.get("path", "") in path for path in paths or [""]):
                    continue
                if rule.get("skip", 0) > 0:
                    rule["skip"] -= 1
                    continue
                if rule.get("times", 1) <= 0 or self._chance.random() >= rule.get("chance", 1):
                    continue
                if "times" in rule:
                    rule["times"] -= 1
                with self._faults.with_suffix(".hits").open("a") as hits:
                    hits.write(f"{operation} {' '.join(paths)}\n")
                return rule
        return None

    def _look_at_faults(self) -> None:
        with contextlib.suppress(FileNotFoundError):
            found = self._faults.stat()
            if (found.st_ino, found.st_mtime_ns) != self._read:
                self._read = found.st_ino, found.st_mtime_ns
                self._rules = json.loads(self._faults.read_text())

    def _real(self, path: str) -> str:
        return self._behind + path

    @faulty
    def getattr(self, path: str, fh: int | None = None) -> dict[str, Any]:
        found = os.lstat(self._real(path))
        told = {key: getattr(found, key) for key in dir(found) if key.startswith("st_")}
        return told | {f"st_{a}time": told[f"st_{a}time_ns"] for a in "amc"}

    @faulty
    def readdir(self, path: str, fh: int) -> list[tuple[str, dict[str, int], int]]:
        with os.scandir(self._real(path)) as entries:
            inside = [(e.name, e.stat(follow_symlinks=False)) for e in entries]
        here = os.lstat(self._real(path))
        return [
            (name, {"st_mode": found.st_mode, "st_ino": found.st_ino}, 0)
            for name, found in [(".", here), ("..", here), *inside]
        ]

    @faulty
    def readlink(self, path: str) -> str:
        return os.readlink(self._real(path))  # noqa: PTH115

    @faulty
    def symlink(self, target: str, source: str) -> None:
        os.symlink(source, self._real(target))  # noqa: PTH211

    @faulty
    def mkdir(self, path: str, mode: int) -> None:
        os.mkdir(self._real(path), mode)  # noqa: PTH102

    @faulty
    def rmdir(self, path: str) -> None:
        os.rmdir(self._real(path))  # noqa: PTH106

    @faulty
    def unlink(self, path: str) -> None:
        os.unlink(self._real(path))  # noqa: PTH108

    @faulty
    def rename(self, old: str, new: str) -> None:
        os.rename(self._real(old), self._real(new))  # noqa: PTH104

    @faulty
    def link(self, target: str, source: str) -> None:
        os.link(self._real(source), self._real(target))

    @faulty
    def chmod(self, path: str, mode: int) -> None:
        os.chmod(self._real(path), mode)  # noqa: PTH101

    @faulty
    def chown(self, path: str, uid: int, gid: int) -> None:
        os.lchown(self._real(path), uid, gid)

    @faulty
    def utimens(self, path: str, times: tuple[int, int]) -> None:
        os.utime(self._real(path), ns=times, follow_symlinks=False)

    @faulty
    def open(self, path: str, flags: int) -> int:
        # The kernel has worked out the place of an append by itself.
        return os.open(self._real(path), flags & ~os.O_APPEND)

    @faulty
    def create(self, path: str, mode: int, fi: Any = None) -> int:
        return os.open(self._real(path), os.O_RDWR | os.O_CREAT | os.O_EXCL, mode)

    @faulty
    def read(self, path: str, size: int, offset: int, fh: int) -> bytes:
        return os.pread(fh, size, offset)

    @faulty
    def write(self, path: str, data: bytes, offset: int, fh: int) -> int:
        return os.pwrite(fh, data, offset)

    @faulty
    def truncate(self, path: str, length: int, fh: int | None = None) -> None:
        os.truncate(self._real(path), length)

    @faulty
    def fsync(self, path: str, datasync: int, fh: int) -> None:
        os.fsync(fh)

    @faulty
    def fsyncdir(self, path: str, datasync: int, fh: int) -> None:
        pass

    def release(self, path: str, fh: int) -> None:
        os.close(fh)

    def statfs(self, path: str) -> dict[str, int]:
        found = os.statvfs(self._real(path))
        return {key: getattr(found, key) for key in dir(found) if key.startswith("f_")}


if __name__ == "__main__":
    mfusepy.FUSE(
        HostileShare(Path(sys.argv[1]), Path(sys.argv[3])),
        sys.argv[2],
        foreground=True,
        use_ino=True,
        entry_timeout=0,
        attr_timeout=0,
        negative_timeout=0,
        nonempty=True,
    )
