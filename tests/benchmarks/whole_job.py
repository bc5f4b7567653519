"""Whole jobs against Pillow alone: time and peak memory, as ratios in one run.

Baseline: the same art through Pillow, ``convert("L")``, Lanczos resize to the sheet,
``convert("1")`` and a Group 4 save. Ours: ``filmhand make``, everything included: starting,
decoding, gray, verdict, resize, screening, mending, measuring, writing, decoding and comparing,
proof and record.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/whole_job.py [--dpi 600] [--runs 3] [--write tiff]
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

BASELINE = """
import sys
from PIL import Image
Image.MAX_IMAGE_PIXELS = None
art, out, width, height, dpi = sys.argv[1], sys.argv[2], *map(int, sys.argv[3:])
image = Image.open(art).convert("L")
scale = min(width / image.width, height / image.height)
image = image.resize((round(image.width * scale), round(image.height * scale)), Image.LANCZOS)
sheet = Image.new("L", (width, height), 255)
sheet.paste(image)
sheet.convert("1").save(out, compression="group4", dpi=(dpi, dpi))
"""

PROFILE = """\
sheet: 13 x 19 in
dpi: {dpi}
lpi: {lpi}
dot: round
threshold: 50
mesh: 120-34
margin: 0.25 in
angle: 22.5
write: {write}
"""


def draw_art(path: Path, width: int = 4000, height: int = 6000) -> None:
    """A 24-megapixel color JPEG with the spectrum of a photograph (1/f noise) and soft light."""
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


def run(command: list[str]) -> tuple[float, float]:
    """Wall seconds, and the largest peak memory in MiB of the process and its children."""
    start = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-c", _WATCH, *command], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    told, said = child.communicate()
    seconds = time.perf_counter() - start
    if child.returncode:
        raise SystemExit(f"{command} failed:\n{said.decode()}")
    return seconds, int(told.split()[-1]) / 1024


# The peak of a process's children, grandchildren included, is the largest single one of them.
_WATCH = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
raise SystemExit(code)
"""


def main() -> None:
    """Print one row a command and the ratios pair by pair."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, default=600)
    parser.add_argument("--lpi", type=float, default=45)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--write", default="tiff")
    parser.add_argument("--art", type=Path)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        art = wanted.art or here / "art.jpg"
        if wanted.art is None:
            draw_art(art)
        profile = here / "bench.yaml"
        profile.write_text(PROFILE.format(dpi=wanted.dpi, lpi=wanted.lpi, write=wanted.write))
        width, height = 13 * wanted.dpi, 19 * wanted.dpi
        sizes = [str(width), str(height), str(wanted.dpi)]
        baseline = [sys.executable, "-c", BASELINE, str(art), str(here / "base.tif"), *sizes]
        ours = [
            *(sys.executable, "-m", "filmhand", "make", str(art)),
            *("--profile", str(profile), "--out", str(here)),
        ]
        pairs = []
        run(ours), run(baseline)  # once unmeasured, so that both find warm files
        for _ in range(wanted.runs):
            pairs.append((run(ours), run(baseline)))
        print(
            f"13 x 19 in at {wanted.dpi} dpi, {wanted.lpi:g} lpi, write {wanted.write}, "
            f"{os.cpu_count()} cores, median of {wanted.runs}"
        )
        for name, k in (("filmhand make", 0), ("Pillow alone", 1)):
            seconds = statistics.median(pair[k][0] for pair in pairs)
            memory = statistics.median(pair[k][1] for pair in pairs)
            print(f"{name:15} {seconds:6.2f} s {memory:7.0f} MiB")
        time_ratio = statistics.median(pair[0][0] / pair[1][0] for pair in pairs)
        memory_ratio = statistics.median(pair[0][1] / pair[1][1] for pair in pairs)
        print(f"{'ratio':15} {time_ratio:6.2f}   {memory_ratio:7.2f}")


if __name__ == "__main__":
    main()
