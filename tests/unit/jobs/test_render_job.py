"""Films on their way into the job's folder."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from filmhand.disk import atomic
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.render_job import copy_durably


def test_a_copy_is_whole_and_its_digest_is_that_of_the_film(tmp_path: Path) -> None:
    film, target = tmp_path / "film.tif", tmp_path / "out.tif"
    film.write_bytes(bytes(range(256)) * 5000)
    assert copy_durably(film, target) == hashlib.sha256(film.read_bytes()).hexdigest()
    assert target.read_bytes() == film.read_bytes()


@pytest.mark.parametrize("kept", [b"", b"dots, dot", b"dots, dotz", b"dots, dots, dots"])
def test_a_disk_that_keeps_something_else_is_found_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kept: bytes
) -> None:
    film, target = tmp_path / "film.tif", tmp_path / "out.tif"
    film.write_bytes(b"dots, dots")
    monkeypatch.setattr(atomic, "write_atomic", lambda path, data: path.write_bytes(kept))
    with pytest.raises(EnvironmentTrouble, match="did not keep what was written"):
        copy_durably(film, target)
