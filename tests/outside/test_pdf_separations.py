"""Plates of PDF pages against what another renderer makes of them, where one is installed.

Ghostscript's device tiffsep writes a picture for each ink that it meets. Poppler draws no plates,
but the pages that plates are drawn from here, as any renderer should.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "art"))

from separated_files import LIMITS
from separated_pdf import SIDE, ink_page, own_pixels

from filmhand.art.plates.find_plates import plates_of_art
from filmhand.art.plates.pdf_recoloring import PageRecoloring

RED_BELOW = b"/R cs 1 scn 0 0 72 40 re f "
# Each page, and by how many of 255 its plates may differ, on the average and anywhere.
PAGES = {
    "a picture in two inks": (b"q 64 0 0 64 4 4 cm /I Do Q", 1, 1),
    "a palette of an ink": (b"q 64 0 0 64 4 4 cm /P Do Q", 0.5, 1),
    "a JPEG in process inks": (b"q 72 0 0 72 0 0 cm /D Do Q", 0.5, 1),
    "gray in ink": (
        b"/B cs 1 scn 8 8 40 40 re f q 32 0 0 32 4 4 cm /G Do Q 0.25 g 40 40 20 20 re f", 0.5, 1,
    ),
    "a form": (b"q 1 0 0 1 8 8 cm /F Do Q /N cs 1 1 scn 40 40 20 20 re f", 0.5, 20),
    "shadings": (b"q 0 0 72 36 re W n /S sh Q /Pattern cs /H scn 0 40 72 20 re f", 2, 4),
    "a pattern": (b"/B cs 1 scn 0 0 72 20 re f /Pattern cs /T scn 0 0 72 72 re f", 0.5, 1),
    "half opaque": (RED_BELOW + b"/A gs /B cs 1 scn 20 20 40 40 re f", 0.5, 1),
    "multiplied": (
        RED_BELOW + b"/M gs /R cs 0.5 scn 20 20 40 40 re f /B cs 1 scn 0 30 60 30 re f", 0.5, 1,
    ),
    "overprinted": (RED_BELOW + b"/O gs /B cs 1 scn 20 20 40 40 re f /X gs 8 8 9 9 re f", 0.5, 1),
    "process inks overprinted": (
        RED_BELOW + b"0 0 1 0 k 0 40 72 32 re f /O gs 1 0 0 0 k 10 10 50 50 re f 0 G 4 w "
        b"20 20 30 30 re S", 0.5, 1,
    ),
    "whites": (
        RED_BELOW + b"1 1 1 rg 4 4 10 10 re f 0 0 0 0 k 20 4 10 10 re f 1 g 40 4 10 10 re f "
        b"/R cs 0 scn 55 4 10 10 re f", 0.5, 1,
    ),
    "every plate": (RED_BELOW + b"/All cs 0.5 scn 20 20 40 40 re f", 0.5, 1),
}  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_plates_are_those_of_another_renderer(tmp_path, name) -> None:
    tool = shutil.which("gs")
    if tool is None:
        pytest.skip("gs is not installed")
    content, mean, most = PAGES[name]
    path = ink_page(tmp_path / "a.pdf", content)
    command = [tool, "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep", f"-r{SIDE}"]
    subprocess.run([*command, f"-sOutputFile={tmp_path / 'a.tif'}", path], check=True, timeout=120)
    found = plates_of_art(path, name="a.pdf", limits=LIMITS, sizing=own_pixels)
    ours = dict(zip(found.names, found.tones, strict=True))
    for plate in tmp_path.glob("a(*).tif"):
        theirs = 255 - np.asarray(Image.open(plate).convert("L")).astype(int)
        tone = ours.get(plate.stem[2:-1])
        if tone is None:
            assert not theirs.any() or name == "every plate"
            continue
        off = np.abs(theirs - tone / 257)
        assert off.mean() <= mean and off.max() <= most


@pytest.mark.parametrize("name", ["a picture in two inks", "overprinted", "gray in ink"])
def test_pages_of_plates_are_drawn_alike_by_another_renderer(tmp_path, name) -> None:
    tool = shutil.which("pdftoppm")
    if tool is None:
        pytest.skip("pdftoppm is not installed")
    path = ink_page(tmp_path / "a.pdf", PAGES[name][0])
    found = plates_of_art(path, name="a.pdf", limits=LIMITS, sizing=own_pixels)
    for ink, tone in zip(found.names, found.tones, strict=True):
        with pikepdf.open(path) as document:
            PageRecoloring(pikepdf, document, ink).recolor(document.pages[0])
            document.save(tmp_path / "plate.pdf")
        command = [tool, "-gray", "-r", str(SIDE), tmp_path / "plate.pdf"]
        drawn = subprocess.run(command, check=True, timeout=120, capture_output=True).stdout
        theirs = 255 - np.asarray(Image.open(BytesIO(drawn))).astype(int)
        off = np.abs(theirs - tone / 257)
        assert (off > 4).mean() < 0.02
