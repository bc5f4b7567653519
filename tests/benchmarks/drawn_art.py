"""Art for measuring, drawn the same each time: a photograph, a scanned page, logos.

Whoever measures memory has it drawn by :func:`draw_apart` and loads no array library: pages of a
library that the measuring process holds too would count half.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

_INKS = ((16, 24, 60), (120, 16, 24), (12, 60, 32))


def draw_photo(path: Path, width: int = 4000, height: int = 6000) -> None:
    """A color JPEG with the spectrum of a photograph (1/f noise) and soft light; 24 megapixels."""
    import numpy as np
    from PIL import Image

    rng = np.random.default_rng(20)
    side = 1024
    frequency = np.hypot(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :])
    frequency[0, 0] = 1
    planes = []
    for _ in range(3):
        spectrum = np.fft.rfft2(rng.standard_normal((side, side))) / frequency**1.3
        field = np.fft.irfft2(spectrum, (side, side))
        field = (field - field.mean()) / field.std()
        light = np.clip(128 + 52 * field, 0, 255).astype(np.uint8)
        planes.append(Image.fromarray(light).resize((width, height), Image.Resampling.BICUBIC))
    grain = rng.normal(0, 1.5, (height, width)).astype(np.float32)
    rgb = np.stack([np.asarray(plane) for plane in planes], 2).astype(np.float32)
    rgb += grain[..., None]
    Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8)).save(path, quality=90)


def draw_scan(path: Path) -> None:
    """An A4 page of drawn lines and lettering, scanned in gray at 300 dpi, as a JPEG."""
    import numpy as np
    from PIL import Image, ImageDraw

    rng = np.random.default_rng(21)
    width, height = 2480, 3508
    page = Image.new("L", (2 * width, 2 * height), 248)
    draw = ImageDraw.Draw(page)
    for number in range(6):
        draw.text((500, 400 + 330 * number), f"{number} Pull the squeegee", 20, font_size=260)
    for _ in range(40):
        x, y = (int(value) for value in rng.integers((300, 2500), (3900, 6000)))
        side, wide = int(rng.integers(150, 900)), int(rng.integers(14, 60))
        draw.ellipse((x, y, x + side, y + side), outline=20, width=wide)
    for _ in range(60):
        ends = [int(value) for value in rng.integers((200, 2400) * 2, (4700, 6800) * 2)]
        draw.line(ends, fill=20, width=int(rng.integers(14, 40)))
    seen = np.asarray(page.resize((width, height), Image.Resampling.BOX)).astype(np.float32)
    seen += rng.normal(0, 3, seen.shape).astype(np.float32)
    Image.fromarray(np.clip(seen, 0, 255).astype(np.uint8)).save(path, quality=90)


def draw_logo(path: Path, number: int = 0) -> None:
    """A PNG of 600 x 400 pixels in one dark color on white, each number another."""
    from PIL import Image, ImageDraw

    ink = _INKS[number % len(_INKS)]
    picture = Image.new("RGB", (600, 400), "white")
    draw = ImageDraw.Draw(picture)
    draw.ellipse((50, 20, 350, 320), fill=ink)
    draw.ellipse((115, 85, 285, 255), fill="white")
    draw.rectangle((400, 20, 560, 320), fill=ink)
    draw.text((50, 325), f"PULL {number}", ink, font_size=60)
    picture.save(path)


_KINDS = {"photo": draw_photo, "scan": draw_scan}


def draw_apart(kind: str, path: Path) -> None:
    """Have a ``photo`` or ``scan`` drawn by another process."""
    subprocess.run([sys.executable, __file__, kind, str(path)], check=True)


def draw_logos_apart(folder: Path, count: int) -> list[Path]:
    """Have logos, no two the same, drawn by another process; a path each."""
    subprocess.run([sys.executable, __file__, "logos", str(folder), str(count)], check=True)
    return [_logo_path(folder, number) for number in range(count)]


def _logo_path(folder: Path, number: int) -> Path:
    return folder / f"logo-{number:05}.png"


if __name__ == "__main__":
    what, place = sys.argv[1], Path(sys.argv[2])
    if what in _KINDS:
        _KINDS[what](place)
    else:
        for logo in range(int(sys.argv[3])):
            draw_logo(_logo_path(place, logo), logo)
