"""A profile that names a queue of a real CUPS server as its printer."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from print_server import PrintServer, SimulatedPrinter, need_tools, place
from printer_simulator import wait_for

from filmhand.printer.choice import choose_job
from filmhand.printer.print_request import PWG, FilmSheet, JobState
from filmhand.printer.session import IppPrinter
from filmhand.printer.trouble import PrinterTrouble, TroubleKind
from filmhand.profile.printing import PrintWishes
from filmhand.units import Resolution

pytestmark = pytest.mark.outside

LETTER = FilmSheet(21590, 27940, (635,) * 4, Resolution(600, 600))


@pytest.fixture(scope="module")
def queues() -> Iterator[tuple[PrintServer, SimulatedPrinter]]:
    """A server with a raw queue to a simulated printer."""
    need_tools()
    with place() as home:
        printer = SimulatedPrinter(home / "printer", PWG)
        try:
            server = PrintServer(home / "server")
            try:
                server.add("raw", printer, "raw")
                yield server, printer
            finally:
                server.end()
        finally:
            printer.end()


def test_a_raw_queue_passes_on_the_bits_and_all_that_is_asked(
    queues: tuple[PrintServer, SimulatedPrinter],
) -> None:
    server, simulated = queues
    printer = IppPrinter(f"ipp://127.0.0.1:{server.port}/printers/raw")
    can = printer.capabilities()
    assert (can.queue, can.filters) == (True, False)
    job = choose_job(can, LETTER, PrintWishes(printer="ipp://x/"), name="poster 1")
    assert "raw queue" in job.warnings[0]
    number = printer.create(job)
    assert number is not None
    before = printer.job(number)
    assert before is not None
    assert before.empty
    document = b"RaS2" + bytes(range(256)) * 900
    printer.send(number, job, io.BytesIO(document), len(document))
    after = printer.job(number)
    assert after is not None
    assert not after.empty

    def state() -> JobState | None:
        seen = printer.job(number)
        return seen and seen.state

    wait_for(lambda: state() is JobState.COMPLETED, "the job")
    assert [one.number for one in printer.find("poster 1")] == [number]
    (received,) = simulated.received()
    assert received.document == document
    wanted = {
        "IPP_MEDIA": "na_letter_8.5x11in",
        "IPP_PRINT_COLOR_MODE": "bi-level",
        "IPP_PRINT_QUALITY": "high",
        "IPP_PRINT_SCALING": "none",
        "IPP_PRINTER_RESOLUTION": "600dpi",
        "IPP_SIDES": "one-sided",
        "IPP_DOCUMENT_FORMAT_SUPPLIED": PWG,
    }
    assert {name: received.attributes.get(name) for name in wanted} == wanted


def test_a_queue_that_is_not_there(queues: tuple[PrintServer, SimulatedPrinter]) -> None:
    printer = IppPrinter(f"ipp://127.0.0.1:{queues[0].port}/printers/none")
    with pytest.raises(PrinterTrouble, match="knows nothing of that name") as caught:
        printer.capabilities()
    assert caught.value.kind is TroubleKind.WRONG


def test_an_empty_job_is_canceled_at_the_queue(
    queues: tuple[PrintServer, SimulatedPrinter],
) -> None:
    printer = IppPrinter(f"ipp://127.0.0.1:{queues[0].port}/printers/raw")
    wishes = PrintWishes(printer="ipp://x/")
    number = printer.create(choose_job(printer.capabilities(), LETTER, wishes, name="poster 2"))
    assert number is not None
    printer.cancel(number)
    seen = printer.job(number)
    assert seen is not None
    assert (seen.state, seen.empty) == (JobState.CANCELED, True)
    printer.cancel(number)
