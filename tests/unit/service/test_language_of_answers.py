"""Doctor, status and health speak to whoever asks; what was stored stays as it was said."""

from __future__ import annotations

import gettext
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from filmhand import language
from filmhand.disk.folders import Folders
from filmhand.peers.host import Lock
from filmhand.service.doctor.doctor_words import Examined, Level, Topic
from filmhand.service.doctor.examine import examine_station
from filmhand.service.heartbeat import heartbeat_health
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.status import read_status

PROFILE = (
    "sheet: A4\nmargin: 6 mm\ndpi: 300\nlpi: 25\nangle: 22.5\ndot: round\nmesh: none\n"
    "threshold: 50\n"
)


class Marked(gettext.NullTranslations):
    """A language of its own: English within marks."""

    def gettext(self, message: str) -> str:
        return f"<{message}>"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return f"<{msgid1 if n == 1 else msgid2}>"


@pytest.fixture(autouse=True)
def marked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(language, "_catalog", lambda spoken: Marked())


@pytest.fixture
def station(tmp_path: Path) -> Path:
    profiles = tmp_path / "station" / "profiles"
    profiles.mkdir(parents=True)
    (profiles / "small.yaml").write_text(PROFILE)
    Folders(tmp_path / "station" / "small").make()
    (tmp_path / "station" / "small" / "drop" / "a.png").write_bytes(b"art")
    return tmp_path / "station"


def findings(station: Path) -> Iterator[tuple[Examined | str, Topic, Level, list[str]]]:
    registry = ProfileRegistry(station / "profiles", station)
    registry.read()
    for one in examine_station(station, registry, station.with_name("state"), (), init=False):
        yield one.where, one.what, one.level, [one.say, *([one.do] if one.do else [])]
        told = one.as_dict()
        assert "<" not in f"{told['level']}{told['where']}{told['what']}"  # words for programs
        assert one.told().startswith("<") and f"<{one.what}>: " in one.told()


def test_all_that_doctor_finds_is_translated(station: Path) -> None:
    station.with_name("state").mkdir()
    found = list(findings(station))
    assert {what for _, what, _, _ in found} >= {
        Topic.VERSIONS, Topic.SANDBOX, Topic.SERVICE, Topic.SPACE, Topic.PROFILE, Topic.MARKER,
        Topic.FILES, Topic.WRITERS, Topic.EVENTS, Topic.RIGHTS, Topic.PRIVATE_FOLDER,
    }  # fmt: skip
    said = [sentence for *_, sentences in found for sentence in sentences]
    assert [one for one in said if not (one.startswith("<") and one.endswith(">"))] == []


def test_a_profile_that_is_not_right_is_told_to_doctor_too(station: Path) -> None:
    (station / "profiles" / "small.yaml").unlink()
    found = {what: sentences for _, what, _, sentences in findings(station)}
    assert all(one.startswith("<") for one in found[Topic.PROFILE])
    assert len(found[Topic.PROFILE]) == 2


def test_health_is_told_in_the_language_of_whoever_asks(tmp_path: Path) -> None:
    assert heartbeat_health(tmp_path)["wrong"] == ["<Filmhand is not running for this station.>"]
    lock = Lock(tmp_path)
    try:
        assert heartbeat_health(tmp_path)["wrong"] == [
            "<The service has given no sign of life yet.>"
        ]
    finally:
        lock.release()


def test_a_status_that_was_stored_stays_as_it_was_said(station: Path) -> None:
    state = station.with_name("state")
    told = read_status(station, state)
    profile = {"name": "small", "folder": str(station / "small"), "waiting_count": 0}
    refused = [{"name": "b.png", "say": "Es zu klein.", "do": "Größer senden."}]
    told |= {"profiles": [profile], "refused": refused, "faults": ["Nicht da."]}
    state.mkdir()
    (state / "status.json").write_text(json.dumps(told))
    again = read_status(station, state)
    assert (again["refused"], again["faults"]) == (refused, ["Nicht da."])
    assert again["profiles"][0]["waiting"] == [
        {"name": "a.png", "why": "<filmhand is not running>"}
    ]
    assert again["profiles"][0]["state"] == "not running"
