"""The mark by which a station is known again, and what stands in its place."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk import atomic
from filmhand.service.station_mark import StationMark


@pytest.fixture
def places(tmp_path: Path) -> tuple[Path, Path]:
    return tmp_path / "srv" / "station", tmp_path / "var" / "state"


def mark_of(station: Path) -> Path:
    return station / ".filmhand" / "station"


def test_the_first_start_leaves_one_mark_in_both_places(places: tuple[Path, Path]) -> None:
    station, state = places
    mark = StationMark(station, state)
    assert (mark.known, mark.carried, mark.present, mark.there()) == (False, False, False, False)
    assert mark.begin() is True
    assert mark.known and mark.carried and mark.present
    text = mark_of(station).read_bytes()
    assert re.fullmatch(rb"[0-9a-f]{32}\n", text)
    assert (state / "station").read_bytes() == text
    assert [one.name for one in mark_of(station).parent.iterdir()] == ["station"]
    again = StationMark(station, state)
    assert again.known and again.begin() is True
    assert mark_of(station).read_bytes() == text


def test_a_station_without_its_mark_is_not_there_and_is_not_marked(
    places: tuple[Path, Path],
) -> None:
    station, state = places
    StationMark(station, state).begin()
    mark_of(station).unlink()
    mark = StationMark(station, state)
    assert mark.begin() is False
    assert (mark.known, mark.carried, mark.present) == (True, False, False)
    assert str(station) in mark.why and "--init" in mark.why
    assert mark.renew() is True
    assert mark.present


def test_another_station_in_its_place_is_not_taken_for_it(places: tuple[Path, Path]) -> None:
    station, state = places
    mark = StationMark(station, state)
    mark.begin()
    own = mark_of(station).read_bytes()
    assert mark.there()
    mark_of(station).write_bytes(b"0" * 32 + b"\n")
    for _ in range(2):
        assert not mark.there()
        assert not mark.present
    mark_of(station).write_bytes(own)
    assert mark.there()
    mark_of(station).unlink()
    assert not mark.there()
    assert mark.renew()  # what is there now, whatever was known
    assert mark_of(station).read_bytes() != own
    assert (state / "station").read_bytes() == mark_of(station).read_bytes()


def test_a_mark_that_lies_still_is_not_read_again(
    places: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One look each second, for ever: it must cost one call."""
    station, state = places
    mark = StationMark(station, state)
    mark.begin()
    read: list[Any] = []
    module = "filmhand.service.station_mark._read"
    monkeypatch.setattr(module, lambda path: read.append(path) or mark._wanted)
    assert mark.there() and mark.there()
    assert read == []
    mark_of(station).touch()
    assert mark.there() and mark.there()
    assert len(read) == 1


def test_a_mark_that_another_host_left_is_taken_over(places: tuple[Path, Path]) -> None:
    station, state = places
    StationMark(station, state).begin()
    other = StationMark(station, state.with_name("other"))
    assert other.begin() is True
    assert (state.with_name("other") / "station").read_bytes() == mark_of(station).read_bytes()


@pytest.mark.parametrize("first", [b"1" * 32 + b"\n", b"not a mark", b"1" * 64])
def test_two_hosts_that_start_at_once_agree(
    places: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, first: bytes
) -> None:
    """Another has the name just now; what is no mark makes way."""
    station, state = places
    publish = atomic.publish_no_replace

    def beaten(source: Any, target: Any) -> None:
        mark_of(station).write_bytes(first)
        publish(source, target)

    monkeypatch.setattr(atomic, "publish_no_replace", beaten)
    mark = StationMark(station, state)
    assert mark.begin() is True
    text = mark_of(station).read_bytes()
    assert re.fullmatch(rb"[0-9a-f]{32}\n", text)
    assert (text == first) is (first == b"1" * 32 + b"\n")
    assert (state / "station").read_bytes() == text
    assert [one.name for one in mark_of(station).parent.iterdir()] == ["station"]
