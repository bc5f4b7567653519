"""A service that nobody looks after: a share that hangs, a manager that listens, a hasty stop."""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from test_service_doctor import filmhand
from test_service_station import PROFILE, Shop, shop, stop, wait_until

__all__ = ["shop"]


class Listener:
    """Stands in for the service manager: keeps every datagram with the time it came."""

    def __init__(self, path: Path) -> None:
        self.said: list[tuple[float, str]] = []
        self._channel = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._channel.bind(str(path))
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        while True:
            try:
                said = self._channel.recv(4096).decode()
            except OSError:
                return
            self.said.append((time.monotonic(), said))

    def words(self) -> list[str]:
        return [said for _, said in self.said]

    def close(self) -> None:
        self._channel.close()


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Listener]:
    listener = Listener(tmp_path / "notify")
    yield listener
    listener.close()


def hang(root: Path) -> Path:
    """Make the next sign of life in this folder hang in the system, as service_process arranges."""
    pipe = root.with_name(f"{root.name}.hangs")
    os.mkfifo(pipe)
    return pipe


def heal(pipe: Path) -> None:
    descriptor = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    pipe.unlink()
    os.close(descriptor)


def state_of(shop: Shop, name: str) -> str:
    """Empty while the service that has just begun does not tell of the profile yet."""
    profiles = shop.status()["profiles"]
    return next((one["state"] for one in profiles if one["name"] == name), "")


def test_a_share_that_hangs_stops_neither_the_others_nor_the_watchdog(
    shop: Shop, manager: Listener, tmp_path: Path
) -> None:
    shop.profile("away")
    environment = {"LATE": "1", "ALIVE_EVERY": "0.5", "NOTIFY_SOCKET": str(tmp_path / "notify")}
    service = shop.serve(**environment)
    wait_until((shop.root("away") / "drop").is_dir)
    wait_until(lambda: list((shop.root("away") / ".filmhand").glob("*/alive")))
    pipe = hang(shop.root("away"))
    wait_until(lambda: state_of(shop, "away") == "unreachable")
    hung_at = time.monotonic()
    shop.drop("b.png", b"art b", profile="away")
    for number in range(3):
        shop.drop(f"a{number}.png", b"art %d" % number)
    wait_until(lambda: all(shop.made(f"a{number}.png") for number in range(3)))
    assert not shop.made("b.png", "away")
    wait_until(
        lambda: len([at for at, w in manager.said if w == "WATCHDOG=1" and at > hung_at]) > 3
    )
    paused = next(one["paused"] for one in shop.status()["profiles"] if one["name"] == "away")
    assert "has not answered" in paused
    assert any("away: The folder" in word for word in manager.words() if "STATUS=" in word)
    heal(pipe)
    wait_until(lambda: shop.made("b.png", "away"))
    wait_until(lambda: state_of(shop, "away") == "working")
    assert [len(shop.said(event)) for event in ("unreachable", "answers again")] == [1, 1]
    assert stop(service) == 0


def test_work_that_hangs_on_a_share_is_replaced(shop: Shop) -> None:
    """All threads are in the hands of a folder that hangs; another profile's art is made."""
    shop.profile("away")
    service = shop.serve(LATE="1", ALIVE_EVERY="0.5", RENDER_SECONDS="600")
    wait_until((shop.root("away") / "drop").is_dir)
    for number in range(8):
        shop.drop(f"{number}.png", b"slow art %d" % number, profile="away")
    wait_until(lambda: len(list((shop.root("away") / ".filmhand").glob("*/*/held/*.png"))) >= 2)
    hang(shop.root("away"))
    wait_until(lambda: state_of(shop, "away") == "unreachable")
    held = list((shop.root("away") / ".filmhand").glob("*/*/held/*.png"))
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    assert list((shop.root("away") / ".filmhand").glob("*/*/held/*.png")) == held
    assert stop(service) == 0  # what hangs does not hold up the end


