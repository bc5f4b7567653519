"""The filter for system calls, run step by step as the kernel would (seccomp(2), bpf)."""

from __future__ import annotations

import ctypes
import errno
import os
import re
import struct
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.worker import system_calls
from filmhand.worker.system_calls import filter_calls, program

# <linux/audit.h>: AUDIT_ARCH_X86_64, AUDIT_ARCH_AARCH64 and AUDIT_ARCH_I386
MARKS = {"x86_64": 0xC000003E, "aarch64": 0xC00000B7, "i386": 0x40000003}
HEADERS = {"x86_64": "x86_64-linux-gnu/asm/unistd_64.h", "aarch64": "asm-generic/unistd.h"}
ALLOWED, REFUSED, UNKNOWN = 0, errno.EPERM, errno.ENOSYS
# <linux/sched.h>: CLONE_NEWTIME, NEWNS, NEWCGROUP, NEWUTS, NEWIPC, NEWUSER, NEWPID, NEWNET
NAMESPACES = [0x80, 0x20000, 0x2000000, 0x4000000, 0x8000000, 0x10000000, 0x20000000, 0x40000000]


def judged(code: bytes, number: int, mark: int, *arguments: int) -> int:
    """The errno that a call gets, 0 if it is allowed; <linux/filter.h>, <linux/seccomp.h>."""
    padded = (*arguments, 0, 0, 0, 0, 0, 0)[:6]
    data = struct.pack("<iIQ6Q", number, mark, 0x7F00_0000_1234, *padded)
    steps = list(struct.iter_unpack("=HBBI", code))
    held, place = 0, 0
    while True:
        operation, true, false, value = steps[place]
        place += 1
        match operation:
            case 0x20:  # BPF_LD | BPF_W | BPF_ABS
                (held,) = struct.unpack_from("<I", data, value)
            case 0x15:  # BPF_JMP | BPF_JEQ | BPF_K
                place += true if held == value else false
            case 0x35:  # BPF_JGE
                place += true if held >= value else false
            case 0x45:  # BPF_JSET
                place += true if held & value else false
            case 0x06:  # BPF_RET | BPF_K: SECCOMP_RET_ALLOW, or SECCOMP_RET_ERRNO with its errno
                if value == 0x7FFF0000:
                    return 0
                assert value & 0xFFFF0000 == 0x00050000
                return value & 0xFFFF
            case _:
                raise AssertionError(f"no step {operation:#x}")


class Machine:
    """A machine's calls by name, and what the filter makes of them."""

    def __init__(self, name: str, *, own_pid: int | None = None) -> None:
        self.name = name
        self.code = program(name, own_pid=own_pid)

    def number(self, call: str) -> int:
        named = system_calls.REFUSED | system_calls.CLONE | system_calls.CLONE3
        named |= system_calls.TO_ITSELF | system_calls.LIMITS_OF
        number = named[call][list(HEADERS).index(self.name)]
        assert number is not None
        return number

    def gets(self, number: int, *arguments: int) -> int:
        return judged(self.code, number, MARKS[self.name], *arguments)


@pytest.fixture(params=list(HEADERS))
def machine(request: pytest.FixtureRequest) -> Machine:
    return Machine(request.param)


def test_every_call_of_the_kernel_is_judged_by_its_name(machine: Machine) -> None:
    file = Path("/usr/include") / HEADERS[machine.name]
    if not file.is_file():
        pytest.skip(f"{file} is not installed (linux-libc-dev)")
    found = re.findall(r"#define __NR(?:3264)?_(\w+)\s+(\d+)", file.read_text())
    assert len(found) > 250
    refused = set()
    for name, number in found:
        told = machine.gets(int(number))
        if told == REFUSED:
            refused.add(name)
        else:
            assert told == (UNKNOWN if name == "clone3" else ALLOWED), name
    assert refused == set(system_calls.REFUSED) & {name for name, _ in found}


def test_what_is_newer_than_many_headers_is_refused_by_its_number(machine: Machine) -> None:
    """From the kernel's own table: fchmodat2 since 6.6, setxattrat and removexattrat since 6.13."""
    assert [machine.gets(number) for number in (452, 463, 466)] == [REFUSED] * 3


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        # read write close fstat mmap brk openat exit_group, from the kernel's tables
        ("x86_64", [0, 1, 3, 5, 9, 12, 257, 231]),
        ("aarch64", [63, 64, 57, 80, 222, 214, 56, 94]),
    ],
)
def test_what_decoding_needs_is_allowed(name: str, numbers: list[int]) -> None:
    assert [Machine(name).gets(number) for number in numbers] == [ALLOWED] * 8


