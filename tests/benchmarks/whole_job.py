"""Whole jobs against the shortest ways that general libraries offer: time, processor time, memory.

Ours is ``filmhand make``, or a running service, everything included: starting, decoding, verdict,
screening, mending, measuring, writing, decoding and comparing, proof and record. What it is
measured against stands in ``baselines.py``; how, in ``process_tree.py``.

A first run of each fills the caches and is watched for its memory; with it the tiles of the screens
are built. Then come ``--runs`` rounds in which each is timed once, and ratios are taken round by
round; all that is told is a median. The two largest films have no baseline, which would hold some
gigabytes.

``--markdown`` writes what was found between the marks in DEVELOPERS.md and README.md; it needs all
jobs. With FILMHAND_PLAIN=1 in the environment NumPy does what is compiled otherwise.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/whole_job.py [--only JOB ...] [--runs 3] [--markdown FILE ...]
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import baselines
from drawn_art import draw_apart, draw_logos_apart
from machine import compile_modules, machine_words
from markdown_marks import fill_marks
from process_tree import Spent, spend
from running_service import RunningService, Worked

_FINE = """\
sheet: {sheet}
dpi: {dpi}
lpi: {lpi:g}
dot: round
threshold: 50
mesh: 120-34
margin: 0.25 in
angle: 22.5
write: {write}
"""
OFFICE = """\
sheet: letter
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
settle: 100 ms
"""
LOGOS = 60  # dropped at once
_WATCHED = 12  # before them, for their memory


def fine_profile(sheet: str, dpi: int, *, lpi: float = 45, write: str = "pdf") -> str:
    """A profile for a fine mesh, as its text."""
    return _FINE.format(sheet=sheet, dpi=dpi, lpi=lpi, write=write)


@dataclass(frozen=True, slots=True)
class Job:
    """One art and what it becomes; ``compared`` is whether the baselines do it too."""

    says: str
    art: str
    sheet: str
    dpi: int
    compared: bool = True

    def profile(self) -> str:
        """The text of its profile."""
        return OFFICE if self.art == "logo" else fine_profile(self.sheet, self.dpi)


PHOTO = "photo of 24 megapixels to"
JOBS = {
    "photo-1200": Job(f"{PHOTO} 13 x 19 in at 1200 dpi", "photo", "13 x 19 in", 1200),
    "photo-600": Job(f"{PHOTO} 13 x 19 in at 600 dpi", "photo", "13 x 19 in", 600),
    "scan": Job("line scan of A4 to A4 at 600 dpi", "scan", "a4", 600),
    "logo": Job("small logo to letter at 300 dpi", "logo", "letter", 300),
    "largest": Job(f"{PHOTO} 44 x 60 in at 720 dpi", "photo", "44 x 60 in", 720, compared=False),
    "finest": Job(f"{PHOTO} 13 x 19 in at 2880 dpi", "photo", "13 x 19 in", 2880, compared=False),
}
SERVICE = "service"
SERVICE_SAYS = f"each of {LOGOS} such logos, dropped at once in a running service"
ORDER = ["photo-1200", "photo-600", "scan", "logo", SERVICE, "largest", "finest"]
OURS = "filmhand"


@dataclass(frozen=True, slots=True)
class Found:
    """A job's medians by tool, and those of the ratios of our runs to each baseline's."""

    says: str
    spent: dict[str, Spent]
    ratios: dict[str, Spent]


def art_size(record: Path) -> tuple[int, int]:
    """Pixels across and down of the art on our film, as the art is looked at."""
    told = json.loads(record.read_bytes())
    across, down = told["film"]["dpi"]
    if told["art"]["turned"] % 180:
        across, down = down, across
    width, height = told["art"]["width_mm"], told["art"]["height_mm"]
    sides = round(width / 25.4 * across), round(height / 25.4 * down)
    return (sides[1], sides[0]) if told["art"]["turned"] % 180 else sides


def measure(job: Job, here: Path, runs: int) -> Found:
    """Run a job in turn with its baselines."""
    art, profile = drawn(job.art, here), here / "p.yaml"
    profile.write_text(job.profile())
    filmhand = [sys.executable, "-m", "filmhand", "make", str(art)]
    commands = {OURS: [*filmhand, "--profile", str(profile), "--out", str(here)]}
    first = {OURS: spend(commands[OURS], watched=True)}
    if job.compared:
        size = art_size(here / f"{art.stem}.json")
        for name, program in baselines.baselines().items():
            commands[name] = baselines.command(program, art, here / "base.tif", size, job.dpi)
            first[name] = spend(commands[name], watched=True)
    timed = [{name: spend(command) for name, command in commands.items()} for _ in range(runs)]
    spent, ratios = {}, {}
    for name in commands:
        memory = first[name].memory
        spent[name] = median([each[name] for each in timed], memory)
        to = [
            Spent(each[OURS].wall / each[name].wall, each[OURS].processor / each[name].processor)
            for each in timed
        ]
        ratios[name] = median(to, first[OURS].memory / memory)
    del ratios[OURS]
    return Found(job.says, spent, ratios)


def drawn(kind: str, here: Path) -> Path:
    """The art, which is drawn once."""
    if kind == "logo":
        return draw_logos_apart(here, 1)[0]
    path = here / f"{kind}.jpg"
    if not path.exists():
        draw_apart(kind, path)
    return path


def measure_service(here: Path, runs: int) -> Found:
    """Many logos in a running service, which has made some before; what each film costs."""
    arts = draw_logos_apart(here, _WATCHED + LOGOS)
    worked: list[Worked] = []
    memory = 0.0
    for turn in range(runs):
        place = here / f"service-{turn}"
        place.mkdir()
        with RunningService(place, OFFICE) as service:
            memory = max(memory, service.work_off(arts[:_WATCHED], watched=True).memory)
            worked.append(service.work_off(arts[_WATCHED:]))
    each = [Spent(one.wall / one.films, one.processor / one.films) for one in worked]
    return Found(SERVICE_SAYS, {OURS: median(each, memory)}, {})


def median(spent: Sequence[Spent], memory: float) -> Spent:
    """The medians of seconds, with a memory that was found apart."""
    wall = statistics.median(one.wall for one in spent)
    return Spent(wall, statistics.median(one.processor for one in spent), memory)


def table(found: Sequence[Found], tools: Sequence[str]) -> list[str]:
    """The Markdown table of all that was found: the tools' columns, then the ratios'."""
    others = [name for name in tools if name != OURS]
    heads = ["job", *tools, *(f"{OURS} to {name}" for name in others)]
    lines = [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    for one in found:
        cells = [figures(one.spent.get(name)) for name in tools]
        cells += [ratios(one.ratios.get(name)) for name in others]
        lines.append(f"| {one.says} | {' | '.join(cells)} |")
    return lines


def figures(spent: Spent | None) -> str:
    """Wall seconds, processor seconds and MiB, as a cell says them."""
    if spent is None:
        return "–"
    return f"{spent.wall:.2f} s, {spent.processor:.2f} s, {spent.memory:.0f} MiB"


def ratios(spent: Spent | None) -> str:
    """The same of ratios."""
    return "–" if spent is None else f"{spent.wall:.2f}, {spent.processor:.2f}, {spent.memory:.2f}"


def short_table(found: Sequence[Found]) -> list[str]:
    """What README shows: our figures in columns, and the time of Pillow's short way."""
    lines = ["| job | time | processor time | memory | Pillow alone |", "|---|---|---|---|---|"]
    for one in found:
        ours, theirs = one.spent[OURS], one.spent.get("Pillow")
        cells = [f"{ours.wall:.1f} s", f"{ours.processor:.1f} s", f"{ours.memory:.0f} MiB"]
        if one.says == SERVICE_SAYS:
            cells[:2] = f"{ours.wall:.2f} s", f"{ours.processor:.2f} s"
        cells.append(f"{theirs.wall:.1f} s" if theirs else "–")
        lines.append(f"| {one.says} | {' | '.join(cells)} |")
    return lines


def main() -> None:
    """Measure as the command line says, and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", nargs="+", choices=ORDER, default=ORDER)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--markdown", type=Path, nargs="+", default=[])
    wanted = parser.parse_args()
    if wanted.markdown and set(wanted.only) != set(ORDER):
        parser.error("the pages tell of all jobs")
    machine, found = machine_words(), []
    compile_modules()
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        os.environ["XDG_CACHE_HOME"] = str(here / "cache")
        for name in ORDER:
            if name in wanted.only:
                job = JOBS.get(name)
                one = measure(job, here, wanted.runs) if job else measure_service(here, wanted.runs)
                found.append(one)
                told = {tool: figures(spent) for tool, spent in one.spent.items()}
                print(f"{name}: {told}", file=sys.stderr, flush=True)
    lines = table(found, [OURS, *baselines.baselines()])
    said = f"{machine}; rounds: {wanted.runs}."
    print("\n".join([*lines, "", said]))
    short = [*short_table(found), "", said]
    fill_marks(wanted.markdown, {"whole jobs": [*lines, "", said], "speed": short})


if __name__ == "__main__":
    main()
