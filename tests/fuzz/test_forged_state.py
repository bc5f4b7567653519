"""Forged state of every kind: afterwards nothing outside of the station has changed.

`forged_state.py` does the same with many more, and says what was forged.
"""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

import pytest
from forged_state import Broken, Canaries, hurry, run
from forging import Forger

COUNT = 2000 if os.environ.get("CI") else 400


def test_nothing_outside_changes_and_sound_work_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hurry(monkeypatch.setattr)
    broken, said = run(tmp_path, COUNT, seed=7)
    assert broken == 0
    assert said["set aside"] > COUNT / 10  # much of it does not fit
    assert said["made"] > COUNT / 10  # and some is sound


def test_the_check_sees_what_it_is_there_for(tmp_path: Path) -> None:
    for number, change in enumerate((
        lambda folder: (folder / "secret.txt").write_bytes(b"x"),
        lambda folder: (folder / "secret.txt").rename(folder / "moved"),
        lambda folder: (folder / "empty").rmdir(),
        lambda folder: (folder / "folder" / "new").touch(),
        lambda folder: (folder / "secret.txt").chmod(0o600),
    )):  # fmt: skip
        folder = tmp_path / str(number)
        canaries = Canaries(folder)
        canaries.check()
        change(folder)
        try:
            canaries.check()
        except Broken:
            continue
        raise AssertionError(f"change {number} was not seen")


def test_every_kind_of_thing_is_forged(tmp_path: Path) -> None:
    outside, root = tmp_path / "outside", tmp_path / "station" / "small"
    Canaries(outside)
    root.mkdir(parents=True)
    forger = Forger(Random(1), root, outside)
    for _ in range(500):
        forger.forge()
    found = list(root.rglob("*"))
    assert any(path.is_symlink() for path in found)
    assert any(path.is_fifo() for path in found)
    assert any(path.is_socket() for path in found)
    assert any(path.name == "job.json" and path.is_file() for path in found)
    assert any(path.name == "order.json" and path.is_file() for path in found)
    for kind in ("records", "rejected", "drop", "positives", ".filmhand"):
        assert (root / kind).is_dir()
