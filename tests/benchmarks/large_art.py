"""Art of 400 megapixels, which is what the defaults admit, through ``filmhand make`` with 2 GiB.

    python tests/benchmarks/large_art.py [--side 20000] [--profile profiles/small-sheet.yaml]

Prints for each kind the size of its file, the seconds, and the memory of the largest process.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyvips

PROFILE = Path(__file__).parents[2] / "profiles" / "small-sheet.yaml"


def picture(side: int) -> Any:
    """Waves with a little grain, in color."""
    rng = np.random.default_rng(3)
    y, x = np.mgrid[0:2000, 0:2000] / 2000
    waves = np.sin(x * 40) * np.cos(y * 30) * 70 + 128
    rgb = np.stack([waves, waves.T, waves[::-1]], -1) + rng.normal(0, 4, (2000, 2000, 3))
    small = pyvips.Image.new_from_array(np.clip(rgb, 0, 255).astype(np.uint8))
    return small.resize(side / 2000).cast("uchar").copy(interpretation="srgb")


def writers(color: Any) -> dict[str, Callable[[str], None]]:
    gray = color[1].copy(interpretation="b-w")
    deep = (color.cast("ushort") * 257).cast("ushort").copy(interpretation="rgb16")
    line = (gray > 128).ifthenelse(255, 0).cast("uchar").copy(interpretation="b-w")
    lzw = {"compression": "lzw", "predictor": "horizontal"}
    return {
        "gray.jpg": lambda path: gray.jpegsave(path, Q=80),
        "color.jpg": lambda path: color.jpegsave(path, Q=80),
        "progressive.jpg": lambda path: color.jpegsave(path, Q=60, interlace=True),
        "gray.png": lambda path: gray.pngsave(path, compression=1),
        "color.png": lambda path: color.pngsave(path, compression=6, filter="up"),
        "deep gray.png": lambda path: (
            deep[1].copy(interpretation="grey16").pngsave(path, compression=1)
        ),
        "gray.tif": lambda path: gray.tiffsave(path, **lzw),
        "color.tif": lambda path: color.tiffsave(path, compression="jpeg", Q=80),
        "deep color.tif": lambda path: deep.tiffsave(
            path, compression="deflate", predictor="horizontal"
        ),
        "line.tif": lambda path: line.tiffsave(path, compression="ccittfax4", bitdepth=1),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--side", type=int, default=20_000)
    parser.add_argument("--profile", type=Path, default=PROFILE)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole.v"
        picture(asked.side).write_to_file(str(whole))
        color = pyvips.Image.new_from_file(str(whole))
        print("| art | MB | seconds | largest process, MiB | |\n|---|---|---|---|---|")
        for name, write in writers(color).items():
            path = Path(folder) / name
            write(str(path))
            print(row(path, asked.profile, Path(folder) / "out"), flush=True)
            path.unlink()


def row(path: Path, profile: Path, out: Path) -> str:
    words = [sys.executable, "-m", "filmhand", "make", path, "--profile", profile, "--out", out]
    program = (
        "import resource, subprocess, sys\n"
        "done = subprocess.run(sys.argv[1:], capture_output=True, text=True)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)\n"
        "print(done.returncode, done.stderr.splitlines()[0] if done.returncode else 'film')\n"
    )
    started = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", program, *map(str, words)],
        capture_output=True,
        text=True,
        check=True,
    )
    seconds = time.monotonic() - started
    memory, outcome = done.stdout.splitlines()
    size = path.stat().st_size / 1e6
    return f"| {path.stem} {path.suffix} | {size:.0f} | {seconds:.0f} | {memory} | {outcome} |"


if __name__ == "__main__":
    main()
