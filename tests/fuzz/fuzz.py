"""Feeds malformed art of every accepted format to the decoders and counts what comes out.

    python tests/fuzz/fuzz.py --count 20000 --seed 1

Each input is opened in a process with the limits of a worker, so that a crash is seen and known to
belong to its input; every tenth goes the whole way to a film. The only good outcomes are a film and
a refusal with its reason. Everything else is counted as bad, kept in `--keep` and ends with 1:
a signal, an exception of filmhand's own, blame on the disk. An input that takes too long, or more
memory than it may, is ended by the limits, as in the service, and counted by itself.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import multiprocessing
import os
import select
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from types import SimpleNamespace
from typing import Any

_HERE = Path(__file__).resolve().parent
MEMORY = 2**30  # bytes of address space
SECONDS = 30.0  # for one input
FILM_EVERY = 10
_LIMITS: Any = SimpleNamespace(megapixels=20.0, megabytes=64.0, pages=8, memory=MEMORY)
_PROFILE = """
sheet: 3 x 3 in
dpi: 150
lpi: 15
dot: round
threshold: 50
mesh: none
margin: 0.1 in
limits:
  megapixels: 20
  pages: 8
"""


class Taster:
    """A process that opens one file after another; a new one takes its place when it dies."""

    def __init__(self, folder: Path, command: list[str] | None = None) -> None:
        self._art = folder / "art"
        self._command = command or [sys.executable, str(_HERE / "fuzz.py"), "--taste", str(folder)]
        self._child: subprocess.Popen[bytes] | None = None

    def taste(self, data: bytes, *, name: str, film: bool = False) -> tuple[str, str]:
        """(outcome, detail): film, refused, limit; or bad: signal, bug, surroundings."""
        self._art.write_bytes(data)
        child = self._child or self._start()
        assert child.stdin is not None
        assert child.stdout is not None
        question = {"name": name, "film": film}
        with contextlib.suppress(BrokenPipeError):
            child.stdin.write(json.dumps(question).encode() + b"\n")
            child.stdin.flush()
        line = b""
        if select.select([child.stdout], [], [], SECONDS)[0]:
            line = child.stdout.readline()
        else:
            child.kill()
            child.wait()
            self.close()
            return "limit", "time"
        if not line:
            code = child.wait()
            self.close()
            if code == -signal.SIGXCPU:
                return "limit", "processor time"
            return "signal", signal.Signals(-code).name if code < 0 else f"exit {code}"
        outcome, detail = json.loads(line)
        return outcome, detail

    def _start(self) -> subprocess.Popen[bytes]:
        search = [str(_HERE.parent.parent / "daemon"), *filter(None, sys.path)]
        self._child = subprocess.Popen(
            self._command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join(search),
                "OPENBLAS_NUM_THREADS": "1",
                "MALLOC_ARENA_MAX": "2",
            },
        )
        return self._child

    def close(self) -> None:
        """End the process."""
        child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.wait()
            for pipe in (child.stdin, child.stdout):
                with contextlib.suppress(OSError):
                    assert pipe is not None
                    pipe.close()


def good(outcome: str) -> bool:
    """True for what may happen to a malformed file."""
    return outcome in {"film", "opened", "refused", "limit"}


# --- the process that tastes ---------------------------------------------------------------------


def taste_all(folder: Path) -> None:
    """Answer one line for each line on standard input; the art lies in `folder`."""
    from filmhand.worker import child

    answer_to = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    __import__("filmhand.pipeline.finished")
    child.set_limits({"memory": MEMORY, "cpu_seconds": 10**6, "parent": os.getppid(), "threads": 1})
    for line in sys.stdin.buffer:
        question = json.loads(line)
        answer_to.write(json.dumps(_taste(folder, question)).encode() + b"\n")
        answer_to.flush()


def _taste(folder: Path, question: dict[str, Any]) -> tuple[str, str]:
    from filmhand.worker.child import answer_of

    make = _film if question["film"] else _open
    answer = answer_of(make, {**question, "folder": folder, "memory": MEMORY})
    if "refused" in answer:
        told = answer["refused"]
        sound = all(told[key].endswith(".") and len(told[key]) > 20 for key in ("say", "do"))
        return ("refused", told["reason"]) if sound else ("bug", f"poor sentences: {told}")
    if "ok" in answer:
        return ("film" if question["film"] else "opened"), ""
    if "environment" in answer:
        return "environment", str(answer["environment"])
    return "bug", str(answer["bug"])


def _open(question: dict[str, Any]) -> dict[str, Any]:
    from filmhand.art.files.open_art import count_pages, open_art

    path, name = question["folder"] / "art", question["name"]
    channel: Any = "luminance"
    pages = count_pages(path, name=name, limits=_LIMITS)
    for page in range(min(pages, 4)):
        art = open_art(path, name=name, limits=_LIMITS, channel=channel, page=page)
        assert art.coded.shape == (art.height_px, art.width_px)
    return {}


def _film(question: dict[str, Any]) -> dict[str, Any]:
    from filmhand.pipeline.make import make_films
    from filmhand.profile.read.load import read_profile
    from filmhand.request import JobRequest

    profile = read_profile(_PROFILE, name="fuzz", file="fuzz.yaml")
    with tempfile.TemporaryDirectory(dir=question["folder"]) as folder:
        out, scratch = Path(folder) / "out", Path(folder) / "scratch"
        out.mkdir()
        scratch.mkdir()
        art = question["folder"] / "art"
        made = make_films(
            JobRequest(art, question["name"], profile, out, scratch, tiles=question["folder"])
        )
        for film in made.films:
            for kind, path in film.files.items():
                digest = hashlib.sha256(path.read_bytes()).hexdigest()
                assert digest == film.record["film"]["sha256"][kind]
    return {}


# --- the run -------------------------------------------------------------------------------------


def run(count: int, seed: int, keep: Path | None) -> Counter[tuple[str, str, str]]:
    """Counts by (format, outcome, detail) of `count` inputs; the bad ones are written to `keep`."""
    from hypothesis import HealthCheck, Phase, given, settings
    from hypothesis import seed as seeded
    from malformed import Recipe, recipes

    counts: Counter[tuple[str, str, str]] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        taster = Taster(Path(folder))
        number = 0

        @seeded(seed)
        @settings(
            max_examples=count,
            database=None,
            deadline=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(recipes())
        def one(recipe: Recipe) -> None:
            nonlocal number
            number += 1
            data = recipe.bake()
            name = f"art.{recipe.kind.lower()}"
            outcome, detail = taster.taste(data, name=name, film=number % FILM_EVERY == 0)
            last = detail.strip().splitlines()[-1][:200] if detail.strip() else ""
            counts[recipe.kind, outcome, last] += 1
            if keep is not None and (not good(outcome) or outcome == "limit"):
                _keep(keep, recipe, data, outcome, detail)

        one()
        taster.close()
    return counts


def _keep(folder: Path, recipe: Any, data: bytes, outcome: str, detail: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    stem = f"{outcome}-{hashlib.sha256(data).hexdigest()[:12]}.{recipe.kind.lower()}"
    (folder / stem).write_bytes(data)
    (folder / f"{stem}.txt").write_text(f"{recipe}\n{detail}\n")


def _share(arguments: tuple[int, int, Path | None]) -> Counter[tuple[str, str, str]]:
    return run(*arguments)


def main() -> int:
    """Run, print, and say whether anything bad came out."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=1000, help="inputs (default 1000)")
    parser.add_argument("--seed", type=int, default=1, help="the same inputs for the same number")
    parser.add_argument("--keep", type=Path, help="folder for inputs with a bad outcome")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--taste", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.taste:
        taste_all(asked.taste)
        return 0
    began = time.monotonic()
    each = -(-asked.count // asked.processes)
    shares = [(each, asked.seed * 1000 + n, asked.keep) for n in range(asked.processes)]
    with multiprocessing.get_context("spawn").Pool(asked.processes) as pool:
        counts = sum(pool.map(_share, shares), Counter[tuple[str, str, str]]())
    report(counts, time.monotonic() - began)
    return 0 if all(good(outcome) for _, outcome, _ in counts) else 1


def report(counts: Counter[tuple[str, str, str]], seconds: float) -> None:
    """Print the counts: a row for each format, a column for each outcome; then what was bad."""
    columns = ["film", "opened", "refused", "limit", "bad"]
    table: dict[str, Counter[str]] = {}
    for (kind, outcome, _), number in counts.items():
        table.setdefault(kind, Counter())[outcome if good(outcome) else "bad"] += number
    print("format " + "".join(f"{column:>9}" for column in ["inputs", *columns]))
    for kind, row in [*sorted(table.items()), ("all", sum(table.values(), Counter[str]()))]:
        print(f"{kind:7}{row.total():9}" + "".join(f"{row[column]:9}" for column in columns))
    reasons: Counter[str] = Counter()
    for (_, outcome, detail), number in counts.items():
        if outcome not in {"opened", "film"}:
            reasons[f"{outcome}: {detail}"] += number
    for reason, number in reasons.most_common():
        print(f"{number:7}  {reason}")
    print(f"{counts.total()} inputs in {seconds:.0f} s")


if __name__ == "__main__":
    sys.exit(main())
