"""A film written and read back in each format, against Pillow saving and loading the same bits.

Baseline: Pillow saves the whole sheet as a Group 4 TIFF of one strip, and loads it again. Ours: the
sheet in its file is written in one format, down to the disk, and read back and compared bit by bit.
Processor seconds of one process with one thread, the least of the runs, and ratios to the baseline;
``FILMHAND_PLAIN=1`` in the environment measures without the loops in C.

Two sheets: a ramp with grain, screened, and a page of letters and rings. With ``--levels`` what
zlib's levels make of both, as shares of the packed bits.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/films.py [--dpi 1200] [--runs 3] [--levels]
"""

from __future__ import annotations

import argparse
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.kernels.loops import compiled
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import build_tile
from filmhand.units import Resolution

STRIP = 256


def screened(bits: BitSheet, dpi: int) -> None:
    """A ramp with grain, in round dots of 45 lines an inch."""
    tile = build_tile(find_lattice(45, 22.5, Resolution(dpi, dpi)), "round")
    screener = Screener(tile, column=0, width=bits.width)
    ramp = np.linspace(0, 65535, bits.width)
    grain = np.random.default_rng(1).normal(0, 600, (STRIP, bits.width))
    tone = np.clip(ramp + grain, 0, 65535).astype(np.uint16)
    for top in range(0, bits.height, STRIP):
        ink = screener.cut(tone[: min(STRIP, bits.height - top)], row=top)
        bits.write(top, np.packbits(ink, axis=1))


def drawn(bits: BitSheet, dpi: int) -> None:
    """Lines of letters, and rings."""
    chance = np.random.default_rng(1)
    page = Image.new("1", (bits.width, bits.height))
    pen = ImageDraw.Draw(page)
    font = ImageFont.load_default(dpi // 5)
    for y in range(dpi // 2, bits.height, 3 * dpi // 10):
        line = "".join(chance.choice(list("abcdefghijklmnopqrstuvwxyz    "), 110))
        pen.text((dpi // 2, y), line, font=font, fill=1)
    for _ in range(60):
        x, y, side = chance.integers(0, (bits.width, bits.height, 3 * dpi // 2))
        width = int(chance.integers(3, dpi // 15))
        pen.ellipse((x, y, x + side + 9, y + side + 9), outline=1, width=width)
    bits.write(0, np.packbits(np.asarray(page), axis=1))


def seconds(work: Callable[[], object], runs: int) -> float:
    """Processor seconds of the shortest run."""
    took = []
    for _ in range(runs):
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return min(took)


def formats(bits: BitSheet, folder: Path, dpi: int, runs: int) -> Iterator[str]:
    """A row for Pillow and for each format."""
    resolution = Resolution(dpi, dpi)
    rows = bits.read(0, bits.height)
    path = folder / "pillow.tif"

    def save() -> None:
        picture = Image.frombytes("1", (bits.width, bits.height), rows.tobytes())
        picture.save(path, compression="group4")

    base = seconds(save, runs), seconds(lambda: Image.open(path).load(), runs)
    yield f"{'Pillow':8} {base[0]:7.3f}      {base[1]:7.3f}      {path.stat().st_size:10d}"
    for kind in Format:
        path = folder / f"film{kind.suffix}"
        files = {kind: path}
        write = seconds(lambda: write_films(bits, files, dpi=resolution, threads=1), runs)  # noqa: B023
        verify = seconds(
            lambda: verify_film(path, bits, format=kind, dpi=resolution, threads=1),  # noqa: B023
            runs,
        )
        yield (
            f"{kind!s:8} {write:7.3f} {write / base[0]:4.2f} {verify:7.3f} {verify / base[1]:4.2f} "
            f"{path.stat().st_size:10d}"
        )


def levels(bits: BitSheet) -> Iterator[str]:
    """A row for each of zlib's levels."""
    data = [
        bits.read(y, min(STRIP, bits.height - y)).tobytes() for y in range(0, bits.height, STRIP)
    ]
    whole = sum(map(len, data))
    for level in range(1, 10):
        start = time.process_time()
        packed = sum(len(zlib.compress(strip, level)) for strip in data)
        took = (time.process_time() - start) / whole * 1e9
        yield f"level {level}: {packed / whole:6.1%} of the bits, {took:6.1f} ns a byte"


def main() -> None:
    """Print the rows of both sheets."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, default=1200)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--levels", action="store_true")
    wanted = parser.parse_args()
    Image.MAX_IMAGE_PIXELS = None
    loops = "compiled" if compiled() else "NumPy's"
    width, height = 13 * wanted.dpi, 19 * wanted.dpi
    for draw in (screened, drawn):
        with (
            tempfile.TemporaryDirectory() as name,
            BitSheet.create(Path(name, "bits"), width=width, height=height) as bits,
        ):
            draw(bits, wanted.dpi)
            print(f"{draw.__name__}, 13 x 19 in at {wanted.dpi} dpi, {loops} loops")
            if wanted.levels:
                print(*levels(bits), sep="\n")
                continue
            print(f"{'':8} {'write s':>7}      {'read s':>7}      {'bytes':>10}")
            for row in formats(bits, Path(name), wanted.dpi, wanted.runs):
                print(row, flush=True)


if __name__ == "__main__":
    main()
