"""A film's PDF read back and compared, in the very form that :mod:`filmhand.film.pdf` gives it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import BinaryIO

import numpy as np

from filmhand.arrays import UInt8Array
from filmhand.film import deflate, group4
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Codec
from filmhand.film.group4 import BitString
from filmhand.film.pdf import (
    FLATE_FILTER,
    GROUP4_FILTER,
    HEAD,
    IDENTITY_DIGITS,
    OBJECTS,
    PdfWriter,
    number_text,
    object_offsets,
    placement,
    to_samples,
)
from filmhand.film.strips import FilePlan, FilmDiffers, in_order, read_strip
from filmhand.units import Resolution

PDF_SIGNATURE = b"%PDF-"
_CHUNK = 1 << 18
_NUMBER = r"\d+(?:\.\d+)?"
_FIELDS = {
    "box": rf"(?P<box_x>{_NUMBER}) (?P<box_y>{_NUMBER})",
    "drawing_bytes": r"\d+",
    "drawing": rf"0 g q (?P<across>{_NUMBER}) 0 0 (?P<down>{_NUMBER}) "
    rf"(?P<left>{_NUMBER}) (?P<up>{_NUMBER}) cm /Film Do Q",
    "width": r"\d{1,9}",
    "height": r"\d{1,9}",
}


class BrokenPdf(Exception):
    """A PDF is damaged, or not one that this module wrote."""


@dataclass(frozen=True, slots=True)
class PdfFilm:
    """What a film's PDF says of itself, and where its stream lies."""

    width: int
    height: int
    box: tuple[Decimal, ...]
    matrix: tuple[Decimal, ...]
    group4: bool
    stream_at: int
    stream_bytes: int
    rows_per_strip: int
    strip_bits: tuple[int, ...]

    @property
    def dpi(self) -> Resolution:
        """The nearest whole resolution that gives the page's size."""
        return Resolution(
            round(self.width * 72 / self.box[0]), round(self.height * 72 / self.box[1])
        )


def _head_pattern() -> re.Pattern[bytes]:
    """The head's template as a pattern; a field that stands twice must be the same twice."""
    packing = f"(?:(?P<group4>{re.escape(GROUP4_FILTER)})|{re.escape(FLATE_FILTER)})"
    pattern = re.escape(HEAD).replace(re.escape("{filter}"), packing)
    for name, form in _FIELDS.items():
        field = re.escape("{" + name + "}")
        pattern = pattern.replace(field, f"(?P<{name}>{form})", 1).replace(field, f"(?P={name})")
    return re.compile(pattern.encode("latin-1"))


_HEAD_PATTERN = _head_pattern()
_LENGTH_PATTERN = re.compile(rb"6 0 obj\n(\d{1,12})\nendobj\n")
_STRIPS_PATTERN = re.compile(
    rb"7 0 obj\n<</Rows (\d{1,6})/Bits\[((?:\d{1,12}(?: \d{1,12})*)?)\]>>\nendobj\n"
)
_TAIL_PATTERN = re.compile(
    rb"xref\n0 %d\n0000000000 65535 f \n((?:\d{10} 00000 n \n){%d})"
    rb"trailer\n<</Size %d/Root 1 0 R/ID\[<([0-9a-f]{32})><\2>\]>>\n"
    rb"startxref\n(\d{1,12})\n%%%%EOF\n\Z" % (OBJECTS, OBJECTS - 1, OBJECTS)
)
_STREAM_END = b"\nendstream\nendobj\n"


def is_ours(file: BinaryIO) -> bool:
    """Whether a PDF begins as every film's does."""
    file.seek(0)
    start = HEAD[: HEAD.index("{")].encode("latin-1")
    return file.read(len(start)) == start


def read_pdf_head(file: BinaryIO) -> PdfFilm:
    """Read all of a film's PDF but its stream.

    Raises
    ------
    BrokenPdf
        If it is not in the very form that :class:`PdfWriter` gives it.
    """
    file.seek(0)
    head = _HEAD_PATTERN.match(file.read(4096))
    end = file.seek(0, 2)
    file.seek(max(0, end - 1024))
    tail = _TAIL_PATTERN.search(file.read())
    if not head or not tail:
        raise BrokenPdf("is not one that filmhand wrote")
    *before, at_length, at_strips = map(int, re.findall(rb"(\d{10}) ", tail[1]))
    at_tail = end - len(tail[0])
    ordered = head.end() <= at_length <= at_strips <= at_tail == int(tail[3])
    if before != object_offsets(head[0]) or not ordered:
        raise BrokenPdf("has damaged cross-references")
    file.seek(at_length)
    length = _LENGTH_PATTERN.fullmatch(file.read(at_strips - at_length))
    strips = _STRIPS_PATTERN.fullmatch(file.read(at_tail - at_strips))
    if not length or not strips:
        raise BrokenPdf("has damaged objects")
    stream_end = head.end() + int(length[1])
    file.seek(stream_end)
    if stream_end + len(_STREAM_END) != at_length or file.read(len(_STREAM_END)) != _STREAM_END:
        raise BrokenPdf("has a stream of the wrong length")
    drawing_fits = len(head["drawing"]) == int(head["drawing_bytes"])
    box, matrix = (
        tuple(Decimal(head[name].decode()) for name in names)
        for names in (("box_x", "box_y"), ("across", "down", "left", "up"))
    )
    if _digest(file, at_tail) != tail[2].decode():
        raise BrokenPdf("has been changed since it was written")
    if not drawing_fits or not all(box) or not int(head["width"]) * int(head["height"]):
        raise BrokenPdf("has a damaged page")
    return PdfFilm(
        width=int(head["width"]),
        height=int(head["height"]),
        box=box,
        matrix=matrix,
        group4=head["group4"] is not None,
        stream_at=head.end(),
        stream_bytes=int(length[1]),
        rows_per_strip=int(strips[1]),
        strip_bits=tuple(map(int, strips[2].split())),
    )


