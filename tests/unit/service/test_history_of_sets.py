"""Where the ledger is gone, the records of a set are found by the name of its art."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import pytest

from filmhand.disk.folders import Folders
from filmhand.service.history import file_history


@pytest.mark.parametrize("name", ["poster.png", "poster"])
def test_all_films_of_a_set_are_told_of(tmp_path: Path, name: str) -> None:
    folders = Folders(tmp_path / "small")
    folders.make()
    for k, ink in enumerate(("red", "dark blue", "blue 2 b"), 1):
        stem = f"poster-2-{k}-{ink.replace(' ', '-')}"
        place = {"id": "ab", "k": k, "of": 3, "ink": ink, "color": [50.0, 0.0, 0.0]}
        record = {
            "job": "20260301T100000-00000001",
            "at": "2026-03-01T10:00:00Z",
            "film": {"files": {"pdf": f"{stem}.pdf"}},
            "source": {"name": "poster.png", "sha256": "ab" * 32},
            "set": place,
        }
        (folders.output("records").path / f"{stem}.json").write_text(json.dumps(record))
    ticks = itertools.count()
    told = file_history({"small": folders}, name, tmp_path / "gone", lambda: float(next(ticks)))
    (one,) = told.found
    assert [(film["file"], film["set"]["k"]) for film in one["films"]] == [
        ("poster-2-1-red.pdf", 1), ("poster-2-2-dark-blue.pdf", 2), ("poster-2-3-blue-2-b.pdf", 3),
    ]  # fmt: skip
