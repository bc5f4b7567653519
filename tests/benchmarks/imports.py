"""What commands and a job's process import: modules, and processor time against a bare Python.

Baseline: ``python -c pass`` in the same run. Times are of the processor, the shortest of the
rounds; modules are counted by ``python -X importtime``.

Run it with a Python that has filmhand installed::

    python tests/benchmarks/imports.py [--rounds 6]
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

PROFILE = Path(__file__).parents[2] / "profiles" / "a4.yaml"
JOB = "import filmhand.worker.child, filmhand.pipeline.finished"


def seconds(words: list[str], rounds: int) -> float:
    """The least processor time of a Python called so."""
    found = []
    for _ in range(rounds):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], check=False, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


def modules(words: list[str]) -> int:
    """How many modules it imports; the first line that is told of them is a head."""
    call = [sys.executable, "-X", "importtime", *words]
    told = subprocess.run(call, check=False, capture_output=True, text=True).stderr
    return told.count("import time:") - 1


def main() -> None:
    """Measure, and print one line for each."""
    asked = argparse.ArgumentParser(description="what is imported")
    asked.add_argument("--rounds", type=int, default=6)
    rounds = asked.parse_args().rounds
    with tempfile.TemporaryDirectory() as station:
        calls = {
            "python": ["-c", "pass"],
            "--help": ["-m", "filmhand", "--help"],
            "guide": ["-m", "filmhand", "guide"],
            "status": ["-m", "filmhand", "status", station],
            "check": ["-m", "filmhand", "check", str(PROFILE)],
            "a job": ["-c", JOB],
        }
        baseline = seconds(calls["python"], rounds)
        for name, words in calls.items():
            took = seconds(words, rounds)
            ratio = took / baseline
            print(f"{name:8} {modules(words):4} modules  {took:.3f} s  ratio {ratio:.1f}")


if __name__ == "__main__":
    main()
