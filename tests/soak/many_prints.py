"""Thousands of films that wait for one printer: what each costs, and memory.

``python tests/soak/many_prints.py [--films 10000] [--printed 200] [--folder DIR]``: the orders are
laid down at once, then some of them are printed by a printer that is done at once.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "failure"))

import job_harness
from print_harness import FolderPrinter, events, orders, printing


def lay_down(root: Path, count: int) -> None:
    """So many orders like the first one."""
    (first,) = orders(root)
    told = json.loads((first / "order.json").read_text())
    for number in range(1, count):
        folder = first.with_name(f"20300101T{number:012}-{number:08x}-00001")
        folder.mkdir()
        (folder / "order.json").write_text(json.dumps(told | {"id": folder.name}))
        for document in ("film.pwg", "film.pdf"):
            os.link(first / document, folder / document)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--films", type=int, default=10_000)
    options.add_argument("--printed", type=int, default=200)
    options.add_argument("--folder", type=Path)
    asked = options.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.folder) as area:
        root = Path(area) / "small"
        queue = job_harness.make_queue(root, Path(area) / "state")
        queue.look()
        (root / "drop" / "a.png").write_bytes(b"print this to the printer")
        job_harness.work_through(queue)
        lay_down(root, asked.films)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        desk = printing(queue, FolderPrinter(Path(area) / "printer"))
        began = time.monotonic()
        desk.step()
        print(f"{asked.films} films wait; first look {time.monotonic() - began:.1f} s", flush=True)
        began, processor = time.monotonic(), time.process_time()
        for _ in range(asked.printed):
            desk.step()
        printed = [one for one in events(root) if one["state"] == "printed"]
        count = max(1, len(printed))
        print(f"{count} printed, {(time.process_time() - processor) / count * 1000:.0f} ms of "
              f"processor and {(time.monotonic() - began) / count * 1000:.0f} ms each")  # fmt: skip
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"memory {before:.0f} MiB before, {peak:.0f} MiB at most")


if __name__ == "__main__":
    main()
