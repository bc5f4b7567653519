"""Building threshold tiles for fine printers, against sorting as many numbers once.

Baseline: NumPy's stable ``argsort`` of as many random float64 as the tile has pixels. Ours: from
ruling and angle to the finished tile. Each round does both, one right after the other; times are of
the processor, the ratio is the median of the rounds' ratios.

Run it with a Python that has filmhand installed, also with ``FILMHAND_PLAIN=1``::

    python tests/benchmarks/tiles.py [--dpi 2880] [--rounds 3]
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable

import numpy as np

from filmhand.kernels.loops import compiled
from filmhand.screen.grain import build_grain, find_grain
from filmhand.screen.lattice import find_lattice
from filmhand.screen.tile import build_tile
from filmhand.units import Resolution

DOTS = ("round", "ellipse", "diamond", "square", "line", "grain")
RULINGS = (45, 65)
ANGLE = 22.5
SMALLEST = 150, 220  # pixels of the smallest dot and shadow dot


def seconds(work: Callable[[], object]) -> float:
    """Seconds of the processor for one call."""
    start = time.process_time()
    work()
    return time.process_time() - start


def build(dot: str, lpi: int, dpi: Resolution) -> int:
    """Build a tile, and how many pixels it has."""
    dots = {"smallest_dot": SMALLEST[0], "smallest_shadow_dot": SMALLEST[1]}
    if dot == "grain":
        return build_grain(find_grain(lpi, dpi), **dots).thresholds.size
    return build_tile(find_lattice(lpi, ANGLE, dpi), dot, **dots).thresholds.size


def main() -> None:
    """Measure, and print one line a tile."""
    asked = argparse.ArgumentParser(description="time of building tiles")
    asked.add_argument("--dpi", type=int, default=2880)
    asked.add_argument("--rounds", type=int, default=3)
    wishes = asked.parse_args()
    dpi = Resolution(wishes.dpi, wishes.dpi)
    print(f"{wishes.dpi} dpi, {'loops in C' if compiled() else 'NumPy alone'}")
    for dot in DOTS:
        for lpi in RULINGS:
            numbers = np.random.default_rng(1).random(build(dot, lpi, dpi))
            rounds = []
            for _ in range(wishes.rounds):
                baseline = seconds(lambda: np.argsort(numbers, kind="stable"))  # noqa: B023
                rounds.append((seconds(lambda: build(dot, lpi, dpi)), baseline))  # noqa: B023
            ratio = statistics.median(ours / baseline for ours, baseline in rounds)
            ours, baseline = (min(column) for column in zip(*rounds, strict=True))
            print(
                f"{dot:8} {lpi} lpi  {len(numbers):8} pixels  ours {ours:.2f} s  "
                f"one sort {baseline:.2f} s  ratio {ratio:.1f}"
            )


if __name__ == "__main__":
    main()
