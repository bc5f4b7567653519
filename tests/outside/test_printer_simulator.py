"""Films to the open-source simulator of an IPP Everywhere printer, and our messages by libcups.

The simulator (ippeveprinter, CUPS) is what IPP Everywhere printers are tested with by those who
wrote the standard (PWG 5100.14). What it received is compared bit for bit. libcups is an
independent reader and writer of messages (RFC 8010).
"""

from __future__ import annotations

import ctypes
import ctypes.util
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from printer_simulator import Simulator, simulators, wait_for

from filmhand.printer.choice import choose_job
from filmhand.printer.ipp.connection import IppConnection
from filmhand.printer.ipp.message import IppMessage, decode_message, encode_message
from filmhand.printer.print_request import PDF, PWG, FilmSheet, JobState, PrintJobRequest
from filmhand.printer.session import IppPrinter
from filmhand.printer.trouble import PrinterTrouble, TroubleKind, UnknownCertificate
from filmhand.profile.printing import PrintWishes
from filmhand.units import Resolution

pytestmark = pytest.mark.outside
__all__ = ["simulators"]

HERE = Path(__file__).parent
A4 = (21000, 29700)
PROFILE = """
sheet: a4
dpi: 600
lpi: 30
dot: round
threshold: 50
mesh: 43-80
margin: 6.35 mm
write: [pwg, pdf]
"""


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A real film of tone, as `make` writes it: its path without a suffix."""
    folder = tmp_path_factory.mktemp("film")
    tone = np.linspace(0, 255, 400, dtype=np.uint8)
    Image.fromarray(np.tile(tone, (500, 1))).save(folder / "ramp.png")
    (folder / "a4.yaml").write_text(PROFILE)
    command = [sys.executable, "-m", "filmhand", "make", "ramp.png", "--profile", "a4.yaml"]
    subprocess.run(command, cwd=folder, check=True, timeout=300, capture_output=True)
    return folder / "ramp"


@pytest.fixture(scope="module")
def raster_printer(
    simulators: None, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Simulator]:
    """Takes PWG Raster of one bit, 13 x 19 in, A4 and custom sizes."""
    one = Simulator(tmp_path_factory.mktemp("raster"), ["-a", str(HERE / "film_printer.conf")])
    yield one
    one.close()


@pytest.fixture(scope="module")
def pdf_printer(simulators: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Simulator]:
    """Takes PDF, on the sheets that the simulator has by itself."""
    one = Simulator(tmp_path_factory.mktemp("pdf"), ["-f", f"{PDF},{PWG}"])
    yield one
    one.close()


def sheet(size: tuple[int, int] = A4, dpi: int = 600, formats: tuple[str, ...] = (PWG, PDF)):
    return FilmSheet(*size, (635,) * 4, Resolution(dpi, dpi), formats)


def request(printer: IppPrinter, one: FilmSheet, name: str, **wishes: str) -> PrintJobRequest:
    return choose_job(
        printer.capabilities(), one, PrintWishes(printer="ipp://x/", **wishes), name=name
    )


def print_film(
    printer: IppPrinter, job: PrintJobRequest, document: bytes
) -> tuple[int, Callable[[], JobState]]:
    number = printer.create(job)
    assert number is not None
    before = printer.job(number)
    assert before is not None
    assert (before.empty, before.name) == (True, job.name)
    assert printer.send(number, job, io.BytesIO(document), len(document)) == number

    def state() -> JobState:
        found = printer.job(number)
        assert found is not None
        return found.state

    return number, state


def test_a_film_arrives_as_raster_bit_for_bit(raster_printer: Simulator, film: Path) -> None:
    document = film.with_suffix(".pwg").read_bytes()
    printer = IppPrinter(raster_printer.uri)
    job = request(printer, sheet(), "ramp 1", media="stationery")
    assert (job.document_format, job.warnings) == (PWG, ())
    number, state = print_film(printer, job, document)
    wait_for(lambda: state() is JobState.COMPLETED, "the job")
    assert raster_printer.received(number) == document
    told = raster_printer.job_environment(number)
    assert told["IPP_MEDIA_COL"] == (
        "{media-size={x-dimension=21000 y-dimension=29700} media-top-margin=423 "
        "media-right-margin=423 media-bottom-margin=423 media-left-margin=423 "
        "media-source=alternate media-type=stationery}"
    )
    assert told["IPP_DOCUMENT_FORMAT_SUPPLIED"] == PWG
    assert told["IPP_PRINTER_RESOLUTION"] == "600dpi"
    assert told["IPP_PRINT_COLOR_MODE"] == "bi-level"
    assert told["IPP_PRINT_SCALING"] == "none"
    assert told["IPP_PRINT_QUALITY"] == "high"
    assert told["IPP_SIDES"] == "one-sided"
    assert told["IPP_COPIES"] == "1"
    assert told["IPP_JOB_NAME"] == "ramp 1"


def test_a_film_arrives_as_pdf_bit_for_bit(pdf_printer: Simulator, film: Path) -> None:
    document = film.with_suffix(".pdf").read_bytes()
    printer = IppPrinter(pdf_printer.uri)
    job = request(printer, sheet(formats=(PDF,)), "ramp 2", tray="by-pass-tray")
    assert job.document_format == PDF
    number, state = print_film(printer, job, document)
    wait_for(lambda: state() is JobState.COMPLETED, "the job")
    assert pdf_printer.received(number) == document
    assert pdf_printer.job_environment(number)["IPP_DOCUMENT_FORMAT_SUPPLIED"] == PDF


def test_a_custom_size_and_a_tray_by_name(raster_printer: Simulator) -> None:
    printer = IppPrinter(raster_printer.uri)
    job = request(printer, sheet((20000, 40000)), "custom", tray="manual")
    number, state = print_film(printer, job, b"RaS2 of a kind")
    wait_for(lambda: state() is JobState.COMPLETED, "the job")
    told = raster_printer.job_environment(number)["IPP_MEDIA_COL"]
    assert told.startswith("{media-size={x-dimension=20000 y-dimension=40000}")
    assert "media-source=manual media-type=transparency" in told


@pytest.mark.parametrize(
    ("one", "kind", "what"),
    [
        (sheet((29700, 50000)), TroubleKind.UNABLE, "takes no sheet of 297 x 500 mm"),
        (sheet(dpi=720), TroubleKind.UNABLE, "prints 600 or 1200 dpi and the film has 720"),
        (sheet(formats=(PDF,)), TroubleKind.UNABLE, "600 or 1200 dpi"),
        (sheet(), TroubleKind.OTHER_SHEET, "holds 210 x 297 mm (8.27 x 11.69 in) of stationery"),
        (sheet((20000, 40000)), TroubleKind.OTHER_SHEET, "needs 200 x 400 mm (7.87 x 15.75 in) of"),
    ],
)
def test_what_it_cannot_print_is_told_before_anything_is_sent(
    raster_printer: Simulator, one: FilmSheet, kind: TroubleKind, what: str
) -> None:
    printer = IppPrinter(raster_printer.uri)
    before = raster_printer.log.read_text().count("Create-Job")
    with pytest.raises(PrinterTrouble) as caught:
        request(printer, one, "never")
    assert caught.value.kind is kind
    assert caught.value.nothing_sent
    if one.formats != (PDF,):
        assert what in str(caught.value)
    assert printer.find("never") == []
    assert raster_printer.log.read_text().count("Create-Job") == before


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        ("media-empty-error", "a tray is empty"),
        ("media-jam-error", "film is jammed"),
        ("cover-open-error", "a cover is open"),
        ("marker-supply-low-warning", "ink or toner is low"),
        ("toner-empty-error", "toner is empty"),
    ],
)
def test_its_troubles_are_told_in_words(raster_printer: Simulator, reason: str, words: str) -> None:
    printer = IppPrinter(raster_printer.uri)
    mood = raster_printer.folder / "mood"
    mood.write_text(reason)
    job = request(printer, sheet((33020, 48260)), f"trouble {reason}")
    number, state = print_film(printer, job, b"RaS2")
    wait_for(lambda: words in (printer.job(number) or pytest.fail("no job")).why, words)
    assert state() in {JobState.PROCESSING, JobState.STOPPED}
    with pytest.raises(PrinterTrouble, match="is busy with another job") as caught:
        printer.create(job)
    assert (caught.value.kind, caught.value.nothing_sent) == (TroubleKind.BUSY, True)
    mood.unlink()
    wait_for(lambda: state() is JobState.COMPLETED, "the job")


def test_a_job_is_canceled_while_it_prints(raster_printer: Simulator) -> None:
    printer = IppPrinter(raster_printer.uri)
    mood = raster_printer.folder / "mood"
    mood.write_text("media-empty-error")
    job = request(printer, sheet((33020, 48260)), "canceled")
    number, state = print_film(printer, job, b"RaS2")
    wait_for(lambda: state() is JobState.PROCESSING, "the job")
    printer.cancel(number)
    mood.unlink()
    wait_for(lambda: state() is JobState.CANCELED, "the end")
    printer.cancel(number)
    assert printer.job(99_999) is None
    assert [one.state for one in printer.find("canceled")] == [JobState.CANCELED]


def test_the_simulator_is_what_its_makers_ask_of_a_printer(raster_printer: Simulator) -> None:
    if shutil.which("ipptool") is None:
        pytest.skip("not installed: ipptool")
    command = ["ipptool", "-tf", "/dev/null", raster_printer.uri, "get-printer-attributes.test"]
    told = subprocess.run(command, check=False, capture_output=True, text=True, timeout=60)
    assert "[PASS]" in told.stdout, told.stdout
    assert "[FAIL]" not in told.stdout, told.stdout


# --- libcups -------------------------------------------------------------------------------------

DATA = 3  # IPP_STATE_DATA: the whole message has been read (cups/ipp.h)


@pytest.fixture(scope="module")
def cups() -> ctypes.CDLL:
    name = ctypes.util.find_library("cups")
    if name is None:
        pytest.skip("libcups is not installed")
    library = ctypes.CDLL(name)
    for function in ("ippNew", "ippFirstAttribute", "ippNextAttribute"):
        getattr(library, function).restype = ctypes.c_void_p
    for function in ("ippGetName", "ippTagString"):
        getattr(library, function).restype = ctypes.c_char_p
    library.ippAttributeString.restype = ctypes.c_size_t
    return library


def by_cups(cups: ctypes.CDLL, data: bytes) -> tuple[int, list[tuple[int, str, str, str]], bytes]:
    """Operation, attributes (group, name, kind, value in words), and the message written anew."""
    with _InMemory(data) as source, _InMemory(b"") as target:
        message = ctypes.c_void_p(cups.ippNew())
        assert cups.ippReadFile(source, message) == DATA
        found = []
        one = cups.ippFirstAttribute(message)
        while one:
            attribute = ctypes.c_void_p(one)
            text = ctypes.create_string_buffer(4096)
            cups.ippAttributeString(attribute, text, ctypes.c_size_t(4096))
            name = cups.ippGetName(attribute)
            if name is not None:
                kind = cups.ippTagString(cups.ippGetValueTag(attribute)).decode()
                group = cups.ippGetGroupTag(attribute)
                found.append((group, name.decode(), kind, text.value.decode()))
            one = cups.ippNextAttribute(message)
        cups.ippSetState(message, 0)
        assert cups.ippWriteFile(target, message) == DATA
        os.lseek(target, 0, os.SEEK_SET)
        written = os.read(target, 1 << 20)
        operation = cups.ippGetOperation(message)
        cups.ippDelete(message)
    return operation, found, written


class _InMemory:
    def __init__(self, data: bytes) -> None:
        self._fd = os.memfd_create("message")
        os.write(self._fd, data)
        os.lseek(self._fd, 0, os.SEEK_SET)

    def __enter__(self) -> int:
        return self._fd

    def __exit__(self, *_: object) -> None:
        os.close(self._fd)


class Capturing(IppConnection):
    """Keeps what is sent, and answers that a job was made."""

    def __init__(self) -> None:
        super().__init__("ipp://film-printer.example/ipp/print")
        self.sent: list[bytes] = []

    def exchange(self, message, document=None, size=0, look=None):
        self.sent.append(message)
        operations = b"\x23\x00\x14operations-supported\x00\x04\x00\x00\x00"
        more = b"\x23\x00\x00\x00\x04\x00\x00\x00"
        return (
            b"\x02\x00\x00\x00\x00\x00\x00\x01\x01\x02\x21\x00\x06job-id\x00\x04\x00\x00\x00\x09"
            b"\x23\x00\x09job-state\x00\x04\x00\x00\x00\x09"
            b"\x04" + operations + b"\x05" + more + b"\x06\x03"
        )


JOB = PrintJobRequest(
    "poster 1",
    PWG,
    A4,
    media_margins=(423, 300, 1270, 300),
    media_type="transparency",
    media_source="main",
    copies=2,
    quality=5,
    resolution=Resolution(600, 1200),
    color_mode="bi-level",
    scaling="none",
    sides="one-sided",
)


def test_libcups_reads_what_we_ask(cups: ctypes.CDLL) -> None:
    capturing = Capturing()
    printer = IppPrinter("", connection=capturing)
    printer.capabilities()
    assert printer.create(JOB) == 9
    printer.send(9, JOB, io.BytesIO(b"RaS2"), 4)
    printer.job(9)
    printer.find("poster 1")
    printer.cancel(9)
    operations = []
    for data in capturing.sent:
        operation, found, written = by_cups(cups, data)
        operations.append(operation)
        assert [row[1] for row in found[:3]] == [
            "attributes-charset",
            "attributes-natural-language",
            "printer-uri",
        ]
        ours, document = decode_message(written)  # libcups as the writer
        assert (ours, document) == decode_message(data)
    assert operations == [0x0B, 0x05, 0x06, 0x09, 0x0A, 0x0A, 0x08]
    _, created, _ = by_cups(cups, capturing.sent[1])
    assert created[3:] == [
        (1, "requesting-user-name", "nameWithoutLanguage", "filmhand"),
        (1, "job-name", "nameWithoutLanguage", "poster 1"),
        (1, "ipp-attribute-fidelity", "boolean", "true"),
        (2, "copies", "integer", "2"),
        (
            2,
            "media-col",
            "collection",
            "{media-size={x-dimension=21000 y-dimension=29700} media-top-margin=423 "
            "media-right-margin=300 media-bottom-margin=1270 media-left-margin=300 "
            "media-source=main media-type=transparency}",
        ),
        (2, "print-color-mode", "keyword", "bi-level"),
        (2, "print-quality", "enum", "high"),
        (2, "print-scaling", "keyword", "none"),
        (2, "printer-resolution", "resolution", "600x1200dpi"),
        (2, "sides", "keyword", "one-sided"),
    ]
    _, sent, _ = by_cups(cups, capturing.sent[2])
    assert sent[3:] == [
        (1, "job-id", "integer", "9"),
        (1, "requesting-user-name", "nameWithoutLanguage", "filmhand"),
        (1, "document-name", "nameWithoutLanguage", "poster 1"),
        (1, "document-format", "mimeMediaType", "image/pwg-raster"),
        (1, "last-document", "boolean", "true"),
    ]


def test_libcups_reads_the_worked_bytes_as_we_do(cups: ctypes.CDLL) -> None:
    sys.path.insert(0, str(HERE.parent / "unit" / "printer"))
    try:
        from test_message import WORKED
    finally:
        sys.path.pop(0)
    for row in WORKED:
        data, message, _ = row.values
        _, _, written = by_cups(cups, data)
        again, _ = decode_message(written)
        kept = IppMessage(message.code, message.request_id, list(message.groups), message.version)
        kept.groups = [group for group in kept.groups if group[1]]  # libcups parts groups otherwise
        again.groups = [group for group in again.groups if group[1]]
        assert again == kept
        assert decode_message(encode_message(again))[0] == again


# --- the whole way -------------------------------------------------------------------------------


def test_from_the_drop_folder_to_the_printer(raster_printer: Simulator, tmp_path: Path) -> None:
    station, profiles = tmp_path / "station", tmp_path / "profiles"
    profiles.mkdir()
    (station / "a4" / "drop").mkdir(parents=True)
    printing = f"print: {{printer: '{raster_printer.uri}', media: stationery, copies: 2}}\n"
    written = PROFILE.replace("[pwg, pdf]", "pwg") + "settle: 100 ms\n" + printing
    (profiles / "a4.yaml").write_text(written)
    tone = np.linspace(255, 0, 300, dtype=np.uint8)
    Image.fromarray(np.tile(tone, (400, 1))).save(station / "a4" / "drop" / "poster.png")
    command = [sys.executable, "-m", "filmhand", "once", str(station)]
    command += ["--profiles", str(profiles), "--state", str(tmp_path / "state")]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    log = (station / "a4" / "records" / "prints.jsonl").read_text().splitlines()
    events = [json.loads(line) for line in log]
    assert [one["state"] for one in events if one["state"] != "printing"] == ["sent", "printed"]
    number = events[-1]["printer_job"]
    film = (station / "a4" / "positives" / "poster.pwg").read_bytes()
    assert raster_printer.received(number) == film
    told = raster_printer.job_environment(number)
    assert told["IPP_COPIES"] == "2"
    assert told["IPP_JOB_NAME"].startswith("poster ")
    assert len(IppPrinter(raster_printer.uri).find(told["IPP_JOB_NAME"])) == 1


def test_by_tls_with_the_certificate_that_it_made_itself(
    simulators: None, tmp_path: Path, film: Path
) -> None:
    keys = tmp_path / "keys"
    keys.mkdir()
    options = ["-a", str(HERE / "film_printer.conf"), "-K", str(keys)]
    simulator = Simulator(tmp_path, options)
    try:
        uri = simulator.uri.replace("ipp:", "ipps:")
        with pytest.raises(UnknownCertificate) as caught:
            IppPrinter(uri).capabilities()
        pinned = caught.value.fingerprint
        assert str(caught.value).endswith(f"certificate: {pinned}")
        (made,) = keys.glob("*.crt")
        command = ["openssl", "x509", "-noout", "-fingerprint", "-sha256", "-in", str(made)]
        told = subprocess.run(command, check=True, capture_output=True, text=True, timeout=60)
        assert told.stdout.partition("=")[2].strip().replace(":", "").lower() == pinned
        document = film.with_suffix(".pwg").read_bytes()
        printer = IppPrinter(uri, pinned)
        job = request(printer, sheet(), "by tls", media="stationery")
        number, state = print_film(printer, job, document)
        wait_for(lambda: state() is JobState.COMPLETED, "the job")
        assert simulator.received(number) == document
        with pytest.raises(UnknownCertificate, match="is not the one in the profile"):
            IppPrinter(uri, "0" * 64).capabilities()
    finally:
        simulator.close()
