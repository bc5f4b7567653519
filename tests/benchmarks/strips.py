"""Tone strips to a finished film, against Pillow's whole way from the same size of picture.

Ours: strips of 16-bit tone are cut against the tile, packed, put on the sheet and coded into a
TIFF or a PDF that is on the disk at the end. Baseline: Pillow's of ``baselines.py``, from the JPEG
on, of the same height.
The tone is a ramp with noise.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/strips.py [--dpi 1200] [--runs 3]
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from baselines import baselines, command
from drawn_art import draw_apart
from process_tree import spend

from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import write_films
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import ThresholdTile, build_tile
from filmhand.units import Resolution

STRIP = 128


def screen_and_write(
    tile: ThresholdTile, tone: np.ndarray, folder: Path, dpi: int, kind: Format
) -> None:
    """The way of every strip of a sheet of 13 x 19 inches."""
    width, height = 13 * dpi, 19 * dpi
    screener = Screener(tile, column=0, width=width)
    with BitSheet.create(folder / "bits", width=width, height=height) as bits:

        def one(top: int) -> None:
            count = min(STRIP, height - top)
            bits.write(top, np.packbits(screener.cut(tone[:count], row=top), axis=1))

        with ThreadPoolExecutor(os.cpu_count()) as pool:
            list(pool.map(one, range(0, height, STRIP)))
        write_films(bits, {kind: folder / "film"}, dpi=Resolution(dpi, dpi))


def main() -> None:
    """Print a row a format, and the ratios pair by pair."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, default=1200)
    parser.add_argument("--runs", type=int, default=3)
    wanted = parser.parse_args()
    dpi = wanted.dpi
    tile = build_tile(find_lattice(45, 22.5, Resolution(dpi, dpi)), "round")
    ramp = np.linspace(0, 65535, 13 * dpi)
    noise = np.random.default_rng(1).normal(0, 600, (STRIP, 13 * dpi))
    tone = np.clip(ramp + noise, 0, 65535).astype(np.uint16)
    print(f"13 x 19 in at {dpi} dpi, 45 lpi, {os.cpu_count()} cores, median of {wanted.runs}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        art = folder / "photo.jpg"
        draw_apart("photo", art)
        size = round(19 * dpi * 4000 / 6000), 19 * dpi
        baseline = command(baselines()["Pillow"], art, folder / "base.tif", size, dpi)
        for kind in (Format.TIFF, Format.PDF):
            pairs = []
            for _ in range(wanted.runs):
                start = time.perf_counter()
                screen_and_write(tile, tone, folder, dpi, kind)
                pairs.append((time.perf_counter() - start, spend(baseline).wall))
            ours, theirs = (statistics.median(pair[k] for pair in pairs) for k in (0, 1))
            ratio = statistics.median(a / b for a, b in pairs)
            print(
                f"strips to {kind!s:5} {ours:6.2f} s   Pillow {theirs:6.2f} s   ratio {ratio:.2f}"
            )


if __name__ == "__main__":
    main()
