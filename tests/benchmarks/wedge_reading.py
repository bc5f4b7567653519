"""How near the tones read off pictures of a printed wedge are to those that were printed.

A simulated press prints the wedges of three profiles by published curves (``tests/press``); each
print is looked at by scanners and cameras of seeded chance: 100 to 600 ppi, turned, from its back,
in perspective, in uneven light, bent by a lens, out of focus, noisy, as JPEG; in gray, process and
strong colors.

Run it with a Python that has filmhand and its test tools installed::

    python tests/benchmarks/wedge_reading.py [--cases 48] [--seed 1] [--grain]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import defaultdict
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from filmhand.errors import Refused
from filmhand.pipeline.printer_films.wedge_film import patch_bits, wedge_identity
from filmhand.profile.read.load import load_profile
from filmhand.reading.read_wedge import ScannedPicture, read_wedge
from filmhand.reading.reading import ReadOf
from press.scans import Scanner
from press.wedges import PRESTO, SEFAR, print_of

PROFILES = {
    "25 lpi, round, 300 dpi": "dpi: 300\nlpi: 25\ndot: round\nangle: 22.5",
    "45 lpi, ellipse, 600 dpi": "dpi: 600\nlpi: 45\ndot: ellipse\nangle: 45",
    "55 lpi, square, 600 dpi": "dpi: 600\nlpi: 55\ndot: square\nangle: 15",
}
GRAIN = {"45 lpi, scattered dots, 600 dpi": "dpi: 600\nlpi: 45\ndot: grain"}
# Linear light that prints give back, in red, green and blue; from memory, as common inks look.
INKS = {
    "black": (0.03, 0.03, 0.03),
    "cyan": (0.04, 0.28, 0.58),
    "magenta": (0.58, 0.03, 0.22),
    "yellow": (0.80, 0.66, 0.05),
    "red": (0.55, 0.03, 0.04),
    "blue": (0.05, 0.07, 0.40),
    "green": (0.06, 0.34, 0.10),
}


def scanner_of(chance: np.random.Generator, *, camera: bool, ink: tuple[float, ...]) -> Scanner:
    """A scanner or camera of chance."""
    seed = int(chance.integers(1 << 30))
    if not camera:
        return Scanner(
            ppi=float(chance.choice([100, 150, 200, 300, 400, 600])),
            ink=ink,
            turn=float(chance.choice([0, 90, 180, 270]) + chance.normal(0, 1.5)),
            mirrored=bool(chance.random() < 0.2),
            blur_mm=float(chance.uniform(0.02, 0.08)),
            slope=(float(chance.normal(0, 0.02)), 0.0),
            noise=float(chance.uniform(0.5, 1.5)),
            jpeg=None if chance.random() < 0.5 else int(chance.integers(75, 95)),
            seed=seed,
        )
    return Scanner(
        ppi=float(chance.uniform(170, 320)),
        ink=ink,
        turn=float(chance.uniform(0, 360)),
        tilt=(float(chance.uniform(-0.12, 0.12)), float(chance.uniform(-0.12, 0.12))),
        blur_mm=float(chance.uniform(0.03, 0.10)),
        vignette=float(chance.uniform(0.1, 0.4)),
        slope=(float(chance.normal(0, 0.07)), float(chance.normal(0, 0.07))),
        noise=float(chance.uniform(1, 3)),
        glare=float(chance.uniform(0, 0.03)),
        veil=float(chance.uniform(0, 0.01)),
        exposure=float(chance.uniform(0.6, 0.85)),
        barrel=float(chance.uniform(-0.01, 0.01)),
        jpeg=int(chance.integers(75, 95)),
        seed=seed,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=48)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--grain", action="store_true", help="scattered dots instead")
    asked = parser.parse_args()
    profiles = GRAIN if asked.grain else PROFILES
    chance = np.random.default_rng(asked.seed)
    off: dict[tuple[str, str], list[float]] = defaultdict(list)
    refused = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(asked.cases):
            # One print after another, as each takes longer than looking at it.
            which = number * 2 * len(profiles) // asked.cases
            name = list(profiles)[which // 2]
            curve = (SEFAR, PRESTO)[which % 2]
            file = Path(folder) / "shop.yaml"
            file.write_text(
                f"sheet: 4 x 5 in\n{profiles[name]}\nthreshold: 50\nmesh: 90-48\nmargin: 0.25 in\n"
            )
            profile = load_profile(file)
            wedge = print_of(profile, curve, 1)
            ink = list(INKS)[number % len(INKS)]
            camera = number % 2 == 1
            scanner = scanner_of(chance, camera=camera, ink=INKS[ink])
            pixels = wedge.scanned(scanner).astype(np.uint16) * 257
            what = f"{number + 1:3} {name}, {'camera' if camera else 'scanner'}, {ink}"
            try:
                reading = read_wedge(
                    ScannedPicture(pixels, None, ReadOf.PRINT),
                    wedge_identity(profile),
                    partial(patch_bits, profile),
                )
            except Refused as refusal:
                refused += 1
                print(f"{what}: {refusal.say}", flush=True)
                continue
            found = [one.measured_pct - wedge.tones[one.film_pct] for one in reading.patches]
            worst = max(found, key=abs)
            print(f"{what}, {reading.ppi:.0f} ppi: worst {worst:+.2f}", flush=True)
            for key in (
                ("all", ""),
                ("by", "camera" if camera else "scanner"),
                ("ink", ink),
                ("screen", name),
            ):
                off[key] += found
    print("\n| of | tones | within 0.7 | within 1.5 | rms | worst |\n|---|---|---|---|---|---|")
    for (kind, name), values in off.items():
        size = np.abs(values)
        print(
            f"| {name or kind} | {len(size)} | {100 * (size <= 0.7).mean():.1f} % | "
            f"{100 * (size <= 1.5).mean():.1f} % | {np.sqrt((size**2).mean()):.2f} | "
            f"{size.max():.2f} |"
        )
    print(f"refused: {refused} of {asked.cases}")


if __name__ == "__main__":
    main()