def test_the_manager_is_told_what_goes_on(shop: Shop, manager: Listener, tmp_path: Path) -> None:
    service = shop.serve(NOTIFY_SOCKET=str(tmp_path / "notify"))
    wait_until(lambda: "READY=1" in manager.words())
    service.send_signal(signal.SIGHUP)
    wait_until(
        lambda: any(word.startswith("RELOADING=1\nMONOTONIC_USEC=") for word in manager.words())
    )
    wait_until(lambda: manager.words().count("READY=1") == 2)
    wait_until(lambda: "STATUS=0 in work, 0 waiting" in manager.words())
    wait_until(lambda: manager.words().count("WATCHDOG=1") > 2)
    assert stop(service) == 0
    assert "STOPPING=1" in manager.words()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_second_signal_stops_at_once(shop: Shop, number: signal.Signals) -> None:
    service = shop.serve(RENDER_SECONDS="600")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: list((shop.root() / ".filmhand").glob("*/*/held/a.png")))
    service.send_signal(number)
    time.sleep(0.5)
    assert service.poll() is None  # the film in hand is being finished
    service.send_signal(number)
    assert service.wait(timeout=120) == 0
    assert list((shop.root() / ".filmhand").glob("*/*/held/a.png"))  # interrupted, not lost


def test_figures_are_kept_while_it_runs(shop: Shop, tmp_path: Path) -> None:
    figures = tmp_path / "filmhand.prom"
    shop.profile("faulty", "lpi: many\n")
    service = shop.serve(METRICS=str(figures))
    shop.drop("a.png", b"art")
    shop.drop("b.png", b"refuse")
    wait_until(lambda: shop.made("a.png") and (shop.root() / "rejected" / "b.png").exists())
    assert stop(service) == 0
    lines = figures.read_text().splitlines()
    for line in (
        'filmhand_jobs_total{profile="small",result="made"} 1',
        'filmhand_jobs_total{profile="small",result="refused"} 1',
        'filmhand_waiting{profile="small"} 0',
        'filmhand_reachable{profile="small"} 1',
        "filmhand_reload_failed 1",
    ):
        assert line in lines


def test_refused_art_is_tried_again_while_the_service_runs(shop: Shop) -> None:
    service = shop.serve()
    shop.drop("b.png", b"refuse")
    wait_until(lambda: shop.status()["counts"]["refused"] == 1)
    (entry,) = shop.status()["refused"]
    done = filmhand(shop, "retry", entry["job"])
    assert done.exit_code == 0
    assert "b.png is back in drop of small" in done.stdout
    wait_until(lambda: shop.status()["counts"]["refused"] == 2)
    assert filmhand(shop, "retry", entry["job"]).exit_code in {0, 1}
    assert stop(service) == 0
    assert not shop.said("filmhand itself failed")


def test_films_are_tidied_away_by_the_service(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    record = shop.root() / "records" / "a.json"
    record.write_text(record.read_text().replace('"at": "20', '"at": "19'))  # a hundred years ago
    for path in (record, *(shop.root() / "positives").iterdir()):
        os.utime(path, (1, 1))
    shop.profile("small", PROFILE + "keep: {films: 1 day, records: 2 days}\n")
    service = shop.serve()
    wait_until(lambda: shop.said("tidied away"))
    assert stop(service) == 0
    assert not list((shop.root() / "positives").iterdir())
    assert not record.exists()
    assert (shop.root() / "proofs" / "a.jpg").exists()
    assert (shop.root() / "originals" / "a.png").exists()


@pytest.mark.parametrize("word", ["serve", "once"])
def test_signals_that_other_programs_send_end_nothing(shop: Shop, word: str) -> None:
    """Tools that turn logs over send such signals to whatever they know the number of."""
    shop.drop("first.png", b"slow")
    process = shop.start(word, RENDER_SECONDS="2")
    wait_until(lambda: bool(shop.said("starts")))
    for _ in range(5):
        for number in (signal.SIGUSR1, signal.SIGUSR2, signal.SIGHUP, signal.SIGPIPE):
            process.send_signal(number)
            time.sleep(0.1)
    wait_until(lambda: shop.made("first.png"))
    assert (stop(process) if word == "serve" else process.wait(timeout=120)) == 0
