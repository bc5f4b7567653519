"""What becomes of a film in the queues of a CUPS server, as a table.

Starts a server and simulated printers of its own on loopback (``tests/outside/print_server.py``
says what that takes), sends a film on letter at 600 dpi by ``lp`` in every way that
``tests/outside/queue_ways.py`` lists, and compares what arrived with the film's own pixels; PDF is
drawn by PDFium. Run it as root with a Python that has filmhand and its test tools installed::

    python tests/benchmarks/print_queues.py
"""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "outside"))

from print_server import PrintServer, SimulatedPrinter, place
from queue_ways import WAYS, letter_film, measured

HEAD = ("queue", "printer takes", "film", "lp is told", "arrives", "bits kept")


def main() -> None:
    with contextlib.ExitStack() as stack:
        home = stack.enter_context(place())
        film = letter_film(home)
        printers = {}
        for number, formats in enumerate(sorted({way.printer for way in WAYS})):
            printers[formats] = SimulatedPrinter(home / f"printer{number}", formats)
            stack.callback(printers[formats].end)
        server = PrintServer(home / "server")
        stack.callback(server.end)
        print("| " + " | ".join(HEAD) + " |")
        print("|---" * len(HEAD) + "|")
        for way, result, _ in measured(film, server, printers):
            print("| " + " | ".join((*way.cells, *result.cells)) + " |", flush=True)


if __name__ == "__main__":
    main()
