"""A mesh has both its names wherever people meet it, and a count alone is told as it was read."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

Run = Callable[..., subprocess.CompletedProcess[str]]
BOTH = "110 (43-80)"
READ = "Mesh 110 is read as the inch label, and a thread of 80 µm is assumed: 110 (43-80)."
PROFILE = """\
sheet: 3 x 3 in
dpi: 300
lpi: {lpi}
dot: round
threshold: 50
mesh: 110
margin: 0.25 in
angle: 22.5
settle: 50 ms
art: {{treat: tone}}
tone: {{hold: {hold}, endpoints: off}}
"""


@pytest.fixture
def ramp(tmp_path: Path) -> Path:
    path = tmp_path / "ramp.png"
    Image.fromarray(np.tile(np.linspace(0, 255, 600).astype(np.uint8), (600, 1))).save(path)
    return path


def joined(text: str) -> str:
    return " ".join(text.split())


def test_a_film_its_record_and_what_the_commands_tell(
    filmhand: Run, ramp: Path, tmp_path: Path
) -> None:
    (tmp_path / "p.yaml").write_text(PROFILE.format(lpi=25, hold="auto"))
    told = joined(filmhand("check", "p.yaml").stdout)
    assert f"mesh {BOTH}, thread assumed, opening 152.6 µm" in told
    assert READ in told
    # The table's threads at 43 a cm: each with what it would hold.
    for thread in ("110 (43-80): dots over 113 µm", "110 (43-71): dots over 100 µm"):
        assert thread in told

    assert filmhand("make", ramp, "--profile", "p.yaml", "--out", "out").returncode == 0
    record = json.loads((tmp_path / "out" / "ramp.json").read_text())
    assert record["mesh"]["label"] == BOTH
    assert any(note.startswith(READ) for note in record["notes"])

    for command in ("measure", "predict"):
        assert READ in joined(filmhand(command, "out/ramp.pdf", "--mesh", "110").stdout)
        plain = joined(filmhand(command, "out/ramp.pdf", "--mesh", BOTH).stdout)
        assert f"mesh {BOTH}" in plain
        assert "assumed" not in plain


def test_a_refusal_its_offers_and_the_status_page(
    filmhand: Run, ramp: Path, tmp_path: Path
) -> None:
    (tmp_path / "shop" / "profiles").mkdir(parents=True)
    (tmp_path / "shop" / "profiles" / "fine.yaml").write_text(PROFILE.format(lpi=50, hold="off"))
    drop = tmp_path / "shop" / "fine" / "drop"
    drop.mkdir(parents=True)
    (drop / "ramp.png").write_bytes(ramp.read_bytes())
    assert filmhand("once", "shop", "--state", "state").returncode == 1
    why = (tmp_path / "shop" / "fine" / "rejected" / "ramp.png.why.txt").read_text()
    assert f"on mesh {BOTH} anything" in joined(why)
    assert f"on mesh {BOTH} anything" in (tmp_path / "shop" / "status.html").read_text()
