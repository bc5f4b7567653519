"""Throughput of a station with one worker and with two, one thread each.

A station with two profiles (8.5 x 11 in at 300 and at 600 dpi) gets the same 40 jobs each time:
small and large color JPEGs, line art, and two that are refused. ``filmhand once`` works through
them, in turn with

- one worker kept to one core, so that it truly has one thread;
- one worker that may use every core (the steps of a job that run side by side then do);
- two workers, as the service has them.

The station's pool has no setting for its size, so this script puts a pool of another size into a
service that is otherwise the usual one. Jobs a minute count everything: starting, settling, claim,
worker, publishing and the end.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/workers.py [--rounds 3]
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from drawn_art import draw_photo
from PIL import Image, ImageDraw

SERVICE = """
import os, sys
from pathlib import Path
from filmhand.queue import pool
from filmhand.service.station import Station
station, profiles, state, workers, cores = sys.argv[1:]
if cores:
    os.sched_setaffinity(0, {int(core) for core in cores.split(",")})
WorkerPool, size = pool.WorkerPool, int(workers)
pool.WorkerPool = lambda queues, usual, done: WorkerPool(queues, lambda: size, done)
raise SystemExit(Station(Path(station), Path(profiles), Path(state)).once())
"""

PROFILES = {"office-300": (300, 25, "43-80"), "fine-600": (600, 45, "120-34")}
PROFILE = """\
sheet: 8.5 x 11 in
dpi: {dpi}
lpi: {lpi}
dot: round
threshold: 50
mesh: {mesh}
margin: 0.25 in
angle: 22.5
settle: 100 ms
"""
JOBS = 40
REFUSED = 2
# Photographs by their pixels; the rest of the jobs are line art.
PHOTOS = {(1200, 1500): 16, (3000, 4000): 10}


def draw_lines(path: Path, seed: int) -> None:
    """Computer-drawn line art: bold letters and rings, black on white."""
    rng = np.random.default_rng(seed)
    picture = Image.new("L", (2400, 3000), 255)
    draw = ImageDraw.Draw(picture)
    for _ in range(30):
        x, y = (int(value) for value in rng.integers(0, (2000, 2600)))
        side = int(rng.integers(150, 700))
        wide = int(rng.integers(12, 60))
        draw.ellipse((x, y, x + side, y + side), outline=0, width=wide)
    for number in range(4):
        draw.text((150, 200 + 700 * number), f"PULL {seed}", 0, font_size=400)
    picture.save(path)


def draw_jobs(folder: Path) -> None:
    """All the art, one sub-folder a profile."""
    kinds = [size for size, count in PHOTOS.items() for _ in range(count)]
    kinds += [()] * (JOBS - REFUSED - len(kinds))  # type: ignore[list-item]
    order = np.random.default_rng(7).permutation(len(kinds))
    masters = {}
    for size in PHOTOS:
        masters[size] = folder / f"master-{size[0]}.jpg"
        draw_photo(masters[size], *size)
    names = list(PROFILES)
    for name in names:
        (folder / name).mkdir()
    for number, kind in enumerate(kinds[k] for k in order):
        drop = folder / names[number % len(names)]
        if kind:
            # Turned, mirrored and exposed otherwise, so that no two are the same file.
            with Image.open(masters[kind]) as master:
                turned = master.rotate(180 * (number % 2)).point(
                    [min(255, level + number) for level in range(256)] * 3
                )
            turned.save(drop / f"photo-{number:02d}.jpg", quality=90)
        else:
            draw_lines(drop / f"lines-{number:02d}.png", number)
    Image.new("RGB", (900, 900), "white").save(folder / names[0] / "nothing.png")
    with Image.open(masters[min(masters)]) as master:
        master.resize((60, 75)).save(folder / names[1] / "stamp.jpg")


def prepare(here: Path) -> Path:
    """The profiles and all the art; the folder of the art."""
    (here / "profiles").mkdir()
    for name, (dpi, lpi, mesh) in PROFILES.items():
        text = PROFILE.format(dpi=dpi, lpi=lpi, mesh=mesh)
        (here / "profiles" / f"{name}.yaml").write_text(text)
    art = here / "art"
    art.mkdir()
    draw_jobs(art)
    return art


def run(art: Path, here: Path, *, workers: int, cores: str) -> tuple[float, int, int]:
    """Seconds for all jobs, and how many were made and refused."""
    station, profiles = here / "station", here / "profiles"
    for name in PROFILES:
        drop = station / name / "drop"
        drop.mkdir(parents=True)
        for path in (art / name).iterdir():
            shutil.copy2(path, drop)
    command = [sys.executable, "-c", SERVICE, str(station), str(profiles), str(here / "state")]
    start = time.perf_counter()
    ended = subprocess.run(
        [*command, str(workers), cores], check=False, capture_output=True, text=True
    )
    seconds = time.perf_counter() - start
    made = len([*station.glob("*/records/*.json")])
    refused = len([*station.glob("*/rejected/*.why.txt")])
    if ended.returncode not in (0, 1) or made + refused != JOBS:
        raise SystemExit(f"{made} made, {refused} refused, not {JOBS}:\n{ended.stderr}")
    shutil.rmtree(station)
    shutil.rmtree(here / "state")
    return seconds, made, refused


def main() -> None:
    """Print one row for each pool, and the ratios round by round."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=3)
    wanted = parser.parse_args()
    ours = sorted(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else []
    if len(ours) < 2:
        raise SystemExit("This needs Linux and two cores at least.")
    pools = {
        "one worker, one core": (1, f"{ours[-1]}"),
        "one worker, two cores": (1, f"{ours[-2]},{ours[-1]}"),
        "two workers, two cores": (2, f"{ours[-2]},{ours[-1]}"),
    }
    taken: dict[str, list[float]] = {name: [] for name in pools}
    made = refused = 0
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        os.environ["XDG_CACHE_HOME"] = str(here / "cache")
        art = prepare(here)
        for _ in range(wanted.rounds):
            for name, (workers, cores) in pools.items():
                seconds, made, refused = run(art, here, workers=workers, cores=cores)
                taken[name].append(seconds)
    print(
        f"{JOBS} jobs ({made} made, {refused} refused), 8.5 x 11 in at 300 and 600 dpi, "
        f"median of {wanted.rounds}"
    )
    last = taken["two workers, two cores"]
    print("pool                     seconds  (spread)          jobs/min  two workers are")
    for name, spent in taken.items():
        times = statistics.median(one / two for one, two in zip(spent, last, strict=True))
        middle = statistics.median(spent)
        print(
            f"{name:24} {middle:7.2f}  ({min(spent):.2f} to {max(spent):.2f})"
            f" {JOBS / middle * 60:10.1f} {times:10.2f} x"
        )


if __name__ == "__main__":
    main()
