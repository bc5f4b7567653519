"""The state folder is gone where a great many jobs were finished: when is the first film there?

Builds a station with so many finished jobs (records, originals, proofs and films as tiny files),
drops a picture and starts the service without any state. Prints the seconds until its film is
there, what the ledger knew then, and the seconds until the ledger knows all; and how long
`filmhand history` takes for the oldest job, the newest, a film, a job's id and a name that nobody
knows: while the ledger is read in, when it is whole, with the service stopped, and without state.
The renderer is pretended; everything else is the real thing, in processes of its own.

    python tests/benchmarks/state_lost.py [--jobs 50000] [--folder DIR]
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "failure"))

import finished_jobs
import service_process
from test_service_station import PROFILE


def known(state: Path) -> tuple[int, bool]:
    """How many jobs the ledger knows, and whether it is whole."""
    try:
        with sqlite3.connect(f"file:{state / 'ledger.sqlite'}?mode=ro", uri=True) as db:
            count = int(db.execute("SELECT count(*) FROM jobs").fetchone()[0])
            return count, db.execute("PRAGMA user_version").fetchone()[0] == 1
    except sqlite3.Error:
        return 0, False


def ask(station: Path, state: Path, jobs: int, when: str) -> None:
    """Print the seconds that each question took, and whether it was answered."""
    names = {
        "oldest": finished_jobs.shown(0),
        "newest": finished_jobs.shown(jobs - 2),
        "refused": f"motif {finished_jobs.REFUSED - 1}",
        "film": "motif 1000.pdf",
        "job": "20250106T080100-00000001",
        "unknown": "nobody's.png",
    }
    told = []
    for kind, name in names.items():
        command = [sys.executable, "-m", "filmhand", "history", str(station), name]
        began = time.monotonic()
        done = subprocess.run(
            [*command, "--state", str(state)], capture_output=True, check=False, env=environment()
        )
        lacks = ", not whole" if b"may be missing" in done.stderr else ""
        found = "" if done.returncode == 0 else ", nothing"
        told.append(f"{kind} {time.monotonic() - began:.2f} s{found}{lacks}")
    print(f"history {when}: {'; '.join(told)}", flush=True)


def environment() -> dict[str, str]:
    """With this Python's own search path."""
    return os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}


def main() -> None:
    """Build, lose, measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=50_000)
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="state-lost-", dir=asked.folder) as place:
        station, state = Path(place) / "station", Path(place) / "state"
        (station / "profiles").mkdir(parents=True)
        (station / "profiles" / "small.yaml").write_text(PROFILE)
        finished_jobs.finish(station / "small", asked.jobs)
        (station / "small" / "drop" / "fresh.png").write_bytes(b"art that is new")
        command = [sys.executable, service_process.__file__, "serve", str(station), str(state)]
        began = time.monotonic()
        service = subprocess.Popen(command, stderr=subprocess.DEVNULL, env=environment())
        while not (station / "small" / "originals" / "fresh.png").exists():
            time.sleep(0.02)
        count, _ = known(state)
        print(
            f"{asked.jobs} jobs: first film after {time.monotonic() - began:.1f} s, "
            f"when the ledger knew {count}",
            flush=True,
        )
        ask(station, state, asked.jobs, "while it is read in")
        while not known(state)[1]:
            time.sleep(0.2)
        print(f"the ledger is whole after {time.monotonic() - began:.0f} s: {known(state)[0]} jobs")
        ask(station, state, asked.jobs, "when it is whole")
        service.send_signal(signal.SIGTERM)
        service.wait(60)
        ask(station, state, asked.jobs, "with the service stopped")
        shutil.rmtree(state)
        ask(station, state, asked.jobs, "without state")


if __name__ == "__main__":
    main()
