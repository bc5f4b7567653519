from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import plain_error, trouble_of_file, whose


@pytest.mark.parametrize(
    ("number", "start", "end"),
    [
        (errno.ENOSPC, "There is no space left", "; make room and filmhand goes on by itself."),
        (errno.ELOOP, "A link, or something else that is no file or folder of its own, is in the "
         "way", "; filmhand follows no links there. Move it away and filmhand goes on."),
        (errno.EROFS, "The folder may only be read", "; make it writable and filmhand goes on."),
        (errno.EACCES, "Filmhand has no right to do its work there",
         "; give its user the right to read and write and it goes on."),
        (errno.ENOENT, "Something is no longer there", "; filmhand looks again in a while."),
        (errno.EIO, "The disk or share does not answer as it should",
         ": told so; filmhand tries again."),
    ],
)  # fmt: skip
def test_an_error_is_told_with_and_without_its_place(number: int, start: str, end: str) -> None:
    assert plain_error(OSError(number, "told so")) == start + end
    assert plain_error(OSError(number, "told so", "/a/b")) == f"{start} (/a/b){end}"


def test_what_a_computer_is_short_of_has_no_place() -> None:
    short = "This computer is short of memory or open files; filmhand tries again."
    assert plain_error(OSError(errno.ENOMEM, "told so", "/a/b")) == short


@pytest.mark.parametrize(
    ("number", "reading", "moving"),
    [
        (errno.EACCES, "give filmhand's user the right to read it",
         "give filmhand's user the right to write in its folder"),
        (errno.EBUSY, "close it in other programs", "close it in other programs"),
        (errno.EIO, "copy it here again, and have its disk or share looked at",
         "copy it here again, and have its disk or share looked at"),
    ],
)  # fmt: skip
def test_what_to_do_with_a_file(number: int, reading: str, moving: str, tmp_path: Path) -> None:
    (tmp_path / "a.png").touch()
    (tmp_path / "a.png").chmod(0o640)  # whatever the umask
    path, error = Beneath(tmp_path) / "a.png", OSError(number, "told so")
    owner = whose(path)
    assert owner.startswith("it belongs to ") and owner.endswith(", its rights are -rw-r-----")
    assert trouble_of_file(path, error) == (
        f"filmhand cannot read a.png (told so); {owner}: {reading}"
    )
    assert trouble_of_file(path, error, moving=True) == (
        f"filmhand cannot move a.png (told so); {owner}: {moving}"
    )


def test_a_file_of_nobody_who_is_known(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.png").touch(mode=0o600)

    def unknown(_user: int) -> None:
        raise KeyError

    monkeypatch.setattr("pwd.getpwuid", unknown)
    told = f"it belongs to user {os.getuid()}, its rights are -rw-------"
    assert whose(Beneath(tmp_path) / "a.png") == told
    assert whose(Beneath(tmp_path) / "gone.png") == "whose it is cannot be told"
