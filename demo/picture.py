"""Draws the picture at the top of the README from what the demo made: art, film, film up close.

Run it after the demo, with the demo's own Python::

    demo/.venv/bin/python demo/picture.py demo/station demo/in-and-out.png
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from filmhand.film.read import read_film

HEIGHT, GAP, FOOT = 560, 28, 34
GROUND, INK = (247, 244, 236), (40, 38, 34)


def film_bits(path: Path) -> Image.Image:
    """The film at device resolution, black ink on white."""
    with tempfile.TemporaryDirectory() as folder:
        bits, _ = read_film(path, Path(folder))
        with bits:
            rows = np.unpackbits(bits.read(0, bits.height), axis=1)[:, : bits.width]
    return Image.fromarray(255 - 255 * rows)


def main() -> None:
    """Compose the three panels side by side."""
    station, target = Path(sys.argv[1]), Path(sys.argv[2])
    root = station / "small-sheet"
    art = Image.open(next((root / "originals").glob("moon snail*.jpg"))).convert("RGB")
    film = film_bits(next((root / "positives").glob("moon snail*.pdf")))
    seen = film.convert("F").resize(
        (round(film.width * HEIGHT / film.height), HEIGHT), Image.Resampling.LANCZOS
    )
    close = film.crop((1150, 760, 1150 + HEIGHT, 760 + HEIGHT))
    panels = [
        (art.resize((round(art.width * HEIGHT / art.height), HEIGHT)), "dropped in the folder"),
        (seen.convert("L").convert("RGB"), "the film"),
        (close.convert("RGB"), "the film, one pixel a pixel"),
    ]
    width = sum(panel.width for panel, _ in panels) + GAP * (len(panels) + 1)
    sheet = Image.new("RGB", (width, HEIGHT + 2 * GAP + FOOT), GROUND)
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(20)
    left = GAP
    for panel, words in panels:
        sheet.paste(panel, (left, GAP))
        draw.text((left, GAP + HEIGHT + 10), words, INK, font)
        left += panel.width + GAP
    sheet.quantize(64).save(target, optimize=True)


if __name__ == "__main__":
    main()
