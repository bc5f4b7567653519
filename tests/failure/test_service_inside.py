"""The service in the tests' own process: what it takes up, gives up, tells and leaves behind."""

from __future__ import annotations

import json
import os
import signal
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import job_harness
import pytest
from job_harness import assert_invariants
from test_service_station import PROFILE, Shop, wait_until

from filmhand.errors import FilmhandError
from filmhand.peers import host
from filmhand.request import JobRequest, JobResult
from filmhand.service import supervisor as supervisor_module
from filmhand.service.service_manager import ServiceManager
from filmhand.service.station import Station
from filmhand.service.supervisor import Supervisor
from filmhand.worker.parent import Interrupted

_SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGUSR1, signal.SIGUSR2)


class Inside(Shop):
    """A station whose service runs in this thread, while another does what people do."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(folder)
        self.render: Callable[[JobRequest], JobResult] = job_harness.render
        self.supervisor: Supervisor | None = None

        def supervisor(*given: Any, **named: Any) -> Supervisor:
            self.supervisor = Supervisor(*given, **named)
            return self.supervisor

        monkeypatch.setattr(supervisor_module, "Supervisor", supervisor)
        self.log = self.state / "filmhand.log"

    def here(self) -> Station:
        return Station(
            self.station, state=self.state, render=self.render, finished=job_harness.finished
        )

    def run(self, act: Callable[[], object], metrics: Path | None = None) -> int:
        """The exit code of `serve`, which is told to stop once `act` is done."""
        failed: list[BaseException] = []

        def people() -> None:
            try:
                wait_until(lambda: self.status()["running"] and self.status()["profiles"])
                act()
            except BaseException as error:
                failed.append(error)
            os.kill(os.getpid(), signal.SIGTERM)

        thread = threading.Thread(target=people)
        thread.start()
        code = self.here().serve(metrics=metrics)
        thread.join()
        if failed:
            raise failed[0]
        return code


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Inside]:
    before = {number: signal.getsignal(number) for number in _SIGNALS}
    signal.signal(signal.SIGTERM, lambda *_: None)  # which may come when the service has ended
    yield Inside(tmp_path, monkeypatch)
    for number, handler in before.items():
        signal.signal(number, handler)


def test_a_day_of_the_service(
    shop: Inside, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """From the start to the end: jobs, the files that tell of them, and what is left."""
    metrics = tmp_path / "figures.prom"
    seen: dict[str, Any] = {}

    def act() -> None:
        shop.drop("a.png", b"art a")
        shop.drop("b.png", b"refuse b")
        wait_until(lambda: shop.made("a.png") and shop.status()["counts"]["refused"])
        wait_until(lambda: shop.status()["counts"]["made"] == 1)
        wait_until((shop.station / "status.html").exists)
        wait_until(lambda: 'result="made"} 1' in metrics.read_text())
        seen.update(shop.status())
        with pytest.raises(Exception, match="already"):
            host.Lock(shop.state)
        assert shop.here().health()["healthy"]
        for number in (signal.SIGUSR1, signal.SIGUSR2):
            os.kill(os.getpid(), number)  # which others send, and which end nothing

    assert shop.run(act, metrics) == 0
    assert_invariants(shop.root(), [b"art a", b"refuse b"])
    assert seen["running"] is True
    assert seen["profiles"][0]["link"] == "small"
    assert [one["name"] for one in seen["made"]] == ["a.png"]
    assert [(one["name"], one["reason"], one["say"]) for one in seen["refused"]] == [
        ("b.png", "too-small", "It is too small.")
    ]
    starts, stops = shop.said("starts"), shop.said("stops")
    assert [(one["station"], one["pid"]) for one in starts] == [(str(shop.station), os.getpid())]
    assert [one["made_or_refused"] for one in stops] == [2]
    assert [one["profile"] for one in shop.said("profile read")] == ["small"]
    assert shop.status()["running"] is False
    assert json.loads((shop.state / "status.json").read_bytes())["running"] is False
    assert 'filmhand_jobs_total{profile="small",result="refused"} 1' in metrics.read_text()
    pointers = list((shop.station / ".filmhand").glob("*-*.json"))
    assert [json.loads(one.read_bytes())["state"] for one in pointers] == [str(shop.state)]
    assert not any(name.name == "look" for name in threading.enumerate())
    host.Lock(shop.state).release()


def test_profiles_come_change_break_and_go(shop: Inside, monkeypatch: pytest.MonkeyPatch) -> None:
    words: list[str] = []
    monkeypatch.setattr(ServiceManager, "_send", lambda _, text: words.append(text.split("\n")[0]))

    def states() -> list[str]:
        return sorted(one["name"] for one in shop.status()["profiles"])

    def act() -> None:
        assert shop.supervisor is not None
        shop.profile("large")
        wait_until(lambda: states() == ["large", "small"])
        shop.drop("l.png", b"art l", profile="large")
        wait_until(lambda: shop.made("l.png", "large"))
        shop.profile("small", PROFILE.replace("settle: 200 ms", "settle: 300 ms"))
        wait_until(lambda: shop.said("profile read again"))
        queues = {one.name: one for one in shop.supervisor.profiles.queues()}
        assert (queues["small"].settle, queues["large"].settle) == (0.3, 0.2)
        shop.profile("small", "lpi: many\n")
        wait_until(lambda: len(shop.status()["faults"]) > 1)
        assert states() == ["large", "small"]  # the old one stays in force
        os.kill(os.getpid(), signal.SIGHUP)
        shop.profile("large", PROFILE + f"folder: {shop.station / 'elsewhere'}\n")
        wait_until(lambda: shop.said("profile gone"))
        (shop.station / "profiles" / "large.yaml").unlink()
        wait_until(lambda: states() == ["small"])
        shop.drop("s.png", b"art s")
        wait_until(lambda: shop.made("s.png"))

    assert shop.run(act) == 0
    faults = [one["why"] for one in shop.said("profile not right")]
    assert len(faults) == len(set(faults)) >= 2  # each is said once
    assert any("stays as it was before" in fault for fault in faults)
    assert [one["profile"] for one in shop.said("profile gone")] == ["large", "large"]
    assert [one["profile"] for one in shop.said("profile read again")] == ["small"]
    told = [word for word in words if not word.startswith(("WATCHDOG", "STATUS"))]
    assert told == ["READY=1", "RELOADING=1", "READY=1", "STOPPING=1"]
    assert words[0] == "READY=1"
    assert_invariants(shop.root(), [b"art s"])
    assert_invariants(shop.root("large"), [b"art l"])


def test_a_second_signal_stops_at_once_and_the_job_is_made_at_the_next_start(shop: Inside) -> None:
    begun = threading.Event()

    def slowly(request: JobRequest) -> JobResult:
        begun.set()
        assert shop.supervisor is not None
        wait_until(lambda: shop.supervisor.workers.stopped)
        raise Interrupted

    shop.render = slowly

    def act() -> None:
        shop.drop("a.png", b"art a")
        assert begun.wait(120)
        os.kill(os.getpid(), signal.SIGTERM)
        wait_until(lambda: shop.supervisor and shop.supervisor._stop_asked)

    assert shop.run(act) == 0
    assert (shop.root() / "drop").is_dir() and not shop.made("a.png")
    shop.render = job_harness.render
    assert shop.here().once() == 0
    assert_invariants(shop.root(), [b"art a"])
    assert [one.get("strikes", 0) for one in shop.said("made")] == [0]  # it was not to blame


def test_a_station_that_is_away_at_the_start_is_waited_for(shop: Inside) -> None:
    assert shop.here().once() == 0
    mark = shop.station / ".filmhand" / "station"
    mark.rename(mark.with_name("away"))

    def act() -> None:
        shop.drop("a.png", b"art a")
        wait_until(lambda: any("is not there" in one for one in shop.status()["faults"]))
        assert not shop.made("a.png")
        mark.with_name("away").rename(mark)
        wait_until(lambda: shop.made("a.png"))

    assert shop.run(act) == 0
    assert_invariants(shop.root(), [b"art a"])


def test_scratch_that_an_earlier_run_left_is_removed(shop: Inside) -> None:
    (shop.state / "scratch" / "old").mkdir(parents=True)
    shop.drop("a.png", b"art a")
    assert shop.here().once() == 0
    assert not (shop.state / "scratch" / "old").exists()


def test_the_codes_of_once(shop: Inside, capsys: pytest.CaptureFixture[str]) -> None:
    here = shop.here()
    lock = host.Lock(shop.state)
    assert here.once() == 75
    lock.release()
    assert "already" in capsys.readouterr().err
    for text, code in ((b"art", 0), (b"refuse", 1)):
        shop.drop("a.png", text)
        assert here.once() == code
    mark = shop.station / ".filmhand" / "station"
    mark.rename(mark.with_name("away"))
    begun = len(shop.said("starts"))
    assert here.once() == 75
    assert "is not there" in capsys.readouterr().err
    assert len(shop.said("starts")) == begun
    mark.with_name("away").rename(mark)
    (shop.station / "profiles" / "small.yaml").write_text("lpi: many\n")
    assert here.once() == 78
    assert "small.yaml line 1" in capsys.readouterr().err
    (shop.station / "profiles" / "small.yaml").unlink()
    assert here.once() == 78
    assert f"There is no profile in {shop.station / 'profiles'}." in capsys.readouterr().err
    host.Lock(shop.state).release()  # nothing holds it after any of these


def test_a_state_folder_or_a_station_that_cannot_be_made_is_told(
    shop: Inside, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    assert Station(shop.station, state=tmp_path / "file" / "state").once() == 75
    assert f"The state folder {tmp_path / 'file' / 'state'} cannot be used" in (
        capsys.readouterr().err
    )
    nowhere = Station(tmp_path / "file" / "s", shop.station / "profiles", shop.state)
    assert nowhere.once() == 75
    assert f"Nothing can be written in the station {tmp_path / 'file' / 's'}" in (
        capsys.readouterr().err
    )


def test_where_profiles_and_state_lie_by_default(
    shop: Inside, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "states"))
    monkeypatch.chdir(tmp_path)
    here = Station(Path("station"), render=job_harness.render, finished=job_harness.finished)
    assert (here.station, here.profiles) == (shop.station, shop.station / "profiles")
    shop.drop("a.png", b"art a")
    assert here.once() == 0
    (state,) = (tmp_path / "states" / "filmhand").iterdir()
    assert state.name.startswith("station-")
    told = here.history("a.png").found
    assert [(one["outcome"], one["profile"]) for one in told] == [("made", "small")]
    other = Station(Path("station"), Path("given"), Path("kept"))
    assert (other.profiles, other._state) == (tmp_path / "given", tmp_path / "kept")
    with pytest.raises(
        FilmhandError, match="No refused file or job 20260301T100000-00000000 is known"
    ):
        here.retry("20260301T100000-00000000")
    assert any(finding.what == "service" for finding in here.doctor())
