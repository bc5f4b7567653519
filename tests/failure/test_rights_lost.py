"""Rights that are lost and given back.

Root may do everything, so under root the service runs without the powers that make it so
(capabilities(7)): then the rights of files and folders hold for it as for anybody.
"""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import service_process
from job_harness import assert_invariants, assert_invariants_in_hand, files_in
from test_service_station import Shop, wait_until

NOBODY = 65534
_PR_CAPBSET_DROP = 24
_POWERS = (1, 2, 3)  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH, CAP_FOWNER of capability.h


def without_powers() -> None:
    """Between fork and exec: what is started now has none of the powers."""
    libc = ctypes.CDLL(None, use_errno=True)
    for power in _POWERS:
        libc.prctl(_PR_CAPBSET_DROP, power, 0, 0, 0)


class PlainShop(Shop):
    """A station whose service is bound by the rights of files."""

    def start(self, word: str, **environment: str) -> subprocess.Popen[bytes]:
        with self.log.open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, service_process.__file__, word, self.station, self.state],
                env={
                    **os.environ,
                    "PYTHONPATH": os.pathsep.join(sys.path),
                    "FIRST_PAUSE": "0.2",
                    "LONGEST_PAUSE": "0.5",
                    **environment,
                },
                stderr=log,
                preexec_fn=without_powers if os.geteuid() == 0 else None,  # noqa: PLW1509
            )
        self.started.append(process)
        return process

    def serve(self, **environment: str) -> subprocess.Popen[bytes]:
        process = self.start("serve", **environment)
        wait_until(lambda: self.status()["profiles"] and self.status()["running"])
        wait_until(lambda: list((self.root() / ".filmhand").glob("*/alive")))
        return process

    def put(self, name: str, data: bytes, *, owner: int | None = None) -> None:
        """Drop a file, whatever the rights of the folder are."""
        fresh = self.root() / "drop" / f".{name}"
        fresh.write_bytes(data)
        if owner is not None:
            os.chown(fresh, owner, owner)
        fresh.rename(fresh.with_name(name))


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[PlainShop]:
    shop = PlainShop(tmp_path)
    yield shop
    for process in shop.started:
        if process.poll() is None:
            process.kill()
        process.wait()
    for path in tmp_path.rglob("*"):
        if path.is_dir() and not path.is_symlink():
            path.chmod(0o755)


def only(shop: Shop) -> dict[str, Any]:
    (profile,) = shop.status()["profiles"]
    return dict(profile)


def test_once_names_what_it_may_not_read_and_leaves(shop: PlainShop) -> None:
    shop.drop("a.png", b"art a")
    shop.drop("closed.png", b"art closed")
    (shop.root() / "drop" / "closed.png").chmod(0)
    assert shop.once() == 0
    assert shop.made("a.png")
    (told,) = shop.said("left waiting")
    assert (told["profile"], told["name"]) == ("small", "closed.png")
    assert "filmhand cannot read closed.png" in told["why"]


@pytest.mark.parametrize("kind", ["positives", "records", "originals", ".filmhand", "rejected"])
def test_a_folder_that_may_not_be_written_pauses_and_goes_on(shop: PlainShop, kind: str) -> None:
    service = shop.serve()
    folder = shop.root() / kind
    if kind == ".filmhand":
        (folder,) = [path for path in folder.iterdir() if path.is_dir()]
    folder.chmod(0o555)
    contents = [b"art 1", b"refuse 2"]
    shop.put("a.png", contents[0])
    shop.put("b.png", contents[1])
    wait_until(lambda: only(shop)["paused"])
    assert "no right" in only(shop)["paused"]
    # It goes on with the other art, and folders are looked at one after another.
    service.send_signal(signal.SIGSTOP)
    os.waitpid(service.pid, os.WUNTRACED)
    assert_invariants_in_hand(shop.root(), contents)
    service.send_signal(signal.SIGCONT)
    assert len(shop.said("paused")) <= 3
    folder.chmod(0o755)
    wait_until(lambda: shop.made("a.png") and (shop.root() / "rejected" / "b.png").exists())
    service.send_signal(signal.SIGTERM)
    assert service.wait(timeout=120) == 0
    assert_invariants(shop.root(), contents)
    assert not shop.said("worker failed")


def test_a_drop_folder_that_may_not_be_read_pauses_and_goes_on(shop: PlainShop) -> None:
    service = shop.serve()
    (shop.root() / "drop").chmod(0o000)
    wait_until(lambda: only(shop)["paused"])
    (shop.root() / "drop").chmod(0o755)
    shop.put("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    service.send_signal(signal.SIGTERM)
    assert service.wait(timeout=120) == 0
    assert_invariants(shop.root(), [b"art"])


def test_art_that_may_not_be_moved_is_left_where_it_is_and_said(shop: PlainShop) -> None:
    """In a sticky folder only the owner may rename a file: nothing is made from what must stay."""
    if os.geteuid() != 0:
        pytest.skip("only root can give a folder and a file to somebody else")
    service = shop.serve()
    drop = shop.root() / "drop"
    os.chown(drop, NOBODY, NOBODY)
    drop.chmod(0o1777)
    shop.put("theirs.png", b"art of theirs", owner=NOBODY)
    shop.put("mine.png", b"art of mine")
    wait_until(lambda: shop.made("mine.png"))
    wait_until(lambda: "does not let filmhand move" in str(only(shop)["waiting"]))
    assert (drop / "theirs.png").read_bytes() == b"art of theirs"
    assert len(files_in(shop.root() / "records")) == 1
    assert not only(shop)["paused"]
    drop.chmod(0o777)
    wait_until(lambda: shop.made("theirs.png"), seconds=300)
    service.send_signal(signal.SIGTERM)
    assert service.wait(timeout=120) == 0
    assert_invariants(shop.root(), [b"art of theirs", b"art of mine"])
