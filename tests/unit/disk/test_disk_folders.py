"""A profile's folders: what is made, what is left as it is, and how much room there is."""

from __future__ import annotations

import json
import os
from pathlib import Path
from types import SimpleNamespace

import pytest

from filmhand.disk.folders import Folders, is_network, same_folder
from filmhand.disk.free_space import LOW, MEASURED_EVERY, Space, SpaceWatch, space_of
from filmhand.errors import EnvironmentTrouble


def test_a_marker_that_is_there_is_not_written_again(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.make()
    assert json.loads(folders.marker.read_bytes())["schema"] == "filmhand-folder/1"
    assert folders.marker.read_bytes().endswith(b"}\n")
    before = folders.marker.stat()
    folders.make()
    assert folders.marker.stat().st_ino == before.st_ino


def test_a_folder_is_made_only_where_it_may_be(tmp_path: Path) -> None:
    with pytest.raises(EnvironmentTrouble, match="not prepared"):
        Folders(tmp_path / "small").ensure(may_make=False)
    assert not (tmp_path / "small").exists()
    there = Folders(tmp_path / "share", elsewhere=True)
    there.make()
    there.ensure(may_make=False)


def test_what_is_missing_is_made_again(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.ensure(may_make=True)
    whole = {".filmhand", "drop", "originals", "positives", "proofs", "records", "rejected"}
    assert {path.name for path in folders.root.iterdir()} == whole
    for name in ("drop", "rejected"):
        (folders.root / name).rmdir()
    (folders.root / "proofs" / "a.jpg").touch()
    folders.ensure(may_make=False)
    assert {path.name for path in folders.root.iterdir()} == whole
    assert (folders.drop, folders.rejected) == (folders.output("drop"), folders.output("rejected"))
    assert folders.originals == folders.root / "originals"


def test_a_file_in_the_place_of_a_sub_folder_makes_it_take_the_next_number(tmp_path: Path) -> None:
    folders = Folders(tmp_path)
    folders.make()
    positives = folders.output("positives")
    (positives / "class 4").write_bytes(b"in the way")
    (positives / "class 4-2").symlink_to(tmp_path)  # never through a link
    for _ in range(2):
        assert folders.place("positives", ("class 4", "tuesday")) == (
            positives / "class 4-3" / "tuesday"
        )
    assert (positives / "class 4-3" / "tuesday").is_dir()
    (positives / "class 5").write_bytes(b"in the way")
    assert folders.place("positives", ("class 5",)) == positives / "class 5-2"


@pytest.mark.parametrize(
    ("lines", "network"),
    [
        (["1 0 0:1 / / rw - ext4 a rw", "2 1 0:2 / /mnt rw - nfs b rw"], True),
        (["2 1 0:2 / /mnt rw - nfs b rw", "1 0 0:1 / / rw - ext4 a rw"], True),
        # Of two on one point the later one is seen.
        (["1 0 0:1 / /mnt rw - nfs a rw", "2 1 0:2 / /mnt rw - ext4 b rw"], False),
        (["1 0 0:1 / /mnt rw - ext4 a rw", "2 1 0:2 / /mnt - nfs b rw"], True),
        (["1 0 0:1 / /mnt rw - ext4 a rw", "2 1 0:2 /mnt - nfs b rw", "", "odd"], False),
    ],
)
def test_which_mount_a_folder_lies_on(tmp_path: Path, lines: list[str], network: bool) -> None:
    """The fields are those of proc_pid_mountinfo(5): five before the options, then " - "."""
    mounts = tmp_path / "mountinfo"
    mounts.write_text("\n".join(lines))
    assert is_network(Path("/mnt/station"), mounts) is network


def test_a_folder_is_the_same_until_another_takes_its_name(tmp_path: Path) -> None:
    path = tmp_path / "folder"
    assert same_folder(path) is None
    path.mkdir()
    first = same_folder(path)
    assert first == same_folder(path) == (path.stat().st_dev, path.stat().st_ino)
    path.rename(tmp_path / "old")
    path.mkdir()
    assert same_folder(path) != first


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
    assert Space(50 * LOW, 100 * LOW, 999).low
    assert not Space(50 * LOW, 100 * LOW, 1000).low
    assert Space(2 * 10**9, 50 * 10**9, 5000).say() == "2.0 of 50.0 GB are free."
    assert Space(2 * 10**9, 50 * 10**9, 1000).say() == "2.0 of 50.0 GB are free."
    assert Space(2 * 10**9, 50 * 10**9, 999).say() == "Only 999 more files can be made there."


def test_space_is_measured_now_and_then_and_its_flaps_are_counted(
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