def test_calls_for_another_machine_are_refused(machine: Machine) -> None:
    for name, mark in MARKS.items():
        told = judged(machine.code, 3, mark)  # close; brk or so elsewhere
        assert told == (ALLOWED if name == machine.name else REFUSED)


def test_the_second_set_of_calls_of_x86_64_is_refused() -> None:
    """Numbers from 0x40000000 on, __X32_SYSCALL_BIT, reach the same calls by another way."""
    machine = Machine("x86_64")
    assert machine.gets(0x3FFFFFFF) == ALLOWED
    assert machine.gets(0x40000000) == REFUSED
    assert machine.gets(0x40000000 + 41) == REFUSED
    assert Machine("aarch64").gets(0x40000000) == ALLOWED  # there is no such set


def test_forks_are_allowed_and_new_namespaces_are_not(machine: Machine) -> None:
    clone = machine.number("clone")
    for flags in (17, 0x1200011, 0x3D0F00, ~sum(NAMESPACES) & 0xFFFFFFFF):  # SIGCHLD; a thread's
        assert machine.gets(clone, flags) == ALLOWED
    for flag in NAMESPACES:
        assert machine.gets(clone, flag | 17) == REFUSED
    assert machine.gets(machine.number("clone3"), 17) == UNKNOWN


def test_limits_of_this_process_may_be_set_and_no_others(machine: Machine) -> None:
    limits = machine.number("prlimit64")
    assert [machine.gets(limits, pid, 7) for pid in (0, 1, 5000)] == [ALLOWED, REFUSED, REFUSED]


def test_signals_go_to_this_process_only_where_that_is_wanted(machine: Machine) -> None:
    bound = Machine(machine.name, own_pid=4321)
    for call in ("kill", "tgkill"):
        number = machine.number(call)
        assert [bound.gets(number, pid, 9) for pid in (4321, 4320, 0, 0xFFFFFFFF)] == [
            ALLOWED,
            *[REFUSED] * 3,
        ]
        assert machine.gets(number, 4320, 9) == ALLOWED
    assert bound.gets(3) == ALLOWED


# --- handing it to the kernel -------------------------------------------------------------------


@pytest.fixture
def kernel(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    seen = SimpleNamespace(asked=[], answer=0)

    def prctl(what: int, how: int, given: Any, *rest: int) -> int:
        (length, text), size = (given._obj.length, given._obj.filter), len(given._obj.filter)
        assert size <= 8 * length  # ctypes ends it at the first zero
        place = ctypes.cast(ctypes.byref(given._obj, type(given._obj).filter.offset),
                            ctypes.POINTER(ctypes.c_void_p))  # fmt: skip
        code = ctypes.string_at(place[0], 8 * length)
        assert code.startswith(text)
        seen.asked.append((what, how, code, *rest))
        return int(seen.answer)

    library = SimpleNamespace(prctl=prctl)
    monkeypatch.setattr(system_calls.ctypes, "CDLL", lambda *_, **__: library)
    monkeypatch.setattr(system_calls.os, "uname", lambda: SimpleNamespace(machine="x86_64"))
    monkeypatch.setattr(system_calls.sys, "platform", "linux")
    return seen


def test_the_filter_is_given_to_the_kernel_whole(kernel: SimpleNamespace) -> None:
    """<linux/prctl.h>: PR_SET_SECCOMP is 22, and SECCOMP_MODE_FILTER 2 of <linux/seccomp.h>."""
    assert filter_calls(own_signals=False) is True
    assert filter_calls(own_signals=True) is True
    free, own = program("x86_64", own_pid=None), program("x86_64", own_pid=os.getpid())
    assert kernel.asked == [(22, 2, free, 0, 0), (22, 2, own, 0, 0)]
    kernel.answer = -1
    assert filter_calls(own_signals=False) is False


@pytest.mark.parametrize(("system", "machine"), [("darwin", "x86_64"), ("linux", "riscv64")])
def test_elsewhere_nothing_is_filtered(
    kernel: SimpleNamespace, monkeypatch: pytest.MonkeyPatch, system: str, machine: str
) -> None:
    monkeypatch.setattr(system_calls.sys, "platform", system)
    monkeypatch.setattr(system_calls.os, "uname", lambda: SimpleNamespace(machine=machine))
    assert filter_calls(own_signals=True) is False
    assert kernel.asked == []
