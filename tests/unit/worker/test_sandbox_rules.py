"""What Landlock is told for a job's process, bit by bit, and what it may be kept from.

Bits, numbers and versions are those of <linux/landlock.h> and landlock(7).
"""

from __future__ import annotations

import ctypes
import os
import runpy
import socket
import struct
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.errors import EnvironmentTrouble
from filmhand.worker import sandbox, sandbox_trial
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.sandbox import Confinement

EXECUTE, WRITE_FILE, READ_FILE, READ_DIR, REMOVE_DIR, REMOVE_FILE = (1 << bit for bit in range(6))
MAKE_CHAR, MAKE_DIR, MAKE_REG, MAKE_SOCK, MAKE_FIFO, MAKE_BLOCK, MAKE_SYM = (
    1 << bit for bit in range(6, 13)
)
REFER, TRUNCATE, IOCTL_DEV = 1 << 13, 1 << 14, 1 << 15
FIRST_VERSION = 2 * MAKE_SYM - 1  # all rights of version 1
WORK = READ_FILE | READ_DIR | WRITE_FILE | REMOVE_DIR | REMOVE_FILE | MAKE_DIR | MAKE_REG


class Kernel:
    """Notes what it is asked; `rules` says by place what was allowed there."""

    def __init__(self) -> None:
        self.version = 6
        self.made: list[tuple[int, ...]] = []
        self.rules: dict[str, int] = {}
        self.control: list[tuple[int, int]] = []
        self.bound = False
        self.descriptors: list[int] = []
        self.fails_at = 0

    def call(self, number: int, *given: Any) -> int:
        if number == self.fails_at:
            raise OSError(22, "Invalid argument")
        match number, given:
            case 444, (None, ctypes.c_size_t(value=0), 1):  # LANDLOCK_CREATE_RULESET_VERSION
                return self.version
            case 444, (bytes() as bounds, ctypes.c_size_t(value=size), 0):
                assert size == len(bounds)
                self.made.append(struct.unpack(f"={size // 8}Q", bounds))
                self.descriptors.append(os.open(os.devnull, os.O_RDONLY))
                return self.descriptors[0]
            case 445, (rules, 1, bytes() as rule, 0):  # LANDLOCK_RULE_PATH_BENEATH
                assert rules == self.descriptors[0] and not self.bound
                rights, place = struct.unpack("=Qi", rule)
                where = os.readlink(f"/proc/self/fd/{place}")  # noqa: PTH115
                assert rights and where not in self.rules
                self.rules[where] = rights
                self.descriptors.append(place)
                return 0
            case 446, (rules, 0):
                assert rules == self.descriptors[0]
                self.bound = True
                return 0
        raise AssertionError((number, given))


@pytest.fixture
def kernel(monkeypatch: pytest.MonkeyPatch) -> Kernel:
    one = Kernel()
    monkeypatch.setattr(sandbox, "_call", one.call)
    monkeypatch.setattr(sandbox, "_control", lambda *given: one.control.append(given))
    monkeypatch.setattr(sandbox, "_needed", lambda: iter(()))
    monkeypatch.setattr(sandbox, "filter_calls", lambda *, own_signals: own_signals)
    monkeypatch.setattr(sandbox.sys, "platform", "linux")
    return one


@pytest.mark.parametrize(
    ("version", "rights", "bounds"),
    [
        (1, FIRST_VERSION, []),
        (2, FIRST_VERSION | REFER, []),
        (3, FIRST_VERSION | REFER | TRUNCATE, []),
        (4, FIRST_VERSION | REFER | TRUNCATE, [3]),  # binding and connecting of TCP
        (5, FIRST_VERSION | REFER | TRUNCATE | IOCTL_DEV, [3]),
        (6, FIRST_VERSION | REFER | TRUNCATE | IOCTL_DEV, [3, 3]),  # abstract sockets, signals
        (9, FIRST_VERSION | REFER | TRUNCATE | IOCTL_DEV, [3, 3]),
    ],
)
def test_a_jobs_process_is_bound_as_far_as_the_system_can(
    kernel: Kernel, tmp_path: Path, version: int, rights: int, bounds: list[int]
) -> None:
    kernel.version = version
    art, work = tmp_path / "art.png", tmp_path / "work"
    art.touch()
    for folder in (work, tmp_path / "tiles"):
        folder.mkdir()
    held = sandbox.confine([art, tmp_path / "tiles", tmp_path / "gone"], [work])
    assert held == Confinement(version, calls_filtered=version < 6)  # the filter sees to signals
    assert kernel.control == [(38, 1)]  # PR_SET_NO_NEW_PRIVS, <linux/prctl.h>
    assert kernel.made == [(rights, *bounds)]
    assert kernel.rules == {
        str(art): READ_FILE,
        str(tmp_path / "tiles"): READ_FILE | READ_DIR,
        "/dev/null": READ_FILE | WRITE_FILE,
        str(work): (WORK | REFER | TRUNCATE) & rights,
    }
    assert kernel.bound
    for descriptor in kernel.descriptors:
        with pytest.raises(OSError, match="Bad file descriptor"):
            os.fstat(descriptor)


