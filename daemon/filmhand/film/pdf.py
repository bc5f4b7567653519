"""A film as a PDF of one page: one image mask that renders to the film's very pixels.

The page is pixels x 72 / dpi points. The mask lies a tenth of a pixel inside the page on every
side: renderers round edges outwards or inwards as they like, and an edge that lies exactly
between two pixels may be taken for either; a tenth of a pixel inside there is no doubt, and
each device pixel's center still falls into its own sample.

Group 4 data is one stream, as the format wants it, made of strips joined at bit level. The
lengths of the strips in bits stand in an object of their own under a private key (ISO 32000-1,
Annex E: third-class names begin with XX), so that a film can be read back a strip at a time.

The file's identifier is a SHA-256, cut to 16 bytes, of all that stands before the
cross-references. Decoding alone does not notice every damage: some flipped bits turn Group 4
into code that one decoder forgives and another does not.
"""

from __future__ import annotations

import hashlib
import re
import zlib
from decimal import Decimal
from typing import BinaryIO

import numpy as np

from filmhand.arrays import UInt8Array
from filmhand.film import deflate, group4
from filmhand.film.bits import pad_mask
from filmhand.film.group4 import BitString
from filmhand.film.strips import FilePlan, FilmStrip

_INSET = Decimal("0.1")
OBJECTS = 8
IDENTITY_DIGITS = 32
# {…} are filled in when writing and looked for when reading.
HEAD = """%PDF-1.7
%\u00e2\u00e3\u00cf\u00d3
1 0 obj
<</Type/Catalog/Pages 2 0 R/ViewerPreferences<</PrintScaling/None/Enforce[/PrintScaling]\
/PickTrayByPDFSize true/Duplex/Simplex>>>>
endobj
2 0 obj
<</Type/Pages/Kids[3 0 R]/Count 1>>
endobj
3 0 obj
<</Type/Page/Parent 2 0 R/MediaBox[0 0 {box}]/CropBox[0 0 {box}]\
/Resources<</XObject<</Film 5 0 R>>>>/Contents 4 0 R>>
endobj
4 0 obj
<</Length {drawing_bytes}>>
stream
{drawing}
endstream
endobj
5 0 obj
<</Type/XObject/Subtype/Image/Width {width}/Height {height}/BitsPerComponent 1/ImageMask true\
/Interpolate false/Filter{filter}/Length 6 0 R>>
stream
"""
GROUP4_FILTER = (
    "/CCITTFaxDecode/DecodeParms<</K -1/Columns {width}/Rows {height}/BlackIs1 false>>"
    "/XXStrips 7 0 R"
)
FLATE_FILTER = "/FlateDecode"


class PdfWriter:
    """Writes everything but the stream's length first, the stream as it comes, then the rest."""

    def __init__(self, file: BinaryIO, plan: FilePlan) -> None:
        self._file = file
        self._plan = plan
        self._digest = hashlib.sha256()
        self._put(_head(plan))
        self._stream_at = file.tell()
        self._carry = BitString()
        self._lengths: list[int] = []
        self._checksum = zlib.adler32(b"")
        if not plan.group4:
            self._put(deflate.START)

    def encode(self, strip: FilmStrip) -> tuple[BitString, bytes, bytes]:
        """The strip's code, or its samples and their blocks; safe to call from several threads."""
        if self._plan.group4:
            code = group4.continued(strip.code, strip.rows, width=strip.width, before=strip.before)
            return code, b"", b""
        samples = to_samples(strip.rows, strip.width).tobytes()
        return BitString(), samples, deflate.deflate_block(samples)

    def add(self, payload: tuple[BitString, bytes, bytes]) -> None:
        """Put the next strip into the stream."""
        code, samples, blocks = payload
        if self._plan.group4:
            self._lengths.append(code.length)
            bits = self._carry + code
            whole = bits.length - bits.length % 8
            blocks = bits.data[: whole // 8]
            self._carry = bits.part(whole, bits.length)
        else:
            self._checksum = zlib.adler32(samples, self._checksum)
        self._put(blocks)

    def finish(self) -> None:
        """End the stream and write the objects that tell of it, and the cross-references."""
        if self._plan.group4:
            self._put(group4.to_strip(self._carry))
        else:
            self._put(deflate.end_of_stream(self._checksum))
        stream_bytes = self._file.tell() - self._stream_at
        self._put(b"\nendstream\nendobj\n")
        offsets = object_offsets(_head(self._plan))
        lengths = " ".join(map(str, self._lengths))
        for number, body in (
            (6, f"{stream_bytes}"),
            (7, f"<</Rows {self._plan.rows_per_strip}/Bits[{lengths}]>>"),
        ):
            offsets.append(self._file.tell())
            self._put(f"{number} 0 obj\n{body}\nendobj\n".encode())
        self._put(_tail(offsets, self._file.tell(), self._digest.hexdigest()[:IDENTITY_DIGITS]))

    def _put(self, data: bytes) -> None:
        self._digest.update(data)
        self._file.write(data)


def _head(plan: FilePlan) -> bytes:
    box, matrix = placement(plan)
    drawing = "0 g q {} 0 0 {} {} {} cm /Film Do Q".format(*map(number_text, matrix))
    packing = GROUP4_FILTER if plan.group4 else FLATE_FILTER
    return HEAD.format(
        box=" ".join(map(number_text, box)),
        drawing=drawing,
        drawing_bytes=len(drawing),
        width=plan.width,
        height=plan.height,
        filter=packing.format(width=plan.width, height=plan.height),
    ).encode("latin-1")


def placement(plan: FilePlan) -> tuple[tuple[Decimal, ...], tuple[Decimal, ...]]:
    """Page width and height, and the mask's width, height, left and bottom edge, in points."""
    across, down = Decimal(72) / plan.dpi.x, Decimal(72) / plan.dpi.y
    box = (plan.width * across, plan.height * down)
    inside = 2 * _INSET
    size = ((plan.width - inside) * across, (plan.height - inside) * down)
    return box, (*size, _INSET * across, _INSET * down)


def number_text(number: Decimal) -> str:
    """A number as PDF takes it, to a millionth of a point, without needless zeros."""
    text = f"{number:.6f}"
    return text.rstrip("0").rstrip(".")


def object_offsets(head: bytes) -> list[int]:
    """Where the objects in a head begin."""
    return [found.start() for found in re.finditer(rb"^\d+ 0 obj$", head, re.MULTILINE)]


def _tail(offsets: list[int], place: int, identity: str) -> bytes:
    table = "".join(f"{offset:010d} 00000 n \n" for offset in offsets)
    return (
        f"xref\n0 {OBJECTS}\n0000000000 65535 f \n{table}"
        f"trailer\n<</Size {OBJECTS}/Root 1 0 R/ID[<{identity}><{identity}>]>>\n"
        f"startxref\n{place}\n%%EOF\n"
    ).encode()


def to_samples(rows: UInt8Array, width: int) -> UInt8Array:
    """An image mask paints where its samples are 0."""
    samples = np.invert(rows)
    samples[:, -1] &= pad_mask(width)
    return samples
