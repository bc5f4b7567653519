"""Requests of commands to the service: strict forms, in the order of asking."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from filmhand.disk.folders import Folders
from filmhand.jobs.requests import Asked, ask, asked

NOW = datetime(2026, 3, 1, tzinfo=UTC)


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    made = Folders(tmp_path / "small")
    made.make()
    return made


def test_asked_for_in_order_and_gone_when_done(folders: Folders) -> None:
    assert asked(folders) == []
    ask(folders, Asked.DISCARD, "second", NOW + timedelta(seconds=1))
    ask(folders, Asked.DISCARD, "first", NOW)
    found = asked(folders)
    assert [(one.do, one.what) for one in found] == [
        (Asked.DISCARD, "first"),
        (Asked.DISCARD, "second"),
    ]
    found[0].done()
    found[0].done()
    assert [one.what for one in asked(folders)] == ["second"]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"[]",
        b'{"do": "discard", "what": "x"}',
        json.dumps({"schema": "filmhand-request/1", "do": "print", "what": "x"}).encode(),
        json.dumps({"schema": "filmhand-request/1", "do": "discard", "what": "x" * 2000}).encode(),
        b"x" * 10_000,
    ],
)
def test_what_is_no_request_is_set_aside(folders: Folders, data: bytes) -> None:
    ask(folders, Asked.DISCARD, "sound", NOW)
    around = folders.root / ".filmhand" / "asked"
    (around / "20260301T000009-00000000.json").write_bytes(data)
    (around / "else.json").write_bytes(b"{}")
    (around / "20260301T000009-00000001.json").symlink_to("/etc/hostname")
    os.mkfifo(around / "20260301T000009-00000002.json")
    assert [one.what for one in asked(folders)] == ["sound"]
    assert len(list((folders.root / ".filmhand" / "set-aside").iterdir())) == 4
    assert len(list(around.iterdir())) == 1


def test_a_link_in_the_place_of_the_folder_is_set_aside(folders: Folders, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "20260301T000009-00000000.json").write_bytes(b"{}")
    (folders.root / ".filmhand" / "asked").symlink_to(elsewhere)
    assert asked(folders) == []
    ask(folders, Asked.DISCARD, "x", NOW)
    assert len(list(elsewhere.iterdir())) == 1
    assert len(asked(folders)) == 1
