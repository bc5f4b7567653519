"""A share that tests can spoil: :mod:`hostile_share` mounted, with the words to steer it.

Needs Linux, /dev/fuse, the FUSE library of generation 2 with mfusepy, and the right to mount;
tests that use the fixture are skipped with the reason where one is missing.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

_SERVER = Path(__file__).with_name("hostile_share.py")


class Share:
    """A mounted share; `behind` is where its files really lie."""

    def __init__(self, folder: Path) -> None:
        self.behind = folder / "behind"
        self.mount = folder / "share"
        self._faults = folder / "faults.json"
        self._hits = folder / "faults.hits"
        self._server: subprocess.Popen[bytes] | None = None
        self.behind.mkdir()
        self.mount.mkdir()
        self.connect()

    def connect(self) -> None:
        """Start the server and mount."""
        self.faults()
        command = [sys.executable, str(_SERVER), str(self.behind), str(self.mount)]
        log = self._faults.with_name("share.log")
        with log.open("wb") as stderr:
            self._server = subprocess.Popen([*command, str(self._faults)], stderr=stderr)
        until = time.monotonic() + 20
        while not os.path.ismount(self.mount):
            if self._server.poll() is not None:
                why = log.read_text().strip().splitlines()
                pytest.skip(f"FUSE cannot be mounted here: {why[-1] if why else 'no reason given'}")
            assert time.monotonic() < until
            time.sleep(0.02)

    def faults(self, *rules: dict[str, Any]) -> None:
        """From now on these rules hold, and no others."""
        fresh = self._faults.with_suffix(".new")
        fresh.write_text(json.dumps(rules))
        fresh.replace(self._faults)

    def hits(self) -> int:
        """How many operations have gone wrong so far."""
        return len(self._hits.read_text().splitlines()) if self._hits.exists() else 0

    def break_off(self) -> None:
        """The server dies: everything answers that there is no connection."""
        if self._server is not None:
            self._server.kill()
            self._server.wait()

    def unmount(self) -> None:
        """The share is gone; the empty folder below shows."""
        for command in (["umount", "-l"], ["fusermount3", "-uz"], ["fusermount", "-uz"]):
            with contextlib.suppress(FileNotFoundError):
                done = subprocess.run([*command, self.mount], capture_output=True, check=False)
                if done.returncode == 0:
                    break
        self.break_off()


@pytest.fixture
def share(tmp_path: Path) -> Iterator[Share]:
    """A share, mounted."""
    try:
        import mfusepy
    except (ImportError, OSError) as error:
        pytest.skip(f"mfusepy or the FUSE library is missing: {error}")

    if not Path("/dev/fuse").exists():
        pytest.skip("this system has no /dev/fuse")
    if mfusepy.fuse_version_major != 2:
        pytest.skip("the FUSE library of generation 2 is missing; 3 says nothing of rename's flags")
    made = Share(tmp_path)
    yield made
    made.faults()
    made.unmount()


class SmallDisk:
    """A disk of a few megabytes in memory."""

    def __init__(self, folder: Path, *, megabytes: int = 4) -> None:
        self.folder = folder
        self._ballast = folder / ".ballast"
        folder.mkdir()
        self.mount(f"size={megabytes}m")

    def mount(self, options: str) -> None:
        """Mount, or mount again with other options."""
        if shutil.which("mount") is None:
            pytest.skip("this system has no mount command")
        command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(self.folder)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            pytest.skip(f"a disk in memory cannot be mounted here: {done.stderr.strip()}")

    def fill(self) -> None:
        """Leave no room at all."""
        with self._ballast.open("wb", buffering=0) as file:
            for size in (2**16, 2**12):
                with contextlib.suppress(OSError):
                    while True:
                        file.write(bytes(size))

    def free(self) -> None:
        """Give the room back."""
        self._ballast.unlink(missing_ok=True)

    def close(self) -> None:
        """Unmount it."""
        subprocess.run(["umount", "-l", str(self.folder)], check=False)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[SmallDisk]:
    """A small disk, mounted."""
    disk = SmallDisk(tmp_path / "disk")
    yield disk
    disk.close()
