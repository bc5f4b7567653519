"""Where a station's state lies, by the user's own settings (XDG Base Directory 0.8)."""

from __future__ import annotations

from pathlib import Path

import pytest

from filmhand.errors import FilmhandError
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
    (tmp_path / ".filmhand").mkdir()
    leave_pointer(tmp_path, tmp_path / "state", "here-00000000")
    assert find_state(tmp_path) == tmp_path / "state"