def _digest(file: BinaryIO, stop: int) -> str:
    digest = hashlib.sha256()
    file.seek(0)
    while stop and (chunk := file.read(min(_CHUNK, stop))):
        digest.update(chunk)
        stop -= len(chunk)
    return digest.hexdigest()[:IDENTITY_DIGITS]


def stream_codes(file: BinaryIO, film: PdfFilm) -> Iterator[BitString]:
    """The Group 4 code of each strip, as it stands in the stream.

    Raises
    ------
    BrokenPdf
        If the strips' lengths and the end-of-block code do not fill the stream exactly.
    """
    position = 0
    for length in film.strip_bits:
        yield _stream_bits(file, film, position, position + length)
        position += length
    end = _stream_bits(file, film, position, film.stream_bytes * 8)
    if group4.to_strip(BitString()) != end.part(0, min(24, end.length)).to_bytes() or (
        end.length > 31 or end.part(24, end.length).value
    ):
        raise BrokenPdf("has a stream that does not end where its strips end")


def _stream_bits(file: BinaryIO, film: PdfFilm, start: int, stop: int) -> BitString:
    first, last = start // 8, -(-stop // 8)
    if not start <= stop <= film.stream_bytes * 8:
        raise BrokenPdf("has strips that do not fit its stream")
    file.seek(film.stream_at + first)
    bits = BitString.from_bytes(file.read(last - first))
    return bits.part(start - first * 8, stop - first * 8)


def stream_chunks(file: BinaryIO, film: PdfFilm) -> Iterator[bytes]:
    """The bytes of the stream, some at a time."""
    file.seek(film.stream_at)
    left = film.stream_bytes
    while left and (chunk := file.read(min(_CHUNK, left))):
        left -= len(chunk)
        yield chunk


def samples_to_rows(samples: bytes, width: int) -> UInt8Array:
    """Rows (1 = ink) from the samples of an image mask (0 = ink)."""
    rows = np.frombuffer(samples, np.uint8).reshape(-1, (width + 7) // 8)
    return to_samples(rows, width)


def verify_pdf(path: Path, bits: BitSheet, plan: FilePlan, *, threads: int) -> None:
    """Decode a PDF's stream and compare page, placement and bits with what was meant.

    Raises
    ------
    FilmDiffers
        At the first thing that differs.
    """
    try:
        with path.open("rb") as file:
            film = read_pdf_head(file)
            _verify_page(film, plan)
            if film.group4:
                _verify_group4(file, film, bits, plan, threads=threads)
            else:
                _verify_flate(file, film, bits, plan)
    except (BrokenPdf, deflate.BrokenStream) as error:
        raise FilmDiffers(f"the PDF {error}") from error


def _verify_page(film: PdfFilm, plan: FilePlan) -> None:
    box, matrix = (tuple(map(number_text, numbers)) for numbers in placement(plan))
    meant = (plan.width, plan.height, box, matrix)
    found_box, found_matrix = (tuple(map(number_text, n)) for n in (film.box, film.matrix))
    found = (film.width, film.height, found_box, found_matrix)
    if found != meant:
        raise FilmDiffers(f"the PDF's page is {found}, meant is {meant}")


def _verify_group4(
    file: BinaryIO, film: PdfFilm, bits: BitSheet, plan: FilePlan, *, threads: int
) -> None:
    if (film.rows_per_strip, len(film.strip_bits)) != (plan.rows_per_strip, len(plan.starts)):
        raise FilmDiffers("the PDF's strips are not the film's")

    def differs(item: tuple[int, BitString]) -> int | None:
        y, code = item
        strip = read_strip(bits, plan, y)
        same = group4.is_code_of(code, strip.rows, width=plan.width, before=strip.before)
        return None if same else y

    # The codes must run out by themselves: only then is the end of the stream looked at.
    codes = enumerate(stream_codes(file, film))
    items = ((index * plan.rows_per_strip, code) for index, code in codes)
    for y in in_order(differs, items, threads=threads):
        if y is not None:
            raise FilmDiffers(f"the PDF's rows from {y} do not hold the film's bits")


def _verify_flate(file: BinaryIO, film: PdfFilm, bits: BitSheet, plan: FilePlan) -> None:
    sizes = (plan.rows_at(y) * plan.row_bytes for y in plan.starts)
    pieces = deflate.inflate_exactly(stream_chunks(file, film), sizes)
    for y, piece in zip(plan.starts, pieces, strict=False):
        rows = read_strip(bits, plan, y).rows
        if piece != to_samples(rows, plan.width).tobytes():
            raise FilmDiffers(f"the PDF's rows from {y} do not hold the film's bits")
    # zip stops before it asks for the end, which checks the checksum.
    next(pieces, None)


PDF_CODEC = Codec(PdfWriter, verify_pdf)
