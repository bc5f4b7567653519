"""Films through a real CUPS server, with its raw and its everywhere queues.

Source: CUPS itself (cupsd, lp, its filters) and its simulated IPP Everywhere printer
(ippeveprinter), run on loopback; PWG Raster read by the words of PWG 5102.4, PDF drawn by PDFium.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from print_server import UNPACKED, PrintServer, SimulatedPrinter, need_tools, place
from queue_ways import ALL, BOTH, PWG, WAYS, file_of, letter_film, measured

from filmhand.guide import read_page
from filmhand.request import FinishedFilm

pytestmark = pytest.mark.outside

ROOT = Path(__file__).parents[2]
WATCHER = ROOT / "deploy" / "print-by-lp.sh"


@pytest.fixture(scope="module")
def home() -> Iterator[Path]:
    need_tools()
    with place() as folder:
        yield folder


@pytest.fixture(scope="module")
def film(home: Path) -> FinishedFilm:
    return letter_film(home)


@pytest.fixture(scope="module")
def server(home: Path) -> Iterator[PrintServer]:
    made = PrintServer(home / "server")
    yield made
    made.end()


@pytest.fixture(scope="module")
def printer(home: Path) -> Iterator[SimulatedPrinter]:
    made = SimulatedPrinter(home / "printer", "image/pwg-raster")
    yield made
    made.end()


@pytest.fixture(scope="module")
def both(home: Path) -> Iterator[SimulatedPrinter]:
    made = SimulatedPrinter(home / "both", BOTH)
    yield made
    made.end()


def test_a_raw_queue_hands_over_every_byte_and_every_setting(
    server: PrintServer, printer: SimulatedPrinter, film: FinishedFilm
) -> None:
    server.add("film", printer, "raw")
    sent = file_of(film, "pwg")
    before = len(printer.documents())
    server.run("lp", "-d", "film", *PWG, *ALL, str(sent))
    job = printer.received(before + 1)[-1]
    assert job.document == sent.read_bytes()
    got = {key.removeprefix("IPP_"): value for key, value in job.attributes.items()}
    assert got["JOB_NAME"] == sent.name
    assert got["MEDIA"] == "na_letter_8.5x11in"
    assert got["PRINT_COLOR_MODE"] == "bi-level"
    assert got["PRINTER_RESOLUTION"] == "600dpi"
    assert got["PRINT_QUALITY"] == "high"
    assert got["PRINT_SCALING"] == "none"
    assert got["SIDES"] == "one-sided"


@pytest.mark.slow
def test_the_table_of_the_guide_is_what_the_queues_do(
    server: PrintServer, printer: SimulatedPrinter, both: SimulatedPrinter, film: FinishedFilm
) -> None:
    """The shares are those of one film and version of CUPS: yes, no and kind are what must hold."""
    need_tools("/usr/lib/cups/filter/pdftopdf", str(UNPACKED / "filter/rastertopwg"))
    lines = read_page("print-server").splitlines()
    first = lines.index("| queue | printer takes | film | lp is told | arrives | bits kept |") + 2
    shown = [tuple(line.strip("| ").split(" | ")) for line in lines[first : first + len(WAYS)]]
    printers = {"image/pwg-raster": printer, BOTH: both}
    found = [(*way.cells, *seen.cells) for way, seen, _ in measured(film, server, printers)]
    assert len(found) == len(WAYS)

    def rough(row: tuple[str, ...]) -> tuple[str, ...]:
        return *row[:-1], re.sub(r"[\d.]+ %", "some", row[-1])

    assert [rough(row) for row in shown] == [rough(row) for row in found]


def test_the_watcher_prints_each_film_of_a_folder_once(
    server: PrintServer, printer: SimulatedPrinter, film: FinishedFilm, home: Path
) -> None:
    server.add("watched", printer, "raw")
    films, notes = home / "my films", home / "notes"
    films.mkdir()
    notes.mkdir()
    sent = file_of(film, "pwg").read_bytes()
    before = len(printer.documents())
    for name in ("two words.pwg", "größe [7 in].pwg"):
        shutil.copyfile(file_of(film, "pwg"), films / name)
        for _ in range(2):
            words = ["sh", str(WATCHER), str(films), str(notes), "lp", "-d", "watched", *PWG, *ALL]
            done = subprocess.run(
                words,
                env=server.environment | {"ONCE": "yes", "LC_ALL": "C.UTF-8"},
                capture_output=True,
                text=True,
                check=False,
                timeout=120,
            )
            assert (done.returncode, done.stderr) == (0, "")
    jobs = printer.received(before + 2)[before:]
    assert [job.document for job in jobs] == [sent, sent]
    assert jobs[0].attributes["IPP_JOB_NAME"] == "two words.pwg"
    assert len(printer.documents()) == before + 2
    assert sorted(path.name for path in notes.iterdir()) == [
        "größe [7 in].pwg.printed",
        "two words.pwg.printed",
    ]


def test_the_watcher_says_what_the_server_did_not_take(
    film: FinishedFilm, server: PrintServer, home: Path
) -> None:
    films, notes = home / "later", home / "later notes"
    films.mkdir()
    notes.mkdir()
    shutil.copyfile(file_of(film, "pwg"), films / "poster.pwg")
    words = ["sh", str(WATCHER), str(films), str(notes), "lp", "-d", "nothing-of-that-name"]
    done = subprocess.run(
        words,
        env=server.environment | {"ONCE": "yes"},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert "poster.pwg was printed" in done.stderr
    assert [path.name for path in notes.iterdir()] == ["poster.pwg.begun"]
