"""``filmhand predict`` as people and scripts meet it."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, build_tile
from filmhand.units import Resolution

Run = Callable[..., subprocess.CompletedProcess[str]]
PROFILE = """\
sheet: 2 x 2 in
dpi: 600
lpi: 30
dot: round
threshold: 50
mesh: 62-64
margin: 2 mm
angle: 22.5
press: {ink_spread: 25 um, mesh_angle: 5}
"""


@pytest.fixture
def film(tmp_path: Path) -> Path:
    dpi = Resolution(600, 600)
    tile = build_tile(find_lattice(30, 22.5, dpi), "round")
    tone = np.tile(np.repeat([0.0, 0.2, 0.6, 1.0], 300), (900, 1))
    bits = Screener(tile, column=0, width=1200).cut(
        np.rint(tone * FULL_TONE).astype(np.uint16), row=0
    )
    path = tmp_path / "film.png"
    Image.fromarray(~bits).save(path, dpi=(600, 600))
    return path


def test_a_picture_and_a_report(filmhand: Run, film: Path, tmp_path: Path) -> None:
    done = filmhand("predict", film, "--mesh", "62-64")
    assert done.returncode == 0
    with Image.open(tmp_path / "film.print.png") as picture:
        assert picture.size == (2000, 1500)
        shown = np.asarray(picture)
    assert shown[:, :400].min() > 250  # bare
    assert shown[20:-20, 1600:-20].max() < 5  # solid, but for the edge of the sheet
    for word in ("mesh", "coverage", "dots", "shadow dots", "bands", "tone", "film.print.png"):
        assert word in done.stdout


def test_json_and_the_profiles_press(filmhand: Run, film: Path, tmp_path: Path) -> None:
    (tmp_path / "p.yaml").write_text(PROFILE)
    told = json.loads(
        filmhand("predict", film, "--profile", "p.yaml", "--out", "x.png", "--json").stdout
    )
    assert (tmp_path / "x.png").is_file()
    assert told["picture"] == "x.png" and told["film"] == "film.png"
    assert told["press"]["spread_um"] == 25 and told["press"]["mesh_angle"] == 5
    assert told["flats"] == "the profile's screen"
    assert told["dots"].keys() == {"count", "lost", "lost_pct"}
    assert told["shadow_dots"].keys() == {"count", "filled", "filled_pct"}
    sources = {round(point["film_pct"]): point["from"] for point in told["curve"]}
    assert sources[20] == sources[60] == "film" and sources[40] == "flats"
    # 0, 20, 60 and 100 % in equal parts, and this much ink spreads.
    assert told["film_pct"] == pytest.approx(45, abs=0.5)
    assert told["print_pct"] > told["film_pct"] + 2


def test_a_mesh_on_the_command_goes_before_the_profiles(
    filmhand: Run, film: Path, tmp_path: Path
) -> None:
    (tmp_path / "p.yaml").write_text(PROFILE)
    done = filmhand("predict", film, "--profile", "p.yaml", "--mesh", "43-80", "--json")
    told = json.loads(done.stdout)
    assert told["mesh"] == "110 (43-80)" and told["press"]["spread_um"] == 25


def test_what_is_missing_or_wrong_is_said_in_a_sentence(
    filmhand: Run, film: Path, tmp_path: Path
) -> None:
    done = filmhand("predict", film)
    assert done.returncode == 2 and "--mesh 43-80" in done.stderr
    done = filmhand("predict", film, "--mesh", "none")
    assert done.returncode == 2 and "--mesh 43-80" in done.stderr
    done = filmhand("predict", film, "--mesh", "43-80", "--out", "film.png")
    assert done.returncode == 2 and "would replace the film" in done.stderr
    done = filmhand("predict", "nothing.png", "--mesh", "43-80")
    assert done.returncode == 1 and "nothing.png" in done.stderr
    Image.new("1", (200, 200), 1).save(tmp_path / "mute.png")
    done = filmhand("predict", "mute.png", "--mesh", "43-80")
    assert done.returncode == 1 and "--dpi" in done.stderr
    done = filmhand("predict", "mute.png", "--mesh", "43-80", "--dpi", "300")
    assert done.returncode == 0
