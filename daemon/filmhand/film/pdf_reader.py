"""A film's PDF read back and compared, in the very form that :mod:`filmhand.film.pdf` gives it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import BinaryIO

from filmhand.film import deflate, group4
from filmhand.film.bits import BitSheet
from filmhand.film.formats import BrokenFilm, Codec
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
from filmhand.film.strips import FilePlan, FilmStrip, compare_strips
from filmhand.units import Resolution
from filmhand.values import dataclass

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
    BrokenFilm
        If it is not in the very form that :class:`PdfWriter` gives it.
    """
    file.seek(0)
    head = _HEAD_PATTERN.match(file.read(4096))
    end = file.seek(0, 2)
    file.seek(max(0, end - 1024))
    tail = _TAIL_PATTERN.search(file.read())
    if not head or not tail:
        raise BrokenFilm("is not one that filmhand wrote")
    *before, at_length, at_strips = map(int, re.findall(rb"(\d{10}) ", tail[1]))
    at_tail = end - len(tail[0])
    ordered = head.end() <= at_length <= at_strips <= at_tail == int(tail[3])
    if before != object_offsets(head[0]) or not ordered:
        raise BrokenFilm("has damaged cross-references")
    file.seek(at_length)
    length = _LENGTH_PATTERN.fullmatch(file.read(at_strips - at_length))
    strips = _STRIPS_PATTERN.fullmatch(file.read(at_tail - at_strips))
    if not length or not strips:
        raise BrokenFilm("has damaged objects")
    stream_end = head.end() + int(length[1])
    file.seek(stream_end)
    if stream_end + len(_STREAM_END) != at_length or file.read(len(_STREAM_END)) != _STREAM_END:
        raise BrokenFilm("has a stream of the wrong length")
    drawing_fits = len(head["drawing"]) == int(head["drawing_bytes"])
    box, matrix = (
        tuple(Decimal(head[name].decode()) for name in names)
        for names in (("box_x", "box_y"), ("across", "down", "left", "up"))
    )
    if _digest(file, at_tail) != tail[2].decode():
        raise BrokenFilm("has been changed since it was written")
    if not drawing_fits or not all(box) or not int(head["width"]) * int(head["height"]):
        raise BrokenFilm("has a damaged page")
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
    for chunk in _chunks(file, 0, stop):
        digest.update(chunk)
    return digest.hexdigest()[:IDENTITY_DIGITS]


def _chunks(file: BinaryIO, start: int, left: int) -> Iterator[bytes]:
    file.seek(start)
    while left and (chunk := file.read(min(_CHUNK, left))):
        left -= len(chunk)
        yield chunk


def stream_codes(file: BinaryIO, film: PdfFilm) -> Iterator[BitString]:
    """The Group 4 code of each strip, as it stands in the stream.

    Raises
    ------
    BrokenFilm
        If the strips' lengths and the end-of-block code do not fill the stream exactly.
    """
    position = 0
    for length in film.strip_bits:
        yield _stream_bits(file, film, position, position + length)
        position += length
    end = _stream_bits(file, film, position, film.stream_bytes * 8)
    if end.length > 31 or end.data.ljust(4, b"\0") != group4.to_strip(BitString()).ljust(4, b"\0"):
        raise BrokenFilm("has a stream that does not end where its strips end")


def _stream_bits(file: BinaryIO, film: PdfFilm, start: int, stop: int) -> BitString:
    first, last = start // 8, -(-stop // 8)
    if not start <= stop <= film.stream_bytes * 8:
        raise BrokenFilm("has strips that do not fit its stream")
    file.seek(film.stream_at + first)
    bits = BitString.from_bytes(file.read(last - first))
    return bits.part(start - first * 8, stop - first * 8)


def stream_chunks(file: BinaryIO, film: PdfFilm) -> Iterator[bytes]:
    """The bytes of the stream, some at a time."""
    return _chunks(file, film.stream_at, film.stream_bytes)


def verify_pdf(file: BinaryIO, bits: BitSheet, plan: FilePlan, *, threads: int) -> None:
    """Decode a PDF's stream and compare page, placement and bits with what was meant.

    Raises
    ------
    BrokenFilm
        At the first thing that differs.
    """
    film = read_pdf_head(file)
    _verify_page(film, plan)
    if film.group4:
        strips = (plan.rows_per_strip, len(plan.starts))
        if (film.rows_per_strip, len(film.strip_bits)) != strips:
            raise BrokenFilm("has other strips than the film")
        compare_strips(stream_codes(file, film), _is_code_of, bits, plan, threads=threads)
    else:
        sizes = (plan.rows_at(y) * plan.row_bytes for y in plan.starts)
        pieces = deflate.inflate_exactly(stream_chunks(file, film), sizes)
        compare_strips(pieces, _is_sampled, bits, plan, threads=threads)


def _is_code_of(strip: FilmStrip, code: BitString) -> bool:
    return group4.is_code_of(code, strip.rows, width=strip.width, before=strip.before)


def _is_sampled(strip: FilmStrip, samples: bytes) -> bool:
    return samples == to_samples(strip.rows, strip.width).tobytes()


def _verify_page(film: PdfFilm, plan: FilePlan) -> None:
    box, matrix = (tuple(map(number_text, numbers)) for numbers in placement(plan))
    meant = (plan.width, plan.height, box, matrix)
    found_box, found_matrix = (tuple(map(number_text, n)) for n in (film.box, film.matrix))
    found = (film.width, film.height, found_box, found_matrix)
    if found != meant:
        raise BrokenFilm(f"has the page {found}, meant is {meant}")


PDF_CODEC = Codec(PdfWriter, verify_pdf)
