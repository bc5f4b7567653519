"""``filmhand measure`` against ``filmhand make`` of the same film: time and peak memory, as ratios.

A film of 13 x 19 in is made at 1200 dpi (356 device megapixels) and then measured against its mesh,
in turn, round after round. Both are whole commands, starting included. Memory is that of all
processes together, watched in the first round, which is not timed.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/measure.py [--art ART] [--dpi 1200] [--rounds 3] [--write tiff]
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
from pathlib import Path

from drawn_art import draw_apart
from process_tree import Spent, spend
from whole_job import fine_profile


def compare(
    art: Path | None, *, dpi: int, lpi: float, write: str, rounds: int
) -> tuple[list[Spent], list[Spent]]:
    """What making and measuring took, by round; the first is watched and not timed."""
    made, measured = [], []
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        os.environ["XDG_CACHE_HOME"] = str(here / "cache")
        if art is None:
            art = here / "art.jpg"
            draw_apart("photo", art)
        profile = here / "bench.yaml"
        profile.write_text(fine_profile("13 x 19 in", dpi, lpi=lpi, write=write))
        out = here / "out"
        out.mkdir()
        filmhand = [sys.executable, "-m", "filmhand"]
        for turn in range(rounds + 1):
            making = [*filmhand, "make", str(art), "--profile", str(profile), "--out", str(out)]
            made.append(spend(making, watched=turn == 0))
            film = next(out.glob("*.tif" if write == "tiff" else f"*.{write}"))
            measuring = [*filmhand, "measure", str(film), "--mesh", "120-34", "--json"]
            measured.append(spend(measuring, watched=turn == 0))
    return made, measured


def main() -> None:
    """Compare as the command line says."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--art", type=Path)
    parser.add_argument("--dpi", type=int, default=1200)
    parser.add_argument("--lpi", type=float, default=45)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--write", default="tiff", choices=["tiff", "png", "pdf"])
    wanted = parser.parse_args()
    made, measured = compare(
        wanted.art, dpi=wanted.dpi, lpi=wanted.lpi, write=wanted.write, rounds=wanted.rounds
    )
    print(
        f"13 x 19 in, {wanted.dpi} dpi, {wanted.lpi:g} lpi, {wanted.write}, "
        f"{os.cpu_count()} cores, median of {wanted.rounds}"
    )
    for name, spent in (("make", made), ("measure", measured)):
        seconds = [one.wall for one in spent[1:]]
        print(
            f"{name:8} {statistics.median(seconds):6.2f} s ({min(seconds):.2f} to "
            f"{max(seconds):.2f}), {spent[0].memory:4.0f} MiB"
        )
    pairs = zip(measured[1:], made[1:], strict=True)
    ratio = statistics.median(ours.wall / theirs.wall for ours, theirs in pairs)
    memory = measured[0].memory / made[0].memory
    print(f"measure to make: {ratio:.2f} in time, {memory:.2f} in memory")


if __name__ == "__main__":
    main()
