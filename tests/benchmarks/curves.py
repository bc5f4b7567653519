"""How filmhand grows: with workers, resolution, sheet, drops and profiles, as a picture of curves.

Writes ``curves.png``, ``curves.md`` and ``curves.json`` beside this file, or into ``--out``, after
each curve; what ``--only`` leaves out stays as it was measured before. Each point is measured once,
so one that lies off its curve is to be measured again.

- **workers**: the 40 mixed jobs of ``workers.py`` by 1, 2, 4 and 8 workers kept to as many cores,
  as far as there are cores; jobs a minute.
- **resolution**: a photograph of 24 megapixels to 13 x 19 in at 300 to 2880 dpi by ``make``;
  seconds, processor seconds and memory. The first run of each is watched for its memory, the second
  timed.
- **sheet**: the same at 720 dpi on sheets from letter to 44 x 60 in.
- **drops**: so many small logos dropped at once into a running service; seconds and processor
  seconds a film. Up to 10,000 the films are pretended (``tests/soak/many.py``): what the service
  itself costs a file.
- **profiles**: a service with 1 to 50 profiles at rest (``idle.py``); processor seconds an hour.

``--small`` stops at 1200 dpi, 13 x 19 in, 300 drops and 10 profiles. With FILMHAND_PLAIN=1 in the
environment NumPy does what is compiled otherwise. Run it with a Python that has filmhand and its
test tools installed::

    python tests/benchmarks/curves.py [--small] [--only CURVE ...] [--out FOLDER]
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import curve_chart
import process_tree
from curve_chart import Curve
from drawn_art import draw_apart, draw_logos_apart
from machine import compile_modules, machine_words
from process_tree import spend
from running_service import RunningService
from whole_job import OFFICE, fine_profile

WORKERS = (1, 2, 4, 8)
RESOLUTIONS = (300, 600, 1200, 2400, 2880)
SHEETS = {"8.5 x 11 in": 93.5, "13 x 19 in": 247.0, "22 x 30 in": 660.0, "44 x 60 in": 2640.0}
SHEETS_DPI = 720
DROPS, PRETENDED = (1, 10, 100, 300), (1, 10, 100, 300, 1000, 10_000)
PROFILES = (1, 10, 25, 50)
SMALL = {"dpi": 1200, "sheets": 2, "drops": 100, "pretended": 300, "profiles": 10}
AT_REST = 20.0  # seconds that a service at rest is looked at
SOAK = Path(__file__).parents[1] / "soak" / "many.py"
WALL, PROCESSOR, MEMORY = "seconds", "processor seconds", "MiB"


@dataclass(frozen=True, slots=True)
class Place:
    """Where a curve is measured, and whether only its cheap points are wanted."""

    folder: Path
    small: bool

    def some(self, points: Sequence[int], most: int) -> list[int]:
        """The points, up to ``most`` where only the cheap ones are wanted."""
        return [point for point in points if not self.small or point <= most]

    def fresh(self) -> Path:
        """A new folder."""
        return Path(tempfile.mkdtemp(dir=self.folder))


@dataclass(frozen=True, slots=True)
class Measured:
    """Curves, the machine they were measured on, and the seconds that it took."""

    machine: str
    seconds: float
    curves: list[Curve]


def workers(place: Place) -> list[Curve]:
    """Jobs a minute by workers, each set kept to as many cores."""
    import workers as mixed

    cores = sorted(os.sched_getaffinity(0))
    counts = [count for count in WORKERS if count <= len(cores)]
    here = place.fresh()
    art = mixed.prepare(here)
    minute = []
    for count in counts:
        own = ",".join(map(str, cores[-count:]))
        seconds, *_ = mixed.run(art, here, workers=count, cores=own)
        minute.append(mixed.JOBS / seconds * 60)
    along, up = "workers, each with a core", "jobs a minute"
    return [Curve("Workers", along, up, counts, {"40 mixed jobs": minute}, from_zero=True)]


def resolution(place: Place) -> list[Curve]:
    """What one sheet costs by its resolution."""
    points = place.some(RESOLUTIONS, SMALL["dpi"])
    found = made(place, [fine_profile("13 x 19 in", dpi) for dpi in points])
    areas = [13 * 19 * dpi**2 / 1e6 for dpi in points]
    curve = Curve("Resolution, 13 x 19 in", "dpi", "seconds a film", points, found)
    return [curve, memory_of("by resolution, 13 x 19 in", areas, found)]


def sheet(place: Place) -> list[Curve]:
    """What one resolution costs by the sheet."""
    names = list(SHEETS)[: SMALL["sheets"] if place.small else None]
    found = made(place, [fine_profile(name, SHEETS_DPI) for name in names])
    points = [SHEETS[name] for name in names]
    areas = [area * SHEETS_DPI**2 / 1e6 for area in points]
    up = "seconds a film"
    curve = Curve(f"Sheet, {SHEETS_DPI} dpi", "square inches", up, points, found)
    return [curve, memory_of(f"by sheet, {SHEETS_DPI} dpi", areas, found)]


def memory_of(series: str, areas: list[float], found: dict[str, list[float]]) -> Curve:
    """The memory, taken out of what was found, as a curve over the film's pixels."""
    values = {series: found.pop(MEMORY)}
    return Curve(
        "Memory", "megapixels of the film", "MiB, all processes", areas, values, from_zero=True
    )


