"""How much room a disk has left, and when that is said."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest

from filmhand.disk.free_space import LOW, MEASURED_EVERY, Space, SpaceWatch, space_of


@pytest.mark.parametrize(
    ("free", "total", "files", "low"),
    [
        (2**30, 100 * LOW, None, False),  # 1 GiB
        (2**30 - 1, 100 * LOW, None, True),
        (50, 400, None, False),  # a small disk may have little
        (39, 400, None, True),
        (50 * LOW, 100 * LOW, 999, True),
        (50 * LOW, 100 * LOW, 1000, False),
    ],
)
def test_when_space_is_low(free: int, total: int, files: int | None, low: bool) -> None:
    assert Space(free, total, files).low is low


def test_the_space_is_that_of_the_system(tmp_path: Path) -> None:
    space, told = space_of(tmp_path), shutil.disk_usage(tmp_path)
    assert space.total == told.total
    assert abs(space.free - told.free) < 2**30


def test_low_space_is_said_once_and_so_is_its_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now, free, said = [0.0], [100 * LOW], []
    monkeypatch.setattr("filmhand.disk.free_space.space_of", lambda _: Space(free[0], 200 * LOW))
    watch = SpaceWatch(tmp_path, lambda event, **facts: said.append(event), lambda: now[0])
    for at, left in ((0, 50 * LOW), (40, LOW // 9), (80, LOW // 8), (120, 7), (160, 3 * LOW)):
        now[0], free[0] = at, left
        watch.look()
        assert bool(watch.worry()) is (free[0] < LOW)
    assert said == ["low on space", "space again"]


@pytest.mark.parametrize(("names", "left"), [(10, 4), (0, None)])
def test_space_is_counted_in_the_file_systems_fragments(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, names: int, left: int | None
) -> None:
    """Blocks count in f_frsize, and f_bavail is what others than root may use: statvfs(3)."""
    found = SimpleNamespace(
        f_bavail=3, f_bfree=5, f_blocks=7, f_frsize=512, f_bsize=4096, f_files=names, f_favail=4
    )
    monkeypatch.setattr(os, "statvfs", lambda folder: found)
    assert space_of(tmp_path) == Space(3 * 512, 7 * 512, left)


def test_space_in_words() -> None:
    assert Space(2 * 10**9, 50 * 10**9, 5000).say() == "2.0 of 50.0 GB are free."
    assert Space(2 * 10**9, 50 * 10**9, 1000).say() == "2.0 of 50.0 GB are free."
    assert Space(2 * 10**9, 50 * 10**9, 999).say() == "Only 999 more files can be made there."
    assert Space(21 * 10**6, 50 * 10**6, 5000).say() == "21 MB of 50 MB are free."
    assert Space(40_000, 50 * 10**9, 5000).say() == "0 MB of 50.0 GB are free."


def test_space_is_measured_now_and_then_and_its_changes_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now, free, asked = [0.0], [LOW // 2], [0]
    said: list[tuple[str, object, object]] = []

    def measure(folder: Path) -> Space:
        asked[0] += 1
        return Space(free[0], 200 * LOW)

    def say(event: str, *, why: str, times: object = None, **facts: str) -> None:
        said.append((event, times, facts))
        assert why.endswith("free.")

    monkeypatch.setattr("filmhand.disk.free_space.space_of", measure)
    watch = SpaceWatch(tmp_path, say, lambda: now[0], profile="small")
    assert watch.worry() == ""
    for at in (0, MEASURED_EVERY - 1, MEASURED_EVERY):
        now[0] = at
        watch.look()
    assert asked[0] == 2
    assert watch.worry().startswith("The disk is nearly full. 0.5 of")
    for _ in range(3):
        for free[0] in (50 * LOW, LOW // 2):
            now[0] += MEASURED_EVERY
            watch.look()
    facts = {"profile": "small"}
    assert said == [
        ("low on space", None, facts),  # at 0 s
        ("space again", None, facts),
        ("low on space", None, facts),  # at 90 s, so the next line is due at 210 s
        ("space again", None, facts),
        ("low on space", 2, facts),  # it came at 150 s too
    ]
