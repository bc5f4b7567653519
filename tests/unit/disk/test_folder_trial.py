"""A trial of a profile's folder: what it does in each place, and that it leaves nothing."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk import atomic, set_aside
from filmhand.disk.beneath import Beneath
from filmhand.disk.folder_trial import TRIAL, clear_trial, try_folder
from filmhand.disk.folders import Folders


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    one = Folders(tmp_path / "small")
    one.make()
    return one


@pytest.fixture
def own(folders: Folders) -> Beneath:
    return folders.hidden / "here-00000000"


def everything(folders: Folders) -> set[str]:
    return {str(path) for path in folders.root.rglob("*")}


def test_it_tries_every_folder_and_leaves_nothing(
    folders: Folders, own: Beneath, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, went, back = everything(folders), [], []
    durably, claim = atomic.rename_durably, atomic.claim_by_rename

    def there(source: Any, target: Any) -> None:
        if Beneath(folders.root) == target.parent.parent:
            went.append(target.parent.name)
        durably(source, target)

    def and_back(source: Any, target: Any) -> None:
        back.append(source.parent.name)
        claim(source, target)

    monkeypatch.setattr(atomic, "rename_durably", there)
    monkeypatch.setattr(atomic, "claim_by_rename", and_back)
    try_folder(folders, own, tmp_path / "scratch" / "deep")
    outputs = ["drop", "originals", "positives", "proofs", "records", "rejected"]
    assert sorted(back) == sorted(set(back)) == outputs
    assert everything(folders) - before <= {str(own)}
    assert list((tmp_path / "scratch" / "deep").iterdir()) == []


def test_a_folder_that_is_not_there_is_told_by_its_marker(
    folders: Folders, own: Beneath, tmp_path: Path
) -> None:
    folders.root.rename(tmp_path / "away")
    with pytest.raises(FileNotFoundError) as caught:
        try_folder(folders, own, tmp_path / "scratch")
    assert caught.value.filename == str(folders.marker)
    assert not (tmp_path / "scratch").exists()


def test_a_disk_that_keeps_something_else_is_broken(
    folders: Folders, own: Beneath, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Beneath, "read_bytes", lambda path, most: b"x" * most)
    with pytest.raises(OSError, match="did not keep what was written") as caught:
        try_folder(folders, own, tmp_path / "scratch")
    assert caught.value.errno == errno.EIO


@pytest.mark.parametrize(("failures", "left"), [(0, False), (4, False), (5, True)])
def test_what_went_into_a_folder_and_not_back_is_taken_away(
    folders: Folders, own: Beneath, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    failures: int, *, left: bool,
) -> None:  # fmt: skip
    """A share that fails now and then, also while it is tidied."""
    unlink, tried = Beneath.unlink, [0]

    def claim(source: Beneath, target: Beneath) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    def sometimes(path: Beneath, *, missing_ok: bool = False) -> None:
        if path.parent == folders.drop:
            tried[0] += 1
            if tried[0] <= failures:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
        unlink(path, missing_ok=missing_ok)

    monkeypatch.setattr(atomic, "claim_by_rename", claim)
    monkeypatch.setattr(Beneath, "unlink", sometimes)
    with pytest.raises(OSError, match="Input/output"):
        try_folder(folders, own, tmp_path / "scratch")
    assert bool(folders.drop.names()) is left
    assert not (own / TRIAL).exists()
    assert tried[0] == min(failures + 1, 5)


def test_what_an_earlier_trial_left_is_in_nobodys_way(
    folders: Folders, own: Beneath, tmp_path: Path
) -> None:
    (own / TRIAL / "in").mkdir(parents=True)
    (own / TRIAL / "in" / "other").touch()
    name = f".{own.name}.trial.tmp"
    (folders.drop / name).touch()
    try_folder(folders, own, tmp_path / "scratch")
    assert folders.drop.names() == []
    clear_trial(own)  # and where there is none


@pytest.mark.parametrize("count", [1, 20, 21])
def test_of_what_was_set_aside_twenty_names_are_told(folders: Folders, count: int) -> None:
    assert list(set_aside.worries(folders.hidden)) == []
    for number in range(count):
        (folders.hidden / "set-aside").mkdir(exist_ok=True)
        (folders.hidden / "set-aside" / f"n{number:02}").touch()
    ((said, do),) = set_aside.worries(folders.hidden)
    assert f", {count} did not fit" in said
    them = "it" if count == 1 else "them"
    assert do == f"Look whether somebody misses {them}, then remove {them}."
    assert [f"n{number:02}" in said for number in range(count)] == [
        *[True] * min(count, 20),
        *[False] * (count - min(count, 20)),
    ]
    assert ("n19 and 1 more." in said) is (count > 20)
