"""Where a station's state lies, by the user's own settings (XDG Base Directory 0.8)."""

from __future__ import annotations

from pathlib import Path

import pytest

from filmhand.errors import FilmhandError
from filmhand.peers.host import host_id
from filmhand.service.status import default_state, find_state, leave_pointer


@pytest.mark.parametrize("told", ["", "state", "../state"])
def test_only_an_absolute_folder_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: str
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_STATE_HOME", told)
    inside = tmp_path / "home" / ".local" / "state" / "filmhand"
    assert default_state(tmp_path / "station").parent == inside
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "elsewhere"))
    assert default_state(tmp_path / "station").parent == tmp_path / "elsewhere" / "filmhand"


def host_id_in(state: Path) -> str:
    state.mkdir(exist_ok=True)
    return host_id(state)


@pytest.fixture
def homeless(monkeypatch: pytest.MonkeyPatch) -> None:
    """As a user whom the system's table of users does not know, and without HOME."""

    def unknown(*_: object) -> None:
        raise KeyError("uid not found")

    monkeypatch.delenv("HOME", raising=False)
    monkeypatch.delenv("XDG_STATE_HOME", raising=False)
    monkeypatch.setattr("pwd.getpwuid", unknown)


@pytest.mark.usefixtures("homeless")
def test_a_user_without_a_home_is_told_to_name_a_folder(tmp_path: Path) -> None:
    with pytest.raises(FilmhandError, match="Name one with --state"):
        find_state(tmp_path)


@pytest.mark.usefixtures("homeless")
def test_a_user_without_a_home_finds_the_service_that_runs(tmp_path: Path) -> None:
    station, state = tmp_path / "station", tmp_path / "state"
    (station / ".filmhand").mkdir(parents=True)
    host = host_id_in(state)
    leave_pointer(station, state, host)
    assert find_state(station) == state


@pytest.mark.usefixtures("homeless")
def test_a_pointer_that_somebody_forged_is_not_believed(tmp_path: Path) -> None:
    station, state = tmp_path / "station", tmp_path / "state"
    (station / ".filmhand").mkdir(parents=True)
    host = host_id_in(state)
    leave_pointer(station, state, "else-00000000")  # of another host than the state folder's
    inside = station / "state"
    leave_pointer(station, inside, host_id_in(inside))  # where whoever writes there wrote it
    (station / ".filmhand" / f"{host}.json").symlink_to(tmp_path / "nowhere")
    with pytest.raises(FilmhandError, match="Name one with --state"):
        find_state(station)
