"""A profile's folders: what is made, and what is left as it is."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from filmhand.disk.folders import Folders, is_network, same_folder
from filmhand.errors import EnvironmentTrouble


def test_a_marker_that_is_there_is_not_written_again(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.make()
    assert json.loads(folders.marker.path.read_bytes())["schema"] == "filmhand-folder/1"
    assert folders.marker.path.read_bytes().endswith(b"}\n")
    before = folders.marker.lstat()
    folders.make()
    assert folders.marker.lstat().st_ino == before.st_ino


def test_a_folder_is_made_only_where_it_may_be(tmp_path: Path) -> None:
    with pytest.raises(EnvironmentTrouble, match=r"station .* is not there"):
        Folders(tmp_path / "small").ensure(there=lambda: False)
    assert not (tmp_path / "small").exists()
    share = Folders(tmp_path / "share", elsewhere=True)
    with pytest.raises(EnvironmentTrouble, match="not prepared"):
        share.ensure(there=lambda: True)
    share.make()
    share.ensure(there=lambda: False)


def test_whether_the_station_is_there_is_asked_after_its_folder_was_looked_for(
    tmp_path: Path,
) -> None:
    station = tmp_path / "station"
    folders = Folders(station / "small")
    folders.make()
    asked = []

    def there() -> bool:
        asked.append(folders.present())
        return bool(asked[-1])

    folders.ensure(there=there)
    # Its disk goes: what was true a moment ago must not count any more.
    station.rename(tmp_path / "away")
    station.mkdir()
    with pytest.raises(EnvironmentTrouble, match=r"station .* is not there"):
        folders.ensure(there=there)
    assert asked == [True, False] and not list(station.iterdir())


def test_what_is_missing_is_made_again(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.ensure(there=lambda: True)
    whole = {".filmhand", "drop", "originals", "positives", "proofs", "records", "rejected"}
    assert {path.name for path in folders.root.iterdir()} == whole
    for name in ("drop", "rejected"):
        (folders.root / name).rmdir()
    (folders.root / "proofs" / "a.jpg").touch()
    folders.ensure(there=lambda: True)
    assert {path.name for path in folders.root.iterdir()} == whole
    assert (folders.drop, folders.rejected) == (folders.output("drop"), folders.output("rejected"))
    assert folders.originals == folders.top / "originals"


def test_a_file_in_the_place_of_a_sub_folder_makes_it_take_the_next_number(tmp_path: Path) -> None:
    folders = Folders(tmp_path)
    folders.make()
    positives = folders.output("positives")
    (positives / "class 4").path.write_bytes(b"in the way")
    (positives / "class 4-2").path.symlink_to(tmp_path)  # never through a link
    for _ in range(2):
        assert folders.place("positives", ("class 4", "tuesday")) == (
            positives / "class 4-3" / "tuesday"
        )
    assert (positives / "class 4-3" / "tuesday").is_dir()
    (positives / "class 5").path.write_bytes(b"in the way")
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
