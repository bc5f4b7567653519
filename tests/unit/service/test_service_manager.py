"""Words to the service manager, as sd_notify(3) of systemd describes the protocol."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from filmhand.service.service_manager import ServiceManager, watchdog_seconds


@pytest.fixture
def listener(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        channel.bind(str(tmp_path / "notify"))
        channel.settimeout(2)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        yield channel


def test_each_word_is_one_datagram(listener: socket.socket) -> None:
    manager = ServiceManager()
    manager.ready()
    manager.alive()
    manager.stopping()
    assert [listener.recv(100) for _ in range(3)] == [b"READY=1", b"WATCHDOG=1", b"STOPPING=1"]


def test_reloading_tells_the_monotonic_time(listener: socket.socket) -> None:
    ServiceManager().reloading()
    first, second = listener.recv(100).decode().split("\n")
    assert first == "RELOADING=1"
    assert second.startswith("MONOTONIC_USEC=") and int(second.partition("=")[2]) > 0


def test_a_status_is_one_line_and_said_when_it_changes(listener: socket.socket) -> None:
    manager = ServiceManager()
    manager.status("a\nREADY=1")
    manager.status("a\nREADY=1")
    manager.status("x" * 1000)
    assert listener.recv(100) == b"STATUS=a READY=1"
    assert listener.recv(2000) == b"STATUS=" + b"x" * 200


def test_an_abstract_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        channel.bind(f"\0filmhand-test-{os.getpid()}")
        channel.settimeout(2)
        monkeypatch.setenv("NOTIFY_SOCKET", f"@filmhand-test-{os.getpid()}")
        ServiceManager().alive()
        assert channel.recv(100) == b"WATCHDOG=1"


def test_a_socket_that_nobody_reads_stops_nothing(listener: socket.socket) -> None:
    manager = ServiceManager()
    for _ in range(10_000):  # far more than a queue holds
        manager.alive()
    listener.close()
    manager.alive()


def test_without_a_manager_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    made: list[object] = []
    monkeypatch.setattr(socket, "socket", lambda *a: made.append(a))
    ServiceManager().alive()
    assert not made


@pytest.mark.parametrize(
    ("usec", "pid", "expected"),
    [
        ("120000000", None, 120.0),
        ("120000000", "own", 120.0),
        ("120000000", "1", None),
        (None, None, None),
        ("soon", None, None),
    ],
)
def test_the_watchdog_is_meant_for_one_process(
    monkeypatch: pytest.MonkeyPatch, usec: str | None, pid: str | None, expected: float | None
) -> None:
    for name, value in (("WATCHDOG_USEC", usec), ("WATCHDOG_PID", pid)):
        monkeypatch.delenv(name, raising=False)
        if value is not None:
            monkeypatch.setenv(name, str(os.getpid()) if value == "own" else value)
    assert watchdog_seconds() == expected
