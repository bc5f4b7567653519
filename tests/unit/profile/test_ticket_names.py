"""Tickets under the names that editors give them, by hand and in a station."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

SMALL = """\
sheet: 5 x 5 in
dpi: 200
lpi: 25
dot: round
threshold: 50
mesh: none
margin: 0.25 in
angle: 22.5
settle: 50 ms
"""

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def ramp(tmp_path: Path) -> Path:
    path = tmp_path / "ramp [60 mm].png"
    Image.fromarray(np.tile(np.linspace(0, 255, 300).astype(np.uint8), (300, 1))).save(path)
    return path


def test_a_ticket_of_a_plain_editor_is_read_by_hand(
    filmhand: Run, ramp: Path, tmp_path: Path
) -> None:
    profile = tmp_path / "small.yaml"
    profile.write_text(SMALL)
    ticket = ramp.with_name(ramp.name + ".ticket.txt")
    ticket.write_bytes("lpi: 30\r\nfor: José\r\n".encode("utf-16"))
    done = filmhand("make", *tmp_path.glob("*.png*"), "--profile", profile, "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    record = json.loads((tmp_path / "ramp [60 mm].json").read_text())
    assert (record["ticket"]["lpi"], record["for"]) == (30, "José")
    assert record["art"]["width_mm"] == pytest.approx(60, abs=0.2)
    ticket.write_text("lpi: many\n")
    done = filmhand("make", ramp, "--profile", profile, "--out", tmp_path)
    assert done.returncode == 1
    assert f"The ticket {ticket.name}, line 1, column 1: lpi must be" in done.stderr


def test_a_misnamed_ticket_is_told_before_the_film_is_made(
    filmhand: Run, ramp: Path, tmp_path: Path
) -> None:
    profile = tmp_path / "small.yaml"
    profile.write_text(SMALL)
    ramp.with_name("ramp [60 mm].ticket.yaml").write_text("lpi: 30\n")
    done = filmhand("make", ramp, "--profile", profile, "--out", tmp_path / "out")
    assert done.returncode == 1
    assert "a ticket takes the art's whole name, ending included" in done.stderr
    assert "Name it ramp [60 mm].png.ticket.yaml" in done.stderr


def test_a_station_keeps_the_names_of_tickets(filmhand: Run, ramp: Path, tmp_path: Path) -> None:
    station = tmp_path / "station"
    (station / "profiles").mkdir(parents=True)
    (station / "profiles" / "small.yaml").write_text(SMALL)
    drop = station / "small" / "drop"
    drop.mkdir(parents=True)
    (drop / "bad.png").write_bytes(ramp.read_bytes())
    (drop / "bad.png.ticket.yaml.txt").write_text("lpi: many\n")
    (drop / "odd.png").write_bytes(ramp.read_bytes())
    (drop / "odd.ticket.yaml").write_text("lpi: 30\n")
    ramp.rename(drop / ramp.name)
    (drop / (ramp.name + ".ticket.yml")).write_text("lpi: 30\n")
    assert filmhand("once", station, "--state", tmp_path / "state").returncode == 1
    folder = station / "small"
    record = json.loads((folder / "records" / "ramp [60 mm].json").read_text())
    assert (record["ticket"], record["wishes"]) == ({"lpi": 30}, ["width 60 mm"])
    assert {path.name for path in (folder / "originals").iterdir()} == {
        "ramp [60 mm].png",
        "ramp [60 mm].png.ticket.yml",
    }
    assert (folder / "rejected" / "bad.png.ticket.yaml.txt").is_file()
    told = (folder / "rejected" / "odd.png.why.txt").read_text()
    assert "Beside this art lies odd.ticket.yaml" in " ".join(told.split())
    assert (drop / "odd.ticket.yaml").is_file()  # still there, to be given its right name
    assert [path.name for path in (folder / "positives").iterdir()] == ["ramp [60 mm].pdf"]
    why = (folder / "rejected" / "bad.png.why.txt").read_text()
    assert "bad.png.ticket.yaml.txt, line 1" in " ".join(why.split())
