"""The libraries for less common art within the limits of a worker: they load, draw and refuse."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import tifffile
from PIL import Image

PROFILE = """
sheet: a4
dpi: 600
lpi: 40
dot: round
threshold: 50
mesh: none
margin: 5 mm
write: tiff
limits: {memory: 2 GiB}
"""


def make(folder: Path, art: Path) -> tuple[int, str]:
    """Exit code and what was said, by the command that people use."""
    profile = folder / "p.yaml"
    profile.write_text(PROFILE)
    command = [sys.executable, "-m", "filmhand", "make", str(art)]
    command += ["--profile", str(profile), "--out", str(folder / "out")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    return done.returncode, done.stderr


def pdf(path: Path, **save: object) -> Path:
    with pikepdf.new() as made:
        page = made.add_blank_page(page_size=(200, 280))
        page.Contents = made.make_stream(b"0 0 0 1 k 60 80 90 90 re f 3 w 10 10 m 190 270 l S")
        made.save(path, **save)
    return path


def svg(path: Path) -> Path:
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 280">'
        '<circle cx="90" cy="90" r="50" opacity=".5"/><path d="M9 9L90 250" stroke="#000"/></svg>'
    )
    return path


def deep(path: Path) -> Path:
    ramp = np.linspace(0, 65535, 700).astype(np.uint16)
    pixels = np.broadcast_to(ramp[None, :, None], (900, 700, 3))
    tifffile.imwrite(path, pixels, photometric="rgb", compression="deflate")
    return path


def heic(path: Path) -> Path:
    heif = pytest.importorskip("pillow_heif")
    ramp = np.broadcast_to(np.linspace(0, 255, 700).astype(np.uint8)[None, :, None], (900, 700, 3))
    heif.from_pillow(Image.fromarray(np.ascontiguousarray(ramp))).save(path, quality=90)
    return path


@pytest.mark.parametrize(
    ("maker", "module", "treated"),
    [(pdf, "pypdfium2", "line"), (svg, "resvg_py", "tone"), (deep, "pyvips", "tone"),
     (heic, "pillow_heif", "tone")],
)  # fmt: skip
def test_the_libraries_work_within_the_limits(
    tmp_path: Path, maker: object, module: str, treated: str
) -> None:
    pytest.importorskip(module, exc_type=(ImportError, OSError))
    assert callable(maker)
    code, said = make(tmp_path, maker(tmp_path / "a.art"))
    assert code == 0, said
    assert json.loads((tmp_path / "out" / "a.json").read_text())["treated"] == treated


def test_a_locked_document_is_refused_in_words(tmp_path: Path) -> None:
    pytest.importorskip("pypdfium2")
    art = pdf(tmp_path / "a.pdf", encryption=pikepdf.Encryption(user="u", owner="o"))
    code, said = make(tmp_path, art)
    assert code == 1 and "password" in said and "Traceback" not in said
