"""Threshold tiles kept on the local disk, since the same profile needs the same tile every time.

A tile takes up to some seconds to build and a few milliseconds to read. Whatever else takes as long
is kept in the same way (:func:`kept_body`). What cannot be read, or
does not hash to what its file says, is built again; what cannot be written is left. Nothing depends
on the folder, so it may be deleted at any time.

Of the processes that need a tile at the same time one builds it, and the others wait for that
(flock(2) on a file beside it, which the system lets go when its holder dies). Who has waited for
long, or cannot lock, builds the tile itself.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import struct
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np

from filmhand import __version__
from filmhand.pipeline.render.screen_plan import ScreenPlan
from filmhand.screen.lattice import TileBrick
from filmhand.screen.tile import ThresholdTile

_MARK = b"filmhand tile 1\n"
_SHAPE = struct.Struct("<QQQ")
_DIGEST = hashlib.sha256().digest_size
PATIENCE = 30.0
"""Seconds for which a tile that another process builds is waited for."""
_LOOK_EVERY = 0.02  # seconds
_KINDS = ("*.tile", "*.inks")
MOST_BYTES = 64 * 2**20
"""What the folder may hold; the tiles that were not used for longest go first."""


def tile_of(screen: ScreenPlan, folder: Path | None) -> ThresholdTile:
    """The tile of a screen, from the folder if it lies there, and put there if not."""
    if folder is None:
        return screen.tile()
    body = kept_body(folder / f"{_key(screen)}.tile", _MARK, lambda: _coded(screen.tile()))
    brick = TileBrick(*_SHAPE.unpack_from(body))
    thresholds = np.frombuffer(body, "<u2", offset=_SHAPE.size)
    return ThresholdTile(thresholds.astype(np.uint16).reshape(brick.height, brick.length), brick)


def _coded(tile: ThresholdTile) -> bytes:
    brick = tile.brick
    shape = _SHAPE.pack(brick.length, brick.height, brick.shift)
    return shape + tile.thresholds.astype("<u2").tobytes()


def kept_body(path: Path, mark: bytes, build: Callable[[], bytes]) -> bytes:
    """What a file of the folder holds, or what is built and put there if it is not.

    Parameters
    ----------
    path : whose name tells all that it depends on
    mark : what such files begin with
    """
    body = _read(path, mark)
    if body is None:
        with _others_waiting(path.with_suffix(".lock")):
            # Somebody else may have built it meanwhile.
            body = _read(path, mark)
            if body is None:
                body = build()
                with suppress(OSError):
                    _write(path, mark, body)
                    _prune(path.parent)
    return body


@contextmanager
def _others_waiting(path: Path) -> Iterator[None]:
    """Hold the lock, where that can be had before patience ends; the file is gone afterwards."""
    lock = None
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        lock = _lock(path)
    try:
        yield
    finally:
        if lock is not None:
            with suppress(OSError):
                path.unlink()
            fcntl.flock(lock, fcntl.LOCK_UN)  # also of forks that have the descriptor
            os.close(lock)


def _lock(path: Path) -> int | None:
    """The descriptor of a locked file; None where another process keeps it for too long."""
    until = time.monotonic() + PATIENCE
    while True:
        lock = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
        ours = False
        try:
            ours = _locked(lock, until) and _is_there(path, lock)
        finally:
            if not ours:
                os.close(lock)
        if ours:
            return lock
        if time.monotonic() >= until:
            return None


def _locked(lock: int, until: float) -> bool:
    """Wait for the lock; False where its time has come first."""
    while True:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                return False
            time.sleep(_LOOK_EVERY)
        else:
            return True


def _is_there(path: Path, lock: int) -> bool:
    """Whether the file that was locked is still the one of that name: its holder takes it away."""
    try:
        return os.path.samestat(os.fstat(lock), os.lstat(path))
    except FileNotFoundError:
        return False


def _key(screen: ScreenPlan) -> str:
    """Everything that the tile depends on, the program's version included."""
    inputs = (
        __version__,
        screen.grid,
        str(screen.dot),
        screen.smallest_dot,
        screen.smallest_shadow_dot,
    )
    return hashlib.sha256(repr(inputs).encode()).hexdigest()[:32]


def _read(path: Path, mark: bytes) -> bytes | None:
    try:
        data = path.read_bytes()
    except OSError:
        return None
    with suppress(OSError):
        os.utime(path)  # used just now
    body = data[len(mark) + _DIGEST :]
    if data[: -len(body) or None] != mark + hashlib.sha256(body).digest():
        return None
    return body


def _write(path: Path, mark: bytes, body: bytes) -> None:
    """Whole or not at all: the name appears by a rename."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(f".{os.getpid()}.part")
    try:
        part.write_bytes(mark + hashlib.sha256(body).digest() + body)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _prune(folder: Path) -> None:
    held = [(file.stat(), file) for kind in _KINDS for file in folder.glob(kind)]
    room = MOST_BYTES
    for status, file in sorted(held, key=lambda pair: -pair[0].st_mtime):
        room -= status.st_size
        if room < 0:
            file.unlink(missing_ok=True)
