"""What becomes of a film on its way through the queues of a print server, pixel by pixel."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import Image
from print_server import PrintServer, ReceivedJob, SimulatedPrinter

from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, JobRequest

PROFILE = """\
sheet: letter
dpi: 600
lpi: 45
dot: round
threshold: 50
mesh: none
margin: 0.25 in
angle: 22.5
art: {treat: tone}
write: [pwg, pdf, tiff]
"""
# What lp is told, as the guide's page has it.
SHEET = ("-o", "media=na_letter_8.5x11in", "-o", "sides=one-sided")
ONE_BIT = ("-o", "print-color-mode=bi-level", "-o", "print-quality=5")
SIZE = ("-o", "print-scaling=none", "-o", "printer-resolution=600dpi")
PWG = ("-o", "document-format=image/pwg-raster")
BOTH = "application/pdf,image/pwg-raster"


@dataclass(frozen=True, slots=True)
class QueueWay:
    """One way: the queue's model, the formats the printer takes, the file and lp's options."""

    model: str
    printer: str
    kind: str
    options: tuple[str, ...]
    told: str

    @property
    def queue(self) -> str:
        """A name for the queue: its model and what the printer takes."""
        return f"{self.model}-{'both' if self.printer == BOTH else 'pwg'}"

    @property
    def cells(self) -> tuple[str, ...]:
        """The table's first cells."""
        takes = "PDF and PWG" if self.printer == BOTH else "PWG only"
        return self.model, takes, f"`.{self.kind}`", self.told


A4 = ("-o", "media=iso_a4_210x297mm")
ALL = (*SHEET, *ONE_BIT, *SIZE)
WAYS = (
    QueueWay("raw", "image/pwg-raster", "pwg", (*PWG, *ALL), "all"),
    QueueWay("raw", BOTH, "pdf", ALL, "all"),
    QueueWay("everywhere", BOTH, "pwg", (*PWG, *ALL), "all"),
    QueueWay("everywhere", BOTH, "pdf", (*SHEET, *SIZE), "`print-scaling=none`"),
    QueueWay("everywhere", BOTH, "pdf", SHEET, "the sheet only"),
    QueueWay("everywhere", BOTH, "pdf", (*SHEET, "-o", "print-scaling=fit"), "`print-scaling=fit`"),
    QueueWay(
        "everywhere", BOTH, "pdf", ("-o", "media=iso_a4_210x297mm"), "a sheet of another size"
    ),
    QueueWay("everywhere", "image/pwg-raster", "pdf", (*SHEET, *SIZE), "`print-scaling=none`"),
    QueueWay("everywhere", "image/pwg-raster", "pdf", ALL, "all"),
)


@dataclass(frozen=True, slots=True)
class QueueResult:
    """What arrived: as bytes the same, how many pixels differ, and of which kind it was."""

    kind: str
    same_bytes: bool
    different: int
    pixels: int

    @property
    def cells(self) -> tuple[str, str]:
        """The table's cells: what arrived, and what of the film's bits is kept."""
        if self.same_bytes:
            return self.kind, "yes: byte for byte"
        if self.different == 0:
            return self.kind, "yes: each pixel"
        share = 100 * self.different / self.pixels
        return self.kind, f"no: {share:.2g} % of the pixels differ"


def letter_film(folder: Path) -> FinishedFilm:
    """A film of a ramp with a line of text's worth of empty sheet around it."""
    art = folder / "ramp.png"
    ramp = np.tile(np.linspace(0, 255, 900).astype(np.uint8), (1100, 1))
    Image.fromarray(ramp).save(art, dpi=(150, 150))
    out, scratch = folder / "out", folder / "scratch"
    out.mkdir()
    scratch.mkdir()
    profile = read_profile(PROFILE, name="test", file="test.yaml")
    request = JobRequest(art=art, name=art.name, profile=profile, out=out, scratch=scratch)
    return make_films(request).films[0]


def file_of(film: FinishedFilm, kind: str) -> Path:
    """The film's file of one kind."""
    return next(path for name, path in film.files.items() if name == kind)


def send(way: QueueWay, film: FinishedFilm, server: PrintServer) -> None:
    """Hand the film over as `lp` does."""
    server.run("lp", "-d", way.queue, *way.options, str(file_of(film, way.kind)))


def look_at(sent: Path, film: FinishedFilm, job: ReceivedJob) -> QueueResult:
    """Compare what the printer got with the film's own pixels."""
    ink = next(seen for _, seen in raster_pages(file_of(film, "pwg").read_bytes())) > 0
    if job.document == sent.read_bytes():
        kind = "PWG, 1 bit" if job.document[:4] == b"RaS2" else "PDF"
        return QueueResult(kind, True, 0, ink.size)
    if job.document[:4] == b"RaS2":
        ((bits, seen),) = raster_pages(job.document)
        kind = f"PWG, {bits} bit"
        seen = seen if bits == 1 else 255 - seen
        assert seen.shape == ink.shape
        wrong = seen != (ink if bits == 1 else ink * np.uint8(255))
        return QueueResult(kind, False, int(wrong.sum()), ink.size)
    seen = _rendered(job.document, ink.shape)
    return QueueResult("PDF, written anew", False, int((seen != ink).sum()), ink.size)


def measured(
    film: FinishedFilm, server: PrintServer, printers: dict[str, SimulatedPrinter]
) -> Iterator[tuple[QueueWay, QueueResult, ReceivedJob]]:
    """Each way in turn, with what arrived; `printers` by the formats that they take."""
    queues = set()
    for way in WAYS:
        printer = printers[way.printer]
        if way.queue not in queues:
            server.add(way.queue, printer, way.model)
            queues.add(way.queue)
        before = len(printer.documents())
        send(way, film, server)
        job = printer.received(before + 1)[-1]
        yield way, look_at(file_of(film, way.kind), film, job), job


def raster_pages(data: bytes) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """Bits and pixels of each page (one bit: 1 = ink), as PWG 5102.4, section 4.4 packs them."""
    assert data[:4] == b"RaS2"
    at = 4
    while at < len(data):
        width, height, _, _, bits, line_bytes = struct.unpack_from(">6I", data, at + 372)
        at += 1796
        lines: list[bytes] = []
        while len(lines) < height:
            repeat, at = data[at] + 1, at + 1
            line = bytearray()
            while len(line) < line_bytes:
                control, at = data[at], at + 1
                if control < 128:
                    line += data[at : at + 1] * (control + 1)
                    at += 1
                else:
                    line += data[at : at + 257 - control]
                    at += 257 - control
            lines += [bytes(line)] * repeat
        rows = np.frombuffer(b"".join(lines), np.uint8).reshape(height, line_bytes)
        yield bits, np.unpackbits(rows, axis=1, count=width) if bits == 1 else rows


def _rendered(data: bytes, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """The page, drawn by PDFium at the film's own number of pixels: True = ink."""
    page = pypdfium2.PdfDocument(data)[0]
    height, width = shape
    bitmap = pypdfium2.PdfBitmap.new_native(width, height, pypdfium2.raw.FPDFBitmap_Gray)
    pypdfium2.raw.FPDFBitmap_FillRect(bitmap, 0, 0, width, height, 0xFFFFFFFF)
    pypdfium2.raw.FPDF_RenderPageBitmap(bitmap, page, 0, 0, width, height, 0, 0)
    seen: NDArray[np.bool_] = np.asarray(bitmap.to_numpy()).reshape(shape) < 128
    return seen
