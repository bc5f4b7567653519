"""What a service costs that has nothing to do, and how soon it sees a drop.

A service with so many profiles runs in a process of its own and is left alone. Then this prints
seconds of processor an hour, threads, and system calls a second (strace counts them, in a time of
its own, since it slows what it watches; without strace they are left out). Then small pictures are
dropped, one after another into a profile each, at random moments while all is at rest: the time
from the end of writing to the moment when the service has taken the file out of drop, less the
rest of 0.2 s that the profile asks for. That is a little more than the time until it was seen.

``--deaf`` lets the watching fail, as on a system that has none: what polling alone costs.

    python tests/benchmarks/idle.py [--profiles 50] [--seconds 60] [--drops 20] [--deaf]
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image

PROFILE = """\
sheet: 8.5 x 11 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
settle: 200 ms
"""
SETTLE = 0.2  # seconds, as in the profile
DEAF = "from filmhand.intake import watch\nwatch.FolderWatch.keep = lambda *_: False\n"
SERVICE = "from filmhand.cli import main\nmain()\n"
AT_REST = 25.0  # seconds after the start or the last drop until nothing is left to do
_HERTZ = os.sysconf("SC_CLK_TCK")


def start(station: Path, state: Path, profiles: int, *, deaf: bool) -> subprocess.Popen[bytes]:
    """A service with so many profiles, which has looked at all of them."""
    (station / "profiles").mkdir(parents=True)
    for number in range(profiles):
        (station / "profiles" / f"p{number:03}.yaml").write_text(PROFILE)
    code = (DEAF if deaf else "") + SERVICE
    command = [sys.executable, "-c", code, "serve", str(station), "--state", str(state)]
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    service = subprocess.Popen(command, stderr=subprocess.DEVNULL, env=environment)
    until = time.monotonic() + 120
    while not all((station / f"p{n:03}" / "drop").is_dir() for n in range(profiles)):
        if service.poll() is not None or time.monotonic() > until:
            raise SystemExit("the service did not start")
        time.sleep(0.1)
    return service


def processor(pid: int) -> float:
    """Seconds that the process and its ended children have used."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11:15])) / _HERTZ


def calls_a_second(pid: int, seconds: float, table: Path) -> float | None:
    """System calls of all threads; None without strace."""
    if shutil.which("strace") is None:
        return None
    command = ["strace", "-c", "-f", "-q", "-o", str(table), "-p", str(pid)]
    watching = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    time.sleep(seconds)
    watching.send_signal(signal.SIGINT)
    watching.wait(30)
    total = re.search(r"^100\.00\s+\S+\s+\S+\s+(\d+)\s.*total$", table.read_text(), re.MULTILINE)
    return int(total[1]) / seconds if total else None


def drop_to_seen(station: Path, profiles: int, chance: random.Random) -> float:
    """Drop a picture that will be refused; seconds until it was taken, less those it must rest."""
    path = station / f"p{chance.randrange(profiles):03}" / "drop" / f"{time.time_ns()}.png"
    fresh = station / "fresh"
    Image.new("L", (8, 8)).save(fresh, "PNG")
    fresh.rename(path)
    began = time.monotonic()
    while path.exists():
        time.sleep(0.005)
    return time.monotonic() - began - SETTLE


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--profiles", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--drops", type=int, default=20)
    parser.add_argument("--deaf", action="store_true")
    parser.add_argument("--calls", action="store_true", help="print strace's table")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="idle-") as place:
        station, table = Path(place) / "station", Path(place) / "calls"
        service = start(station, Path(place) / "state", asked.profiles, deaf=asked.deaf)
        try:
            time.sleep(AT_REST)
            before = processor(service.pid)
            time.sleep(asked.seconds)
            used = (processor(service.pid) - before) * 3600 / asked.seconds
            threads = len(list(Path(f"/proc/{service.pid}/task").iterdir()))
            print(f"{asked.profiles} profiles at rest: {used:.0f} s of processor an hour, ", end="")
            print(f"{threads} threads, ", end="")
            calls = calls_a_second(service.pid, asked.seconds / 2, table)
            print("no strace" if calls is None else f"{calls:.0f} system calls a second")
            if asked.calls and table.exists():
                print(table.read_text())
            chance, seen = random.Random(1), []
            for _ in range(asked.drops):
                time.sleep(3 + chance.uniform(0, 2))
                seen.append(drop_to_seen(station, asked.profiles, chance))
            if seen:
                print(
                    f"from drop to seen: median {statistics.median(seen):.2f} s, "
                    f"worst of {len(seen)}: {max(seen):.2f} s"
                )
        finally:
            service.terminate()
            service.wait(60)


if __name__ == "__main__":
    main()
