"""A private Samba server on loopback and a client in user space, to drop art as other computers do.

Needs Linux, root, Debian's package samba, and smbprotocol; tests that use the fixture are skipped
with the reason where one is missing.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

_CONFIGURATION = """
[global]
server role = standalone server
workgroup = WORKGROUP
netbios name = STATION
disable netbios = yes
disable spoolss = yes
load printers = no
interfaces = 127.0.0.1/8
bind interfaces only = yes
smb ports = {port}
private dir = {state}/private
state directory = {state}/state
cache directory = {state}/cache
lock directory = {state}/lock
pid directory = {state}/pid
ncalrpc dir = {state}/ncalrpc
log file = {state}/log
map to guest = Bad User
guest account = nobody
server min protocol = SMB2

[station]
path = {folder}
read only = no
guest ok = yes
force user = nobody
force create mode = 0666
force directory mode = 0777
"""
_WAIT = 20.0


class Server:
    """One smbd whose only share is a folder; everybody may look into what lies above both."""

    def __init__(self, folder: Path, state: Path, port: int) -> None:
        self.port = port
        for name in ("private", "state", "cache", "lock", "pid", "ncalrpc"):
            (state / name).mkdir(parents=True)
        configuration = state / "smb.conf"
        configuration.write_text(_CONFIGURATION.format(port=port, state=state, folder=folder))
        command = [_smbd() or "", "--foreground", "--no-process-group", f"-s{configuration}"]
        with (state / "out").open("wb") as out:
            self.process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=out,
                cwd="/",
                start_new_session=True,  # as it ends it ends its whole process group
            )
        until = time.monotonic() + _WAIT
        while True:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                break
            why = (state / "out").read_text() + _text(state / "log")
            assert self.process.poll() is None, f"the Samba server ended: {why}"
            assert time.monotonic() < until, f"the Samba server does not answer: {why}"
            time.sleep(0.05)

    def end(self) -> None:
        """End it and the processes that it made for its clients."""
        self.process.terminate()
        try:
            self.process.wait(timeout=_WAIT)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


class Client:
    """Another computer with a connection of its own; names are those in the share."""

    def __init__(self, port: int) -> None:
        self._more: dict[str, Any] = {"port": port, "connection_cache": {}}
        import smbclient

        self._smb = smbclient
        smbclient.ClientConfig(require_secure_negotiate=False)  # guests have nothing to sign with
        self.session = smbclient.register_session(
            "127.0.0.1",
            username="shop",
            password="shop",
            auth_protocol="ntlm",
            require_signing=False,
            **self._more,
        )

    def _at(self, name: str) -> str:
        return "\\\\127.0.0.1\\station\\" + name.replace("/", "\\")

    def open(self, name: str, mode: str, share: str = "r") -> Any:
        """An open file; `share` is what others may do meanwhile: r, w, d."""
        return self._smb.open_file(
            self._at(name), mode=mode, buffering=0, share_access=share, **self._more
        )

    def put(self, name: str, data: bytes) -> None:
        """Copy a file into the share."""
        with self.open(name, "wb") as file:
            for start in range(0, len(data), 65536):
                file.write(data[start : start + 65536])

    def get(self, name: str) -> bytes:
        """Read a file of the share."""
        with self.open(name, "rb") as file:
            data: bytes = file.read()
        return data

    def names(self, folder: str) -> list[str]:
        """What a folder of the share shows."""
        return sorted(self._smb.listdir(self._at(folder), **self._more))

    def rename(self, name: str, to: str) -> None:
        """Give a file another name, which nothing may have."""
        self._smb.rename(self._at(name), self._at(to), **self._more)

    def remove(self, name: str) -> None:
        """Remove a file with no more rights than that takes: those of its folder."""
        from smbprotocol import open as smb

        self._create(
            name,
            smb.FilePipePrinterAccessMask.DELETE,
            smb.CreateDisposition.FILE_OPEN,
            smb.CreateOptions.FILE_DELETE_ON_CLOSE,
        ).close()

    def mkdir(self, name: str) -> None:
        """Make a folder."""
        self._smb.mkdir(self._at(name), **self._more)

    def open_with_oplock(self, name: str, *, write: bool) -> Any:
        """A file as a desktop opens it, which may keep what it writes to itself for a while."""
        from smbprotocol import open as smb

        access = smb.FilePipePrinterAccessMask
        file = self._create(
            name,
            access.GENERIC_READ | (access.GENERIC_WRITE if write else 0),
            smb.CreateDisposition.FILE_OPEN_IF if write else smb.CreateDisposition.FILE_OPEN,
            oplock=smb.RequestedOplockLevel.SMB2_OPLOCK_LEVEL_BATCH,
        )
        assert file.oplock_level == smb.RequestedOplockLevel.SMB2_OPLOCK_LEVEL_BATCH
        return file

    def _create(
        self, name: str, access: int, disposition: int, options: int = 0, oplock: int = 0
    ) -> Any:
        from smbprotocol import open as smb
        from smbprotocol.tree import TreeConnect

        tree = TreeConnect(self.session, "\\\\127.0.0.1\\station")
        tree.connect(require_secure_negotiate=False)
        file = smb.Open(tree, name.replace("/", "\\"))
        file.create(
            smb.ImpersonationLevel.Impersonation,
            access,
            smb.FileAttributes.FILE_ATTRIBUTE_NORMAL,
            smb.ShareAccess.FILE_SHARE_READ,
            disposition,
            smb.CreateOptions.FILE_NON_DIRECTORY_FILE | options,
            oplock_level=oplock,
        )
        return file

    def break_off(self) -> None:
        """The cable is pulled: nothing is closed."""
        self.session.connection.transport.close()


def _smbd() -> str | None:
    return shutil.which("smbd") or shutil.which("smbd", path="/usr/sbin:/usr/local/sbin")


def _text(path: Path) -> str:
    return path.read_text(errors="replace") if path.is_file() else ""


def why_not() -> str:
    """Why no Samba server can run here; empty if one can."""
    if os.geteuid() != 0:
        return "a private Samba server needs root"
    if _smbd() is None:
        return "there is no smbd (package samba)"
    try:
        import smbprotocol  # noqa: F401
    except ImportError:
        return "there is no smbprotocol"
    return ""


@contextlib.contextmanager
def samba(folder: Path, state: Path) -> Iterator[Server]:
    """A server that shares the folder."""
    if why := why_not():
        pytest.skip(why)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = Server(folder, state, port)
    try:
        yield server
    finally:
        server.end()