def made(place: Place, profiles: Sequence[str]) -> dict[str, list[float]]:
    """What ``make`` of a photograph costs by each profile."""
    here = place.fresh()
    art = place.folder / "photo.jpg"
    if not art.exists():
        draw_apart("photo", art)
    found: dict[str, list[float]] = {WALL: [], PROCESSOR: [], MEMORY: []}
    for number, text in enumerate(profiles):
        profile = here / f"p{number}.yaml"
        profile.write_text(text)
        command = [sys.executable, "-m", "filmhand", "make", str(art)]
        command += ["--profile", str(profile), "--out", str(here)]
        found[MEMORY].append(spend(command, watched=True).memory)
        timed = spend(command)
        found[WALL].append(timed.wall)
        found[PROCESSOR].append(timed.processor)
    return found


def drops(place: Place) -> list[Curve]:
    """What a film costs where many are dropped at once, and what the service itself does."""
    title, along, up = "Drops at once", "files dropped at once", "seconds a film"
    counts = place.some(DROPS, SMALL["drops"])
    found: dict[str, list[float]] = {WALL: [], PROCESSOR: []}
    with RunningService(place.fresh(), OFFICE) as service:
        arts = draw_logos_apart(place.fresh(), 1 + sum(counts))
        service.work_off(arts[:1])
        first = 1
        for count in counts:
            worked = service.work_off(arts[first : first + count])
            found[WALL].append(worked.wall / count)
            found[PROCESSOR].append(worked.processor / count)
            first += count
    curves = [Curve(title, along, up, counts, found)]
    counts = place.some(PRETENDED, SMALL["pretended"])
    command = [sys.executable, str(SOAK), "--folder", str(place.fresh())]
    command += ["--files", *map(str, counts)]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    names, *rows = (line.split() for line in told.splitlines())
    service_alone = [float(row[names.index("cpu_ms")]) / 1000 for row in rows]
    pretended = {"processor seconds, films pretended": service_alone}
    return [*curves, Curve(title, along, up, counts, pretended)]


def profiles(place: Place) -> list[Curve]:
    """What a service at rest costs by its profiles."""
    import idle

    counts = place.some(PROFILES, SMALL["profiles"])
    hour, held = [], []
    process_tree.adopt_orphans()
    for count in counts:
        here = place.fresh()
        service = idle.start(here / "station", here / "state", count, deaf=False)
        try:
            time.sleep(idle.AT_REST)
            before = process_tree.processor()
            time.sleep(AT_REST)
            hour.append((process_tree.processor() - before) * 3600 / AT_REST)
            held.append(process_tree.memory())
        finally:
            service.terminate()
            service.wait(60)
            process_tree.end_orphans()
    values = {"processor seconds an hour": hour, "MiB": held}
    up = "processor seconds an hour, MiB"
    return [Curve("Profiles at rest", "profiles", up, counts, values, from_zero=True)]


# Those that load an array library come last, so that memory is measured without it.
CURVES: dict[str, Callable[[Place], list[Curve]]] = {
    "resolution": resolution,
    "sheet": sheet,
    "drops": drops,
    "profiles": profiles,
    "workers": workers,
}


def page(found: dict[str, Measured]) -> str:
    """The numbers behind the picture, as Markdown."""
    lines = ["# How filmhand grows", "", "Measured and drawn by", ""]
    lines += ["    python tests/benchmarks/curves.py", "", "![The curves](curves.png)"]
    for one in found.values():
        lines += ["", f"{one.machine}; measured in {one.seconds / 60:.1f} min:"]
        for curve in one.curves:
            lines += ["", f"**{curve.title}**", "", *curve.table()]
    return "\n".join(lines) + "\n"


def read(path: Path) -> dict[str, Measured]:
    """What an earlier run found; nothing where none was."""
    if not path.exists():
        return {}
    told = json.loads(path.read_bytes())
    return {
        name: Measured(one["machine"], one["seconds"], [Curve(**curve) for curve in one["curves"]])
        for name, one in told.items()
    }


def write(found: dict[str, Measured], out: Path) -> None:
    """Put numbers and picture into their files."""
    told = {name: asdict(one) for name, one in found.items()}
    (out / "curves.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    (out / "curves.md").write_text(page(found), encoding="utf-8")
    # In a process of its own: whoever measures memory shares no library with what is measured.
    subprocess.run([sys.executable, curve_chart.__file__, str(out)], check=True)


def main() -> None:
    """Measure, draw and write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", nargs="+", choices=list(CURVES), default=list(CURVES))
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent)
    wanted = parser.parse_args()
    found = read(wanted.out / "curves.json")
    compile_modules()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CACHE_HOME"] = str(Path(folder) / "cache")
        for name, measure in CURVES.items():
            if name in wanted.only:
                machine, start = machine_words(), time.monotonic()
                curves = measure(Place(Path(folder), wanted.small))
                found[name] = Measured(machine, time.monotonic() - start, curves)
                for curve in curves:
                    print("\n".join([f"{name}, {curve.title}:", *curve.table()]), flush=True)
                write({name: found[name] for name in CURVES if name in found}, wanted.out)


if __name__ == "__main__":
    main()
