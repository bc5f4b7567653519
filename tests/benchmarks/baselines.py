"""The shortest ways to a screened film with general libraries, to measure ours against.

Each opens the art, makes it gray, resizes it to the size that the art has on our film, makes it one
bit a pixel and codes it as Group 4. None lays the art on a sheet, judges it, screens it at a ruling
and angle of choice, mends, marks, compares what it wrote or makes a proof.
"""

from __future__ import annotations

import sys
from importlib.util import find_spec
from pathlib import Path

_PILLOW = """
import sys
from PIL import Image
Image.MAX_IMAGE_PIXELS = None
art, out, width, height, dpi = sys.argv[1], sys.argv[2], *map(int, sys.argv[3:])
image = Image.open(art).convert("L").resize((width, height), Image.Resampling.LANCZOS)
image.convert("1").save(out, compression="group4", dpi=(dpi, dpi))
"""

# Thresholds of round dots at 45 lines to the inch, a tile of them laid over the picture.
_LIBVIPS = """
import math, sys
import pyvips
art, out, width, height, dpi = sys.argv[1], sys.argv[2], *map(int, sys.argv[3:])
image = pyvips.Image.new_from_file(art, access="sequential").colourspace("b-w")
image = image.resize(width / image.width, vscale=height / image.height, kernel="lanczos3")
side = max(2, round(dpi / 45))
waves = (pyvips.Image.xyz(side, side) * (360 / side)).cos()
tile = (waves[0] + waves[1]) * 63 + 128
tile = tile.cast("uchar").copy_memory()
tiles = tile.replicate(math.ceil(image.width / side), math.ceil(image.height / side))
bits = image > tiles.crop(0, 0, image.width, image.height)
bits.tiffsave(out, compression="ccittfax4", bitdepth=1, xres=dpi / 25.4, yres=dpi / 25.4)
"""


def baselines() -> dict[str, str]:
    """The program of each baseline by its library's name; libvips only where it is installed."""
    there = find_spec("pyvips") is not None
    return {"Pillow": _PILLOW} | ({"libvips": _LIBVIPS} if there else {})


def command(program: str, art: Path, out: Path, size: tuple[int, int], dpi: int) -> list[str]:
    """What runs a baseline on art, to a film of so many pixels across and down."""
    return [sys.executable, "-c", program, str(art), str(out), *map(str, size), str(dpi)]
