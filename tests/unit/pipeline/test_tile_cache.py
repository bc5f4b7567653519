"""Tiles on disk: read back the same, built again when damaged, bounded."""

from __future__ import annotations

import os

import numpy as np
import pytest

from filmhand.pipeline.render import tile_cache
from filmhand.pipeline.render.screen_plan import ScreenPlan, plan_screen
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.profile.read.load import read_profile


def screen(**changed):
    wishes = {"dot": "round", "lpi": "25", "angle": "45"} | changed
    lines = "\n".join(f"{key}: {value}" for key, value in wishes.items())
    text = f"sheet: 8.5 x 11 in\ndpi: 300\nthreshold: 50\nmesh: 43-80\nmargin: 0.25 in\n{lines}\n"
    return plan_screen(read_profile(text, name="p", file="p.yaml"))


def same(one, other):
    return one.brick == other.brick and np.array_equal(one.thresholds, other.thresholds)


@pytest.fixture
def builds(monkeypatch):
    """Counts how often a tile is built."""
    count = []
    build = ScreenPlan.tile
    monkeypatch.setattr(ScreenPlan, "tile", lambda self: count.append(1) or build(self))
    return count


@pytest.mark.parametrize("dot", ["round", "grain"])
def test_the_second_time_the_tile_is_read(tmp_path, builds, dot):
    folder = tmp_path / "not there yet" / "tiles"
    first = tile_of(screen(dot=dot), folder)
    again = tile_of(screen(dot=dot), folder)
    assert len(builds) == 1
    assert same(first, again)
    assert again.thresholds.dtype == np.uint16
    assert [file.suffix for file in folder.iterdir()] == [".tile"]


@pytest.mark.parametrize("changed", [{"dot": "ellipse 0.6"}, {"lpi": "26"}, {"angle": "22.5"}])
def test_another_screen_is_another_tile(tmp_path, builds, changed):
    one, other = tile_of(screen(), tmp_path), tile_of(screen(**changed), tmp_path)
    assert len(builds) == 2
    assert not same(one, other)


@pytest.mark.parametrize(
    "harm",
    [
        lambda data: b"",
        lambda data: data[:-1],
        lambda data: data + b"\0",
        lambda data: data[:100] + bytes([data[100] ^ 1]) + data[101:],
        lambda data: b"something else entirely",
    ],
)
def test_a_damaged_tile_is_built_again(tmp_path, builds, harm):
    first = tile_of(screen(), tmp_path)
    (file,) = tmp_path.glob("*.tile")
    file.write_bytes(harm(file.read_bytes()))
    assert same(tile_of(screen(), tmp_path), first)
    assert len(builds) == 2
    assert same(tile_of(screen(), tmp_path), first)
    assert len(builds) == 2


def test_a_folder_that_cannot_be_used_costs_the_keeping_only(tmp_path, builds):
    (tmp_path / "file").write_bytes(b"")
    first = tile_of(screen(), tmp_path / "file" / "tiles")
    assert same(tile_of(screen(), None), first)
    assert len(builds) == 2


def test_the_folder_is_bounded_and_keeps_what_was_used_last(tmp_path, monkeypatch):
    sizes = []
    for age, lpi in enumerate((20, 21, 22)):
        tile_of(screen(lpi=lpi), tmp_path)
        newest = max(tmp_path.glob("*.tile"), key=lambda file: file.stat().st_mtime_ns)
        sizes.append(newest.stat().st_size)
        os.utime(newest, (1000 + age, 1000 + age))
    monkeypatch.setattr(tile_cache, "MOST_BYTES", sum(sizes[1:]) + 1)
    tile_of(screen(lpi=20), tmp_path)  # the oldest, used again
    tile_of(screen(lpi=10), tmp_path)
    held = {file.stat().st_mtime for file in tmp_path.glob("*.tile")}
    assert 1001 not in held
    assert sum(file.stat().st_size for file in tmp_path.glob("*.tile")) <= tile_cache.MOST_BYTES
