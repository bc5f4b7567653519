"""Where a station's state lies, by the user's own settings (XDG Base Directory 0.8)."""

from __future__ import annotations

from pathlib import Path

import pytest

from filmhand.service.status import default_state


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
