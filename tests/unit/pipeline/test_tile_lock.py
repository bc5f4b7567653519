"""Of the processes that need one tile at one time a single one builds it; nobody waits for ever."""

from __future__ import annotations

import errno
import fcntl
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import filmhand
from filmhand.pipeline.render import tile_cache
from filmhand.pipeline.render.screen_plan import ScreenPlan, plan_screen
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.profile.read.load import read_profile

TEXT = (
    "sheet: 8.5 x 11 in\ndpi: 300\nthreshold: 50\nmesh: 43-80\nmargin: 0.25 in\n"
    "dot: round\nlpi: 25\nangle: 45\n"
)
# Says that it is ready, waits for the word, and then tells of each tile that it builds.
BUILDER = f"""
import sys, time
from pathlib import Path
from filmhand.pipeline.render.screen_plan import ScreenPlan, plan_screen
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.profile.read.load import read_profile
build = ScreenPlan.tile
def slowly(screen):
    print("builds", flush=True)
    time.sleep(float(sys.argv[2]))
    return build(screen)
ScreenPlan.tile = slowly
screen = plan_screen(read_profile({TEXT!r}, name="p", file="p.yaml"))
print("ready", flush=True)
sys.stdin.readline()
print(tile_of(screen, Path(sys.argv[1])).thresholds.sum(), flush=True)
"""


def builder(folder: Path, seconds: float) -> subprocess.Popen[str]:
    child = subprocess.Popen(
        [sys.executable, "-c", BUILDER, folder, str(seconds)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(filmhand.__file__).parent.parent)},
    )
    assert child.stdout is not None and child.stdout.readline() == "ready\n"
    return child


def go(child: subprocess.Popen[str]) -> None:
    assert child.stdin is not None
    child.stdin.write("\n")
    child.stdin.flush()


def screen() -> ScreenPlan:
    return plan_screen(read_profile(TEXT, name="p", file="p.yaml"))


@pytest.fixture
def builds(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Counts how often a tile is built here."""
    count: list[int] = []
    build = ScreenPlan.tile
    monkeypatch.setattr(ScreenPlan, "tile", lambda self: count.append(1) or build(self))
    return count


def next_descriptor() -> int:
    """The lowest one that is free."""
    found = os.dup(0)
    os.close(found)
    return found


def lock_of(folder: Path) -> Path:
    return folder / f"{tile_cache._key(screen())}.lock"


def test_one_of_several_processes_builds_and_all_have_the_tile(tmp_path: Path) -> None:
    children = [builder(tmp_path, 1.0) for _ in range(3)]
    for child in children:
        go(child)
    said = [child.communicate(timeout=120)[0].split() for child in children]
    assert sorted(map(len, said)) == [1, 1, 2]
    assert len({one[-1] for one in said}) == 1
    assert [file.suffix for file in tmp_path.iterdir()] == [".tile"]


def test_the_lock_of_a_builder_that_was_killed_holds_nobody_up(
    tmp_path: Path, builds: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    child = builder(tmp_path, 600.0)
    go(child)
    assert child.stdout is not None and child.stdout.readline() == "builds\n"
    child.kill()
    child.communicate()
    assert lock_of(tmp_path).exists()
    monkeypatch.setattr(tile_cache, "PATIENCE", 1e9)
    tile_of(screen(), tmp_path)
    assert builds == [1]
    assert [file.suffix for file in tmp_path.iterdir()] == [".tile"]


def test_a_builder_that_is_stuck_is_not_waited_for_without_end(
    tmp_path: Path, builds: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tile_cache, "PATIENCE", 0.1)
    stuck = os.open(lock_of(tmp_path), os.O_RDWR | os.O_CREAT)
    fcntl.flock(stuck, fcntl.LOCK_EX)
    try:
        first = tile_of(screen(), tmp_path)
        again = tile_of(screen(), tmp_path)
    finally:
        os.close(stuck)
    assert builds == [1]
    assert np.array_equal(first.thresholds, again.thresholds)
    assert lock_of(tmp_path).exists()  # which is its holder's


def test_a_lock_that_was_taken_away_meanwhile_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone: list[int] = []
    flock = fcntl.flock

    def taken_away_first(lock: int, wish: int) -> None:
        if not gone:
            gone.append(lock)
            lock_of(tmp_path).unlink()
        flock(lock, wish)

    monkeypatch.setattr(fcntl, "flock", taken_away_first)
    with tile_cache._others_waiting(lock_of(tmp_path)):
        assert gone
        other = os.open(lock_of(tmp_path), os.O_RDWR)
        with pytest.raises(BlockingIOError):
            flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.close(other)
    assert not lock_of(tmp_path).exists()


def test_without_locks_the_tile_is_built_all_the_same(
    tmp_path: Path, builds: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_locks(_lock: int, _wish: int) -> None:
        raise OSError(errno.ENOLCK, "no locks available")

    monkeypatch.setattr(fcntl, "flock", no_locks)
    before = next_descriptor()
    tile_of(screen(), tmp_path)
    tile_of(screen(), tmp_path)
    assert builds == [1]
    assert next_descriptor() == before


@pytest.mark.parametrize(
    "put",
    [lambda place: place.mkdir(), lambda place: place.symlink_to("elsewhere"), os.mkfifo],
    ids=["folder", "link", "pipe"],
)
def test_what_lies_in_the_place_of_the_lock_harms_nothing(
    tmp_path: Path, builds: list[int], put: object
) -> None:
    put(lock_of(tmp_path))  # type: ignore[operator]
    tile_of(screen(), tmp_path)
    tile_of(screen(), tmp_path)
    assert builds == [1]
    assert not (tmp_path / "elsewhere").exists()
