"""Screening alone against copying the same tones: ratios in one run, on one core.

Baseline: ``np.copyto`` of a sheet of 16-bit tones, larger than any cache, into a buffer that
exists and has been touched. Ours: the same sheet cut strip by strip into one buffer that is used
again, and packed into the rows of a sheet of bits that has been touched as well. Each round does
both, one right after the other; the ratio is the median of the rounds' ratios, the times are the
shortest.

"cut" and "pack" are the two halves timed on one strip over and over, so with the strip in the
cache, scaled to the sheet.

Run it with a Python that has filmhand installed::

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/kernel.py [--dpi 1200] [--rounds 7]
"""

from __future__ import annotations

import argparse
import os
import statistics
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import ThresholdTile, build_tile
from filmhand.units import Resolution

SHEET_IN = (13, 19)
ANGLES = (22.5, 45.0)
STRIPS = (16, 32, 64, 128)


def draw_tones(width: int, height: int) -> NDArray[np.uint16]:
    """Soft light with grain; the time of a comparison does not depend on it, but keep it honest."""
    rng = np.random.default_rng(20)
    across = np.linspace(0, 3 * np.pi, width)
    grain = rng.normal(0, 900, (97, width))
    tones = np.empty((height, width), np.uint16)
    for row in range(height):
        light = 32768 + 26000 * np.sin(across + row / height * 7) + grain[row % len(grain)]
        tones[row] = np.clip(light, 0, 65535)
    return tones


def screen(
    tones: NDArray[np.uint16],
    screener: Screener,
    buffer: NDArray[np.bool_],
    sheet: NDArray[np.uint8],
) -> None:
    """Cut and pack a whole sheet, in strips of the buffer's height."""
    for first in range(0, len(tones), len(buffer)):
        strip = tones[first : first + len(buffer)]
        ink = screener.cut(strip, row=first, out=buffer[: len(strip)])
        sheet[first : first + len(strip)] = np.packbits(ink, axis=1)


def seconds(work: Callable[[], object]) -> float:
    """Wall seconds of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def halves(
    tones: NDArray[np.uint16],
    screener: Screener,
    buffer: NDArray[np.bool_],
    sheet: NDArray[np.uint8],
) -> tuple[float, float]:
    """Seconds a sheet of cutting and of packing, with the strip in the cache."""
    strip, rows = tones[: len(buffer)], sheet[: len(buffer)]
    scale = len(tones) / len(buffer)

    def pack() -> None:
        rows[:] = np.packbits(buffer, axis=1)

    cut = min(seconds(lambda: screener.cut(strip, row=0, out=buffer)) for _ in range(60))
    return scale * cut, scale * min(seconds(pack) for _ in range(60))


def measure(tones: NDArray[np.uint16], tile: ThresholdTile, *, rounds: int, label: str) -> None:
    """Print one row for each strip height."""
    height, width = tones.shape
    copy, sheet = np.zeros_like(tones), np.zeros((height, -(-width // 8)), np.uint8)
    screener = Screener(tile, column=0, width=width)
    for count in STRIPS:
        buffer = np.zeros((count, width), np.bool_)
        screen(tones, screener, buffer, sheet)  # once unmeasured
        pairs = [
            (
                seconds(lambda: screen(tones, screener, buffer, sheet)),  # noqa: B023
                seconds(lambda: np.copyto(copy, tones)),
            )
            for _ in range(rounds)
        ]
        ours, base = (min(pair[k] for pair in pairs) for k in (0, 1))
        ratio = statistics.median(pair[0] / pair[1] for pair in pairs)
        cut, pack = halves(tones, screener, buffer, sheet)
        print(
            f"{label} {count:6d} {ours * 1e3:9.0f} {base * 1e3:9.0f} {ratio:7.2f}"
            f" {cut * 1e3:8.0f} {pack * 1e3:8.0f}"
        )


def main() -> None:
    """Print one row for each angle and strip height."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, default=1200)
    parser.add_argument("--lpi", type=float, default=45)
    parser.add_argument("--rounds", type=int, default=7)
    wanted = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    width, height = (side * wanted.dpi for side in SHEET_IN)
    tones = draw_tones(width, height)
    print(
        f"{width} x {height} 16-bit tones ({tones.nbytes / 2**20:.0f} MiB), {wanted.lpi:g} lpi, "
        f"one core, {wanted.rounds} rounds"
    )
    print("angle      tile  strip   ours ms   copy ms   ratio   cut ms  pack ms")
    for angle in ANGLES:
        lattice = find_lattice(wanted.lpi, angle, Resolution(wanted.dpi, wanted.dpi))
        tile = build_tile(lattice, "round")
        rows, length = tile.thresholds.shape
        measure(tones, tile, rounds=wanted.rounds, label=f"{angle:5.1f} {rows:4d}x{length:<6d}")


if __name__ == "__main__":
    main()
