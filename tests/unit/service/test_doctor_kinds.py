"""What `filmhand doctor` says of the kinds of art that are open on this computer."""

from __future__ import annotations

import pytest

from filmhand.art.files import extras
from filmhand.service.doctor.doctor_words import Level
from filmhand.service.doctor.examine import _kinds_of_art


def test_all_kinds_are_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extras, "installed", lambda: list(extras.LIBRARIES))
    found = _kinds_of_art()
    assert found.level is Level.OK and found.do is None
    for word in ("JPEG", "PDF", "SVG", "HEIC", "JPEG XL", "deep color"):
        assert word in found.say


def test_what_lacks_its_library_is_named_with_what_adds_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extras, "installed", lambda: ["pypdfium2"])
    found = _kinds_of_art()
    opened, closed = found.say.split("; not ")
    assert found.level is Level.NOTE and "PDF" in opened and "PDF" not in closed
    assert "SVG" in closed and "HEIC" in closed and "filmhand[art]" in (found.do or "")
    monkeypatch.setattr(extras, "installed", list)
    assert "addition" not in _kinds_of_art().say
