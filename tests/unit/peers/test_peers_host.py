from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from filmhand.disk.beneath import as_beneath
from filmhand.errors import AlreadyRunning
from filmhand.peers import host

ONE, TWO = "20260101T000000-00000001", "20260101T000000-00000002"


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_the_id_is_kept_and_made_anew_when_lost(tmp_path: Path) -> None:
    first = host.host_id(tmp_path)
    assert host.host_id(tmp_path) == first
    (tmp_path / "host").write_text("../../etc")
    second = host.host_id(tmp_path)
    assert second != first
    assert "/" not in second


def test_one_owner_of_a_state_folder(tmp_path: Path) -> None:
    lock = host.Lock(tmp_path)
    assert host.is_locked(tmp_path)
    with pytest.raises(AlreadyRunning, match="already running"):
        host.Lock(tmp_path)
    lock.release()
    assert not host.is_locked(tmp_path)
    host.Lock(tmp_path).release()
    assert not host.is_locked(tmp_path / "nowhere")


def alive(hidden: Path, name: str, **data: object) -> None:
    (hidden / name).mkdir(parents=True, exist_ok=True)
    (hidden / name / "alive").write_text(json.dumps(data))


def test_silence_is_measured_on_the_watchers_clock(tmp_path: Path) -> None:
    clock = Clock()
    peers = host.Peers(as_beneath(tmp_path), "own-00000000", clock)
    alive(tmp_path, "far-00000001", nonce="a")
    assert peers.silent(900) == []
    clock.now = 899
    assert peers.silent(900) == []
    alive(tmp_path, "far-00000001", nonce="b")
    clock.now = 901
    assert peers.silent(900) == []  # it spoke
    clock.now = 901 + 900
    assert peers.silent(900) == ["far-00000001"]


def test_a_host_without_a_sign_of_life_counts_as_silent_in_the_end(tmp_path: Path) -> None:
    clock = Clock()
    peers = host.Peers(as_beneath(tmp_path), "own-00000000", clock)
    (tmp_path / "far-00000001").mkdir()
    assert peers.silent(900) == []
    clock.now = 901
    assert peers.silent(900) == ["far-00000001"]


def test_a_process_of_this_machine_that_ended_is_dead_at_once(tmp_path: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from filmhand.peers import host\n"
        "from filmhand.disk.beneath import Beneath\n"
        "host.sign_of_life(Beneath(Path(sys.argv[1])), 'gone-00000001')\n"
    )
    path = str(Path(host.__file__).parents[2])
    subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], env={"PYTHONPATH": path}, check=True
    )
    told = (tmp_path / "gone-00000001" / "alive").read_bytes()
    if json.loads(told)["where"] is None:
        pytest.skip("this system does not tell its boot")
    assert host.certainly_dead(told)
    host.sign_of_life(as_beneath(tmp_path), "here-00000002")
    assert not host.certainly_dead((tmp_path / "here-00000002" / "alive").read_bytes())


@pytest.mark.parametrize(
    "told", [b"", b"{}", b"[1]", b'{"pid": 1, "started": "0", "where": "another boot"}']
)
def test_what_cannot_be_known_is_not_dead(told: bytes) -> None:
    assert not host.certainly_dead(told)


def test_adoption_takes_jobs_and_clears_the_empty_folder(tmp_path: Path) -> None:
    alive(tmp_path, "far-00000001", nonce="a")
    (tmp_path / "far-00000001" / ONE).mkdir()
    (tmp_path / "far-00000001" / TWO).mkdir()
    peers = host.Peers(as_beneath(tmp_path), "own-00000000")
    assert peers.adopt("far-00000001") == [ONE, TWO]
    assert (tmp_path / "own-00000000" / ONE).is_dir()
    assert not (tmp_path / "far-00000001").exists()
    assert peers.others() == []


def test_goodbye_leaves_jobs_alone(tmp_path: Path) -> None:
    host.sign_of_life(as_beneath(tmp_path), "own-00000000")
    (tmp_path / "own-00000000" / ONE).mkdir()
    host.say_goodbye(as_beneath(tmp_path), "own-00000000")
    assert (tmp_path / "own-00000000" / "alive").exists()
    (tmp_path / "own-00000000" / ONE).rmdir()
    host.say_goodbye(as_beneath(tmp_path), "own-00000000")
    assert not (tmp_path / "own-00000000").exists()


@pytest.mark.parametrize("left", [(), (".alive.new",), ("alive", ".alive.new"), ("alive",)])
def test_nothing_is_left_of_a_host_killed_at_its_sign_or_its_goodbye(
    tmp_path: Path, left: tuple[str, ...]
) -> None:
    """Or it would count as another host, and the folder as shared, for ever."""
    clock = Clock()
    peers = host.Peers(as_beneath(tmp_path), "own-00000000", clock)
    (tmp_path / "far-00000001").mkdir()
    for name in left:
        (tmp_path / "far-00000001" / name).write_text("{")
    assert peers.silent(900) == []
    clock.now = 900.0
    assert peers.silent(900) == ["far-00000001"]
    assert peers.adopt("far-00000001") == []
    assert peers.others() == []


def test_a_host_with_a_job_stays(tmp_path: Path) -> None:
    (tmp_path / "far-00000001" / ONE).mkdir(parents=True)
    (tmp_path / "far-00000001" / "alive").write_text("{}")
    host.say_goodbye(as_beneath(tmp_path), "far-00000001")
    assert (tmp_path / "far-00000001" / "alive").exists()


def test_a_host_that_comes_again_has_its_time_anew(tmp_path: Path) -> None:
    clock = Clock()
    peers = host.Peers(as_beneath(tmp_path), "own-00000000", clock)
    alive(tmp_path, "far-00000001", nonce="a")
    assert peers.silent(900) == []
    clock.now = 900
    assert peers.silent(900) == ["far-00000001"]
    peers.adopt("far-00000001")
    alive(tmp_path, "far-00000001", nonce="a")
    assert peers.silent(900) == []
    clock.now = 1799
    assert peers.silent(900) == []
    clock.now = 1800
    assert peers.silent(900) == ["far-00000001"]
