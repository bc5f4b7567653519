"""How time and memory of a whole job grow with the area of the film, in device pixels.

One color JPEG of 24 megapixels goes to ``filmhand make`` for the same sheet at several
resolutions, in turn, round after round. The medians are fitted as a + b x area by least squares; a
film whose time lies off the line has something in it that does not grow with the area. "First" is
the round before, which is not fitted: cold files, and whatever is kept between calls (in a folder
of this script's own) made for the first time. In it the memory of all processes is watched.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/scaling.py [--dpi 600 1200 2400] [--rounds 3] [--write tiff]
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
from pathlib import Path

import numpy as np
from drawn_art import draw_apart
from process_tree import Spent, spend
from whole_job import fine_profile

SHEET_IN = (13, 19)


def megapixels(dpi: int) -> float:
    """Device megapixels of the sheet."""
    return SHEET_IN[0] * dpi * SHEET_IN[1] * dpi / 1e6


def measure(
    resolutions: list[int], *, lpi: float, write: str, rounds: int
) -> dict[int, list[Spent]]:
    """What was spent by resolution, the first round included."""
    taken: dict[int, list[Spent]] = {dpi: [] for dpi in resolutions}
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        os.environ["XDG_CACHE_HOME"] = str(here / "cache")
        art = here / "art.jpg"
        draw_apart("photo", art)
        for turn in range(rounds + 1):
            for dpi in resolutions:
                profile = here / f"at-{dpi}.yaml"
                profile.write_text(fine_profile("13 x 19 in", dpi, lpi=lpi, write=write))
                command = [sys.executable, "-m", "filmhand", "make", str(art)]
                command += ["--profile", str(profile), "--out", str(here)]
                taken[dpi].append(spend(command, watched=turn == 0))
    return taken


def show(taken: dict[int, list[Spent]]) -> None:
    """Print one row for each resolution, and the line through them."""
    areas = [megapixels(dpi) for dpi in taken]
    times = {dpi: [one.wall for one in spent[1:]] for dpi, spent in taken.items()}
    middle = [statistics.median(seconds) for seconds in times.values()]
    memory = [spent[0].memory for spent in taken.values()]
    slope, base = np.polyfit(areas, middle, 1)
    print("  dpi  megapixels  seconds  (spread)       fitted  residual    MiB  to least  first s")
    for k, (dpi, spent) in enumerate(taken.items()):
        fitted = base + slope * areas[k]
        spread = f"({min(times[dpi]):.2f} to {max(times[dpi]):.2f})"
        print(
            f"{dpi:5d} {areas[k]:11.1f} {middle[k]:8.2f}  {spread:16} {fitted:6.2f}"
            f" {(middle[k] / fitted - 1) * 100:+7.1f} % {memory[k]:6.0f}"
            f" {memory[k] / min(memory):9.2f} {spent[0].wall:8.2f}"
        )
    print(f"seconds = {base:.2f} + {slope * 1e3:.2f} x gigapixels")


def main() -> None:
    """Measure as the command line says."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, nargs="+", default=[600, 1200, 2400])
    parser.add_argument("--lpi", type=float, default=45)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--write", default="tiff")
    wanted = parser.parse_args()
    if len(set(wanted.dpi)) < 3 or wanted.rounds < 1:
        parser.error("a line wants at least three resolutions, and one round")
    taken = measure(wanted.dpi, lpi=wanted.lpi, write=wanted.write, rounds=wanted.rounds)
    print(
        f"13 x 19 in, {wanted.lpi:g} lpi, mesh 120-34, write {wanted.write}, "
        f"{os.cpu_count()} cores, median of {wanted.rounds}"
    )
    show(taken)


if __name__ == "__main__":
    main()
