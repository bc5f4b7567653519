"""``filmhand measure`` against ``filmhand make`` of the same film: time and peak memory, as ratios.

A film of 13 x 19 in is made at 1200 dpi (356 device megapixels) and then measured against its mesh,
in turn, round after round. Both are whole commands, starting included. Memory is the peak of the
largest single process.

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

from whole_job import PROFILE, draw_art, run

Spent = tuple[float, float]


def compare(
    art: Path | None, *, dpi: int, lpi: float, write: str, rounds: int
) -> tuple[list[Spent], list[Spent]]:
    """Seconds and MiB of making and of measuring, by round."""
    made, measured = [], []
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        os.environ["XDG_CACHE_HOME"] = str(here / "cache")
        if art is None:
            art = here / "art.jpg"
            draw_art(art)
        profile = here / "bench.yaml"
        profile.write_text(PROFILE.format(dpi=dpi, lpi=lpi, write=write))
        out = here / "out"
        out.mkdir()
        filmhand = [sys.executable, "-m", "filmhand"]
        for _ in range(rounds + 1):  # the first fills the caches and does not count
            made.append(
                run([*filmhand, "make", str(art), "--profile", str(profile), "--out", str(out)])
            )
            film = next(out.glob("*.tif" if write == "tiff" else f"*.{write}"))
            measured.append(run([*filmhand, "measure", str(film), "--mesh", "120-34", "--json"]))
    return made[1:], measured[1:]


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
        seconds = [one for one, _ in spent]
        print(
            f"{name:8} {statistics.median(seconds):6.2f} s ({min(seconds):.2f} to "
            f"{max(seconds):.2f}), {statistics.median(mib for _, mib in spent):4.0f} MiB"
        )
    ratios = [
        statistics.median(ours[k] / theirs[k] for ours, theirs in zip(measured, made, strict=True))
        for k in (0, 1)
    ]
    print(f"measure to make: {ratios[0]:.2f} in time, {ratios[1]:.2f} in memory")


if __name__ == "__main__":
    main()
