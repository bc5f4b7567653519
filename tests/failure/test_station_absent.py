"""A station that is not there: its share unmounted, its folder renamed, or another in its place."""

# ruff: noqa: F811  (the fixtures of another module)
from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from job_harness import assert_invariants, make_queue
from sharing import SmallDisk, small_disk  # noqa: F401
from test_service_station import Shop, shop, stop, wait_until  # noqa: F401

from filmhand.profile.ticket.gang import GangWishes
from filmhand.service.doctor.doctor_words import Level
from filmhand.service.doctor.folder_probe import Finding
from filmhand.service.station import Station
from filmhand.service.station_mark import StationMark


def everything(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*"))


def examine(shop: Shop, *, init: bool = False) -> list[Finding]:
    station = Station(shop.station, state=shop.state)
    return [one for one in station.doctor(init=init) if one.where == "station"]


@pytest.fixture
def away(shop: Shop) -> Iterator[Path]:
    """A station that has worked once, renamed; an empty folder has its name, as a mount point."""
    shop.drop("a.png", b"art")
    assert shop.once() == 0
    place = shop.station.with_name("elsewhere")
    shop.station.rename(place)
    shop.station.mkdir()
    yield place


@pytest.mark.usefixtures("away")
def test_nothing_is_made_under_an_absent_mount(shop: Shop) -> None:
    assert shop.once() == 75
    assert "is not there" in shop.log.read_text()
    process = shop.start("serve")
    wait_until(lambda: shop.said("station is not there"))
    wait_until(lambda: any("is not there" in fault for fault in shop.status()["faults"]))
    assert everything(shop.station) == []
    assert stop(process) == 0
    assert everything(shop.station) == []
    (told,) = [one for one in examine(shop) if one.what == "mark"]
    assert told.level is Level.WRONG and "lacks the mark" in told.say
    assert everything(shop.station) == []


def test_started_while_it_is_absent_the_service_goes_on_when_it_is_back(
    shop: Shop, away: Path
) -> None:  # fmt: skip
    process = shop.start("serve")
    wait_until(lambda: shop.said("station is not there"))
    shop.station.rmdir()
    away.rename(shop.station)
    shop.drop("b.png", b"art")
    wait_until(lambda: shop.made("b.png"))
    assert shop.said("station is there again")
    wait_until(lambda: not shop.status()["faults"])
    assert (shop.station / "status.html").is_file()
    assert stop(process) == 0


def test_renamed_under_a_running_service(shop: Shop) -> None:
    process = shop.serve()
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    place = shop.station.with_name("elsewhere")
    shop.station.rename(place)
    shop.station.mkdir()
    wait_until(lambda: shop.said("station is not there"))
    wait_until(lambda: shop.status()["profiles"][0]["state"] == "paused")
    assert everything(shop.station) == []
    shop.station.rmdir()
    place.rename(shop.station)
    shop.drop("b.png", b"art")
    wait_until(lambda: shop.made("b.png"))
    assert stop(process) == 0


def test_a_stale_tree_under_the_mount_point_is_not_worked_in(
    shop: Shop, away: Path
) -> None:  # fmt: skip
    """An older filmhand may have left a whole profile folder under the mount point."""
    for name in ("small/drop", "small/.filmhand", "profiles"):
        (shop.station / name).mkdir(parents=True)
    shutil.copy(away / "small/.filmhand/folder.json", shop.station / "small/.filmhand")
    shop.profile("small")
    shop.drop("c.png", b"art")
    before = everything(shop.station)
    assert shop.once() == 75
    assert everything(shop.station) == before


@pytest.mark.usefixtures("away")
def test_init_makes_the_folder_the_station(shop: Shop) -> None:
    assert [one.level for one in examine(shop, init=True) if one.what == "mark"] == [Level.OK]
    shop.profile("small")
    shop.drop("b.png", b"art")
    assert shop.once() == 0
    assert shop.made("b.png")


def test_unmounted_and_mounted_again(shop: Shop, small_disk: SmallDisk) -> None:
    shop.station = small_disk.folder / "station"
    shop.profile("small")
    process = shop.serve()
    shop.drop("a.png", b"art")
    wait_until(lambda: shop.made("a.png"))
    beside = small_disk.folder.with_name("beside")
    beside.mkdir()
    mounted = subprocess.run(
        ["mount", "--bind", small_disk.folder, beside], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"no bind mounts here: {mounted.stderr.decode().strip()}")
    try:
        subprocess.run(["umount", "-l", small_disk.folder], check=True)
        wait_until(lambda: shop.said("station is not there"))
        assert everything(small_disk.folder) == []
        subprocess.run(["mount", "--bind", beside, small_disk.folder], check=True)
        shop.drop("b.png", b"art")
        wait_until(lambda: shop.made("b.png"))
        assert stop(process) == 0
    finally:
        subprocess.run(["umount", "-l", beside], check=False)


def test_a_first_start_marks_station_and_state(shop: Shop) -> None:
    assert not StationMark(shop.station, shop.state).known
    assert shop.once() == 0
    mark = StationMark(shop.station, shop.state)
    assert mark.known and mark.there()
    other = StationMark(shop.station, shop.state.with_name("other state"))
    assert not other.known
    assert other.begin() and other.there()  # another computer takes the mark that is there
    assert mark.there()


def test_a_station_without_profiles_is_not_made(shop: Shop) -> None:
    shop.station = shop.station.with_name("misspelt")
    assert shop.once() == 78
    assert not shop.station.exists()


def test_an_empty_folder_that_nobody_knows_is_told(shop: Shop) -> None:
    shop.station = shop.station.with_name("mount point")
    shop.station.mkdir()
    (told,) = [one for one in examine(shop) if one.what == "mark"]
    assert told.level is Level.NOTE and "carries no mark" in told.say


@pytest.mark.parametrize("junk", ["link", "folder", "text", "pipe"])
def test_what_is_no_mark_is_none(tmp_path: Path, junk: str) -> None:
    station, state = tmp_path / "station", tmp_path / "state"
    state.mkdir()
    place = station / ".filmhand" / "station"
    place.parent.mkdir(parents=True)
    secret = tmp_path / "secret"
    secret.write_bytes(b"0" * 32 + b"\n")
    if junk == "link":
        place.symlink_to(secret)
    elif junk == "text":
        place.write_bytes(b"no mark")
    elif junk == "pipe":
        subprocess.run([sys.executable, "-c", f"import os; os.mkfifo({str(place)!r})"], check=True)
    else:
        place.mkdir()
    mark = StationMark(station, state)
    if junk == "folder":
        with pytest.raises(OSError):
            mark.begin()
        assert not mark.there()
    else:
        assert mark.begin() and mark.there()
        assert not place.is_symlink() and place.read_bytes() != secret.read_bytes()
    assert secret.read_bytes() == b"0" * 32 + b"\n"


@pytest.mark.parametrize("kind", ["drop", "positives", "originals"])
def test_a_folder_on_another_disk_is_told_before_any_art_is_taken(
    shop: Shop, small_disk: SmallDisk, kind: str, request: pytest.FixtureRequest
) -> None:
    other = small_disk.folder / kind
    other.mkdir()
    (shop.root() / kind).mkdir(parents=True)
    bind = ["mount", "--bind", other, shop.root() / kind]
    if subprocess.run(bind, capture_output=True, check=False).returncode:
        pytest.skip("this user cannot mount a folder onto another")
    request.addfinalizer(lambda: subprocess.run(["umount", "-l", shop.root() / kind], check=True))
    shop.profile("sound")
    shop.drop("a.png", b"art")
    shop.drop("b.png", b"art", "sound")
    process = shop.serve()
    wait_until(lambda: shop.made("b.png", "sound"))  # the other profile goes on
    wait_until(lambda: shop.said("paused"))
    (line,) = [one for one in shop.said("paused") if one["profile"] == "small"]
    assert f"{kind} lies on another disk" in line["why"]
    assert (shop.root() / "drop" / "a.png").read_bytes() == b"art"
    assert not shop.made("a.png")
    assert stop(process) == 0


@pytest.mark.parametrize("gang", [None, GangWishes(wait=0.0)], ids=["alone", "gang"])
def test_vanished_between_the_look_and_the_claim(tmp_path: Path, gang: GangWishes | None) -> None:
    now = 0.0
    station = tmp_path / "station"
    station.mkdir()
    queue = make_queue(station / "small", tmp_path / "state", gang=gang, clock=lambda: now)
    queue.look()
    (station / "small" / "drop" / "a.png").write_bytes(b"art a")
    tasks = []
    while not tasks:
        now += 11.0
        queue.look()
        while (task := queue.take()) is not None:
            tasks.append(task)
    station.rename(tmp_path / "elsewhere")
    station.mkdir()
    for task in tasks:
        queue.do(task)
    assert everything(station) == []
    station.rmdir()
    (tmp_path / "elsewhere").rename(station)
    for _ in range(20):
        now += 60.0
        queue.look()
        while (task := queue.take()) is not None:
            queue.do(task)
    assert_invariants(station / "small", [b"art a"])
