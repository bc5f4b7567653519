"""The service as a process: starting, stopping, reloading, and what it tells."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import service_process
from job_harness import assert_invariants, files_in

from filmhand.service.station import Station

PROFILE = """
sheet: 8.5 x 11 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
settle: 200 ms
"""


def delete(folder: Path) -> None:
    """At one blow, or a running service would put things into what is being emptied."""
    away = folder.with_name(folder.name + " deleted")
    folder.rename(away)
    shutil.rmtree(away)


def wait_until(condition: Callable[[], object], seconds: float = 120) -> None:
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until, "it did not come in time"
        time.sleep(0.03)


class Shop:
    """A station with its state folder, and the processes that were started on it."""

    program = service_process.__file__

    def __init__(self, folder: Path) -> None:
        self.station = folder / "station"
        self.state = folder / "state"
        self.log = folder / "stderr"
        self.started: list[subprocess.Popen[bytes]] = []
        self.profile("small")

    def profile(self, name: str, text: str = PROFILE) -> None:
        path = self.station / "profiles" / f"{name}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)

    def root(self, name: str = "small") -> Path:
        return self.station / name

    def drop(self, name: str, data: bytes, profile: str = "small") -> None:
        path = self.root(profile) / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)

    def start(self, word: str, **environment: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, self.program, word]
        search = os.pathsep.join(sys.path)
        with self.log.open("ab") as log:
            process = subprocess.Popen(
                [*command, str(self.station), str(self.state)],
                env={**os.environ, "PYTHONPATH": search, **environment},
                stderr=log,
            )
        self.started.append(process)
        return process

    def once(self) -> int:
        return self.start("once").wait(timeout=60)

    def serve(self, **environment: str) -> subprocess.Popen[bytes]:
        process = self.start("serve", **environment)
        wait_until(lambda: self.status()["running"] and (self.root() / "drop").is_dir())
        return process

    def status(self) -> dict[str, Any]:
        return Station(self.station, state=self.state).status()

    def events(self) -> list[dict[str, Any]]:
        lines = self.log.read_text().splitlines() if self.log.exists() else []
        return [json.loads(line) for line in lines if line.startswith("{")]

    def said(self, event: str) -> list[dict[str, Any]]:
        return [line for line in self.events() if line["event"] == event]

    def made(self, name: str, profile: str = "small") -> bool:
        return (self.root(profile) / "originals" / name).exists()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path)
    yield shop
    for process in shop.started:
        if process.poll() is None:
            process.kill()
        process.wait()


def stop(process: subprocess.Popen[bytes]) -> int:
    process.send_signal(signal.SIGTERM)
    return process.wait(timeout=120)


# --- once ----------------------------------------------------------------------------------------


def test_once_makes_all_and_ends_with_0(shop: Shop) -> None:
    contents = [b"art 1", b"pages 2"]
    shop.drop("a.png", contents[0])
    shop.drop("class/b.png", contents[1])
    assert shop.once() == 0
    assert_invariants(shop.root(), contents)
    assert [path.name for path in (shop.root() / ".filmhand").iterdir()] == ["folder.json"]


def test_once_ends_with_1_if_something_was_refused(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    shop.drop("b.png", b"refuse")
    assert shop.once() == 1
    assert_invariants(shop.root(), [b"art", b"refuse"])
    assert shop.once() == 0  # nothing new


def test_once_waits_for_what_is_not_yet_settled(shop: Shop) -> None:
    shop.drop("empty.png", b"")
    assert shop.once() == 1  # empty for five seconds: refused
    assert (shop.root() / "rejected" / "empty.png.why.txt").is_file()


def test_once_does_not_wait_for_the_art_of_a_lone_ticket(shop: Shop) -> None:
    shop.drop("a.png.ticket.yaml", b"ticket")
    assert shop.once() == 0
    assert (shop.root() / "drop" / "a.png.ticket.yaml").is_file()
    assert shop.status()["profiles"][0]["waiting"][0]["name"] == "a.png.ticket.yaml"


def test_no_right_profile_ends_with_78(shop: Shop) -> None:
    shop.profile("small", "sheet: 8.5 x 11 in\n")
    for word in ("once", "serve"):
        assert shop.start(word).wait(timeout=120) == 78
    assert "small.yaml" in shop.log.read_text()
    assert "Traceback" not in shop.log.read_text()


def test_a_faulty_profile_does_not_stop_the_right_ones(shop: Shop) -> None:
    shop.profile("other", "lpi: many\n")
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    assert shop.made("a.png")
    assert any("other.yaml" in fault for fault in shop.status()["faults"])
    assert not shop.root("other").exists()


# --- serve ---------------------------------------------------------------------------------------


def test_serve_makes_what_comes_and_stops_with_0(shop: Shop) -> None:
    shop.drop("before.png", b"art before")
    service = shop.serve()
    wait_until(lambda: shop.made("before.png"))
    shop.drop("after.png", b"art after")
    wait_until(lambda: shop.made("after.png"))
    wait_until(lambda: shop.status()["counts"]["made"] == 2)
    assert stop(service) == 0
    assert_invariants(shop.root(), [b"art before", b"art after"])
    assert not shop.status()["running"]
    made = shop.said("made")
    assert len(made) == 2  # one line a job
    assert {"job", "profile", "name", "stem", "seconds", "sha256"} <= set(made[0])


def test_a_second_service_and_once_end_with_75(shop: Shop) -> None:
    service = shop.serve()
    assert shop.start("serve").wait(timeout=120) == 75
    shop.drop("a.png", b"art")
    assert shop.once() == 75
    assert "already running" in shop.log.read_text()
    wait_until(lambda: shop.made("a.png"))  # the running service takes it
    assert stop(service) == 0


def test_sigterm_finishes_the_job_in_hand(shop: Shop) -> None:
    service = shop.serve(RENDER_SECONDS="2")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: list((shop.root() / ".filmhand").glob("*/*/held/a.png")))
    shop.drop("b.png", b"art that comes too late")
    assert stop(service) == 0
    assert shop.made("a.png")
    assert (shop.root() / "drop" / "b.png").is_file()


@pytest.mark.parametrize("killing", [signal.SIGKILL])
def test_a_killed_service_goes_on_where_it_was(shop: Shop, killing: signal.Signals) -> None:
    service = shop.serve(RENDER_SECONDS="30")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: list((shop.root() / ".filmhand").glob("*/*/held/a.png")))
    service.send_signal(killing)
    service.wait(timeout=120)
    assert shop.once() == 0
    assert_invariants(shop.root(), [b"slow art"])


def test_a_job_that_hangs_does_not_hold_up_the_others(shop: Shop) -> None:
    shop.profile("large")
    service = shop.serve(RENDER_SECONDS="600")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: list((shop.root() / ".filmhand").glob("*/*/held/a.png")))
    shop.drop("b.png", b"art b")
    shop.drop("c.png", b"art c", profile="large")
    wait_until(lambda: shop.made("b.png") and shop.made("c.png", "large"))
    wait_until(lambda: shop.status()["profiles"][1]["working"] == ["a.png"])
    service.kill()


def test_a_full_folder_does_not_starve_another(shop: Shop) -> None:
    shop.profile("large")
    for number in range(40):
        shop.drop(f"{number:02}.png", b"slow art %d" % number)
    service = shop.serve(RENDER_SECONDS="0.3")
    wait_until(lambda: list((shop.root() / "originals").glob("*")))
    shop.drop("mine.png", b"art", profile="large")
    wait_until(lambda: shop.made("mine.png", "large"))
    assert len(files_in(shop.root() / "originals")) < 35
    assert stop(service) == 0


# --- profiles ------------------------------------------------------------------------------------


@pytest.mark.parametrize("hup", [False, True])
def test_a_changed_profile_is_read_by_itself_and_at_sighup(shop: Shop, hup: bool) -> None:
    service = shop.serve()
    shop.profile("small", PROFILE + "angle: 30\n")
    shop.profile("large")
    if hup:
        service.send_signal(signal.SIGHUP)
    wait_until(lambda: shop.said("profile read again"))
    wait_until((shop.root("large") / "drop").is_dir)
    shop.drop("a.png", b"art", profile="large")
    wait_until(lambda: shop.made("a.png", "large"))
    assert stop(service) == 0


def test_a_faulty_change_keeps_the_old_profile_and_says_so(shop: Shop) -> None:
    service = shop.serve()
    shop.profile("small", PROFILE.replace("lpi: 25", "lpi: many"))
    wait_until(lambda: shop.status()["faults"])
    assert any("line 4" in fault and "lpi" in fault for fault in shop.status()["faults"])
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    shop.profile("small")
    wait_until(lambda: not shop.status()["faults"])
    assert stop(service) == 0
    assert len(shop.said("profile not right")) <= 3


def test_a_removed_profile_is_no_longer_served(shop: Shop) -> None:
    shop.profile("large")
    service = shop.serve()
    wait_until((shop.root("large") / "drop").is_dir)
    (shop.station / "profiles" / "large.yaml").unlink()
    wait_until(lambda: shop.said("profile gone"))
    shop.drop("a.png", b"art", profile="large")
    shop.drop("b.png", b"art b")
    wait_until(lambda: shop.made("b.png"))
    assert (shop.root("large") / "drop" / "a.png").is_file()
    assert stop(service) == 0


def test_a_job_keeps_the_profile_that_it_was_taken_with(shop: Shop) -> None:
    service = shop.serve(RENDER_SECONDS="30")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: list((shop.root() / ".filmhand").glob("*/*/held/a.png")))
    shop.profile("small", PROFILE + "angle: 30\n")
    wait_until(lambda: shop.said("profile read again"))
    service.kill()
    service.wait()
    (notes,) = (shop.root() / ".filmhand").glob("*/*/job.json")
    assert "angle: 30" not in json.loads(notes.read_text())["snapshot"]["text"]


def test_two_profiles_with_one_folder(shop: Shop) -> None:
    folder = shop.station / "shared"
    for name in ("one", "two"):
        shop.profile(name, PROFILE + f"folder: {folder}\n")
    shop.drop("a.png", b"art")
    shop.once()
    assert any("already has" in fault for fault in shop.status()["faults"])


def test_the_profiles_folder_gone_keeps_the_profiles(shop: Shop) -> None:
    service = shop.serve()
    (shop.station / "profiles").rename(shop.station / "away")
    wait_until(lambda: shop.status()["faults"])
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    assert stop(service) == 0


# --- state and status ----------------------------------------------------------------------------


def test_the_state_folder_may_be_deleted_at_any_time(shop: Shop) -> None:
    shop.drop("a.png", b"art")
    shop.drop("b.png", b"refuse")
    assert shop.once() == 1
    shutil.rmtree(shop.state)
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    status = shop.status()
    assert (status["counts"]["made"], status["counts"]["refused"]) == (2, 1)
    record = json.loads((shop.root() / "records" / "a-2.json").read_bytes())
    assert record["earlier"] == "a"  # learned from the records


def test_jobs_of_a_lost_state_folder_are_adopted_at_once(shop: Shop) -> None:
    service = shop.serve(RENDER_SECONDS="30")
    shop.drop("a.png", b"slow art")
    wait_until(lambda: list((shop.root() / ".filmhand").glob("*/*/held/a.png")))
    service.kill()
    service.wait()
    shutil.rmtree(shop.state)
    assert shop.once() == 0
    assert_invariants(shop.root(), [b"slow art"])


def test_the_state_folder_deleted_under_a_running_service(shop: Shop) -> None:
    service = shop.serve()
    delete(shop.state)
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    assert stop(service) == 0


@pytest.mark.parametrize("garbage", [b"this is not a database", b""])
def test_a_spoiled_ledger_is_made_anew(shop: Shop, garbage: bytes) -> None:
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    for path in shop.state.glob("ledger.sqlite*"):
        path.unlink()
    (shop.state / "ledger.sqlite").write_bytes(garbage * 100)
    shop.drop("b.png", b"art b")
    assert shop.once() == 0
    assert shop.status()["counts"]["made"] == 2


def test_status_without_a_state_folder_finds_the_service(shop: Shop) -> None:
    service = shop.serve()
    wait_until(lambda: Station(shop.station).status()["running"])
    assert stop(service) == 0
    assert not Station(shop.station).status()["running"]


def test_status_tells_what_lies_there_while_nothing_runs(shop: Shop) -> None:
    assert shop.once() == 0
    shop.drop("a.png", b"art")
    status = shop.status()
    assert status["counts"]["waiting"] == 1
    assert status["profiles"][0]["waiting"][0]["name"] == "a.png"


def test_the_page_tells_the_same(shop: Shop) -> None:
    shop.drop("a <b>.png", b"art")
    shop.drop("small & bad.png", b"refuse")
    assert shop.once() == 1
    page = (shop.station / "status.html").read_text()
    assert "a &lt;b&gt;.png" in page
    assert 'src="small/proofs/a%20_b_.jpg"' in page
    assert (shop.station / "small/proofs/a _b_.jpg").is_file()
    assert "It is too small." in page


def test_a_pause_says_little_and_heals(shop: Shop) -> None:
    """A profile whose folder is a file cannot work; the others go on; the log stays short."""
    shop.profile("large")
    (shop.station / "large").write_text("in the way")
    service = shop.serve()
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    wait_until(lambda: any(profile["paused"] for profile in shop.status()["profiles"]))
    time.sleep(1.5)
    assert len(shop.said("paused")) == 1
    (shop.station / "large").unlink()
    wait_until((shop.station / "large" / "drop").is_dir)
    wait_until(lambda: not any(profile["paused"] for profile in shop.status()["profiles"]))
    assert stop(service) == 0


def test_a_closed_stderr_does_not_stop_it(shop: Shop) -> None:
    command = '"$0" "$1" serve "$2" "$3" 2>&-'
    service = subprocess.Popen(
        ["sh", "-c", f"exec {command}", sys.executable, service_process.__file__,
         str(shop.station), str(shop.state)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    shop.started.append(service)
    wait_until((shop.root() / "drop").is_dir)
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    assert stop(service) == 0
    assert '"event": "made"' in (shop.state / "filmhand.log").read_text()


def test_a_share_in_the_folder_key_waits_for_its_marker(shop: Shop, tmp_path: Path) -> None:
    shop.profile("away", PROFILE + f"folder: {tmp_path / 'share'}\n")
    (tmp_path / "share").mkdir()
    shop.drop("a.png", b"art")
    assert shop.once() == 75  # not all could be done
    assert shop.made("a.png")
    assert list((tmp_path / "share").iterdir()) == []
    assert "doctor STATION --init" in shop.log.read_text()
