"""A picture of 24 megapixels to the dots of 13 x 19 inches: the loop in C against NumPy.

Processor seconds of one thread for resampling, cutting and packing, in one run. Both give the same
bits, which is looked at too. The picture is noise, as the time does not depend on it.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/resampling.py [--dpi 1200] [--runs 3]
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from unittest import mock

import numpy as np

from filmhand.digest import sha256_of
from filmhand.film.bits import BitSheet
from filmhand.kernels.loops import compiled
from filmhand.pipeline.render import strips
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import build_tile
from filmhand.sheet import resample
from filmhand.sheet.layout import Box
from filmhand.tone import light_cuts
from filmhand.units import Resolution


def seconds(rows: strips.ScreenedRows, area: Box, path: Path) -> tuple[float, str]:
    """Processor seconds of laying the rows down, and the digest of their bits."""
    with BitSheet.create(path, width=area.right, height=area.bottom) as bits:
        start = time.process_time()
        strips.fill_rows_of_sheet(bits, area, rows)
        return time.process_time() - start, sha256_of(path)


def main() -> None:
    """Print one row a way, and the ratio run by run."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, default=1200)
    parser.add_argument("--runs", type=int, default=3)
    wanted = parser.parse_args()
    if compiled() is None:
        raise SystemExit("the loops in C were not built")
    dpi = wanted.dpi
    coded = np.random.default_rng(1).integers(0, 65536, (6000, 4000), np.uint16)
    area = Box(0, 0, 12 * dpi, 18 * dpi)
    cuts = light_cuts(lambda tone: tone)
    tile = build_tile(find_lattice(45, 22.5, Resolution(dpi, dpi)), "round")
    screener = Screener(tile, column=0, width=area.width, cuts=cuts.at, dark_inks=True)
    rows = strips.ScreenedRows(strips.LightRows(coded, area, drawn=False), area, screener, [])
    pairs = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(wanted.runs):
            ours, bits = seconds(rows, area, Path(folder, "bits"))
            with (
                mock.patch.object(resample, "compiled", lambda: None),
                mock.patch.object(strips, "compiled", lambda: None),
            ):
                theirs, same = seconds(rows, area, Path(folder, "bits"))
            if bits != same:
                raise SystemExit("the two ways give different bits")
            pairs.append((ours, theirs))
    print(f"12 x 18 in at {dpi} dpi from 4000 x 6000 pixels, median of {wanted.runs}")
    for name, k in (("loop in C", 0), ("NumPy", 1)):
        print(f"{name:10} {statistics.median(pair[k] for pair in pairs):6.2f} s")
    print(f"{'ratio':10} {statistics.median(a / b for a, b in pairs):6.2f}")


if __name__ == "__main__":
    main()