def test_a_file_to_write_may_be_cut_and_nothing_made_in_it(kernel: Kernel, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    sandbox.confine([], [tmp_path / "file"])
    assert kernel.rules[str(tmp_path / "file")] == READ_FILE | WRITE_FILE | TRUNCATE


def test_a_system_without_landlock_binds_nothing(
    kernel: Kernel, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel.version = 0
    assert sandbox.confine([], []) == Confinement(0, calls_filtered=True)
    kernel.fails_at = 444
    assert sandbox.landlock_version() == 0
    kernel.fails_at, kernel.version = 0, 4
    assert sandbox.landlock_version() == 4
    monkeypatch.setattr(sandbox.sys, "platform", "darwin")
    assert sandbox.landlock_version() == 0
    assert not kernel.made


@pytest.mark.parametrize("fails_at", [445, 446])
def test_what_could_not_be_bound_does_not_go_on(kernel: Kernel, fails_at: int) -> None:
    kernel.fails_at = fails_at
    with pytest.raises(EnvironmentTrouble, match="bound to its folders: Invalid argument"):
        sandbox.confine([], [])
    with pytest.raises(OSError, match="Bad file descriptor"):
        os.fstat(kernel.descriptors[0])


def test_what_python_loads_can_be_read_and_people_s_own_cannot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "home" / "ann"
    (home / "src").mkdir(parents=True)
    search = ["", "/", str(tmp_path), str(home), str(home / "src"), str(tmp_path / "other"), "here"]
    monkeypatch.setattr(sandbox.sys, "path", search)
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("LD_LIBRARY_PATH", "/opt/one:/opt/two")
    needed = set(sandbox._needed())
    assert {home / "src", tmp_path / "other", Path("/opt/one"), Path("/opt/two")} <= needed
    assert Path(sys.base_prefix) in needed
    assert {Path("/proc/self"), Path("/lib"), Path("/dev/urandom"), Path("/etc/fonts")} <= needed
    assert home / ".local/share/fonts" in needed
    assert not needed & {Path(), Path("/"), Path("here"), tmp_path, home.parent, home}


def test_whoever_has_no_home_can_load_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none() -> Path:
        raise RuntimeError

    monkeypatch.setattr(sandbox.Path, "home", none)
    monkeypatch.setattr(sandbox.sys, "path", [str(tmp_path)])
    needed = set(sandbox._needed())
    assert {tmp_path, Path("/lib")} <= needed
    assert not any(path.name == ".fonts" for path in needed)


# --- asking the kernel itself -------------------------------------------------------------------


def test_the_kernels_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[Any, ...]] = []
    library = SimpleNamespace(prctl=lambda *given: asked.append(given))
    monkeypatch.setattr(sandbox, "_library", lambda: library)
    sandbox.keep_from_workers()
    # <linux/prctl.h>: PR_CAP_AMBIENT, PR_CAP_AMBIENT_CLEAR_ALL
    assert asked == [(47, 4, 0, 0, 0)]
    del library.prctl
    sandbox.keep_from_workers()  # as on a system that has no such call
    for answer in (0, 7):
        library.syscall = lambda number, *given, answer=answer: answer + 0 * given[0]
        assert sandbox._call(445, 3) == answer

    def refuse(number: Any, *given: object) -> int:
        ctypes.set_errno(13)
        return -1

    library.syscall = refuse
    with pytest.raises(PermissionError, match="Permission denied"):
        sandbox._call(445, 3)


# --- what a trial finds -------------------------------------------------------------------------


@pytest.fixture
def confined(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, Any]]:
    """What the trial asks to be bound to; nothing is."""
    asked: list[tuple[Any, Any]] = []

    def confine(readable: Any, writable: Any) -> Confinement:
        asked.append((readable, writable))
        return Confinement(3, calls_filtered=True)

    for module in (sandbox, sandbox_trial):
        monkeypatch.setattr(module, "confine", confine)
    return asked


def test_a_trial_tells_what_it_could_reach(
    tmp_path: Path, confined: list[tuple[Any, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").touch()
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
        told = sandbox_trial._try(tmp_path / "file", port, [2**30, os.getpid()])
        assert told == sandbox_trial.Reach(3, True, files=True, network=True, signals=True)
    told = sandbox_trial._try(tmp_path / "gone", port, [2**30])  # nobody listens, no such process
    assert told == sandbox_trial.Reach(3, True, files=False, network=False, signals=False)
    assert confined == [([], [tmp_path])] * 2


def test_a_trial_is_told_what_to_try_and_prints_what_it_found(
    tmp_path: Path,
    confined: list[tuple[Any, Any]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(sys, "argv", ["trial", str(tmp_path / "gone"), "1", str(os.getpid())])
    monkeypatch.delitem(sys.modules, "filmhand.worker.sandbox_trial")
    runpy.run_module("filmhand.worker.sandbox_trial", run_name="__main__")
    assert capsys.readouterr().out == (
        '{"landlock": 3, "calls_filtered": true, "files": false, "network": false, '
        '"signals": true}\n'
    )


def test_doctor_starts_a_trial_beside_a_file_and_a_port(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not bound at all, it reaches all three: they are there to be reached."""
    (tmp_path / "free_trial.py").write_text(
        "import runpy\nfrom filmhand.worker import sandbox\n"
        "sandbox.confine = lambda *_: sandbox.Confinement(0, calls_filtered=False)\n"
        "runpy.run_module('filmhand.worker.sandbox_trial', run_name='__main__')\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    start = ForkServer.start

    def freely(forks: ForkServer, folder: Path, *, module: str, arguments: list[str]) -> Any:
        assert module == "filmhand.worker.sandbox_trial"
        assert not any(folder.iterdir())
        return start(forks, folder, module="free_trial", arguments=arguments)

    monkeypatch.setattr(ForkServer, "start", freely)
    told = sandbox_trial.reach_of_a_job()
    assert told == sandbox_trial.Reach(0, False, files=True, network=True, signals=True)
