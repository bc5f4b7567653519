"""The proof of a set has no record of its own, and is no stray picture."""

from __future__ import annotations

from pathlib import Path

from filmhand.disk.folders import Folders
from filmhand.service.strays import strays


def test_only_the_proof_of_a_set_is_known_without_a_record(tmp_path: Path) -> None:
    root = tmp_path / "small"
    Folders(root).make()
    for folder in ("records", "proofs", "positives"):
        (root / folder / "class 4").mkdir()
    for name in ("poster-2-1-red", "poster-2-2-dark-blue"):
        (root / "records/class 4" / f"{name}.json").write_text("{}")
        (root / "proofs/class 4" / f"{name}.jpg").touch()
    (root / "proofs/class 4/poster-2.jpg").touch()
    assert list(strays(tmp_path, {"small": root}, [])) == []
    (root / "proofs/class 4/other.png").touch()
    (root / "proofs/poster-2.jpg").touch()
    (root / "positives/class 4/poster-2.png").touch()
    films, proofs = strays(tmp_path, {"small": root}, [])
    assert "class 4/poster-2.png" in films
    assert "class 4/other.png" in proofs and " poster-2.jpg" in proofs
    assert "class 4/poster-2.jpg" not in proofs
