"""What it costs a job that its process shuts itself in, against a process that does not.

    python tests/benchmarks/sandbox.py

Prints the milliseconds of shutting in alone, and those of a small job both ways, the tile kept.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from pathlib import Path

from PIL import Image

from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.worker.parent import WorkerLimits, run_in_worker
from filmhand.worker.process import CHILD
from filmhand.worker.sandbox import confine

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
FREE = """
import os
from filmhand.worker import child
child.confine = lambda *given: None
os._exit(child.answer_parent())
"""


def shut_in(folder: Path) -> float:
    """Seconds that a fork of this process takes to shut itself in."""
    outlet, inlet = os.pipe()
    child = os.fork()
    if not child:
        since = time.perf_counter()
        confine([], [folder])
        os.write(inlet, repr(time.perf_counter() - since).encode())
        os._exit(0)
    os.waitpid(child, 0)
    os.close(inlet)
    with os.fdopen(outlet) as pipe:
        return float(pipe.read())


def one_job(folder: Path, module: str) -> float:
    with tempfile.TemporaryDirectory(dir=folder) as place:
        out, work = Path(place) / "out", Path(place) / "work"
        out.mkdir()
        work.mkdir()
        profile = read_profile(PROFILE, name="small", file="small.yaml")
        tiles = folder / "tiles"
        request = JobRequest(folder / "art.png", "art.png", profile, out, work, tiles=tiles)
        since = time.perf_counter()
        run_in_worker(request, limits=WorkerLimits(60, 2**31), module=module)
        return time.perf_counter() - since


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--rounds", type=int, default=15)
    rounds = reader.parse_args().rounds
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "free_child.py").write_text(FREE)
        os.environ["PYTHONPATH"] = name
        Image.linear_gradient("L").save(folder / "art.png", dpi=(72, 72))
        alone = statistics.median(shut_in(folder) for _ in range(rounds))
        print(f"shutting in: {1000 * alone:.1f} ms")
        modules = ("free_child", CHILD)
        took: dict[str, list[float]] = {module: [] for module in modules}
        one_job(folder, modules[0])  # keeps the tile
        for _ in range(rounds):
            for module in modules:
                took[module].append(one_job(folder, module))
    free, bound = (1000 * statistics.median(took[module]) for module in modules)
    print(f"a small job: {free:.0f} ms without, {bound:.0f} ms with; {bound / free:.3f}")


if __name__ == "__main__":
    main()
