"""Ways to spoil a picture file, as Hypothesis strategies, so that failures shrink by themselves.

A recipe names a sound file and a list of edits. Places in the file are parts of its length, so that
an edit means something in every file; a bias towards the front spoils headers, where most parsing
happens. Check sums are put right in half of the PNG files, or their decoder would look no further.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from hypothesis import strategies as st
from sound_files import NAMES, png_chunk, sound

MOST_BYTES = 300_000
_MAGIC = 8
_PARTS = 10_000
_NUMBERS = (0, 1, 2, 3, 7, 8, 16, 127, 128, 255, 256, 32767, 32768, 65535, 65536, 0x01000000)
_LIES = (*_NUMBERS, 2**31 - 1, 2**31, 2**32 - 1)


@dataclass(frozen=True, slots=True)
class Recipe:
    """A sound file and what is done to it."""

    kind: str
    form: str
    edits: tuple[tuple[Any, ...], ...]
    mend: bool = field(default=False)  # put the check sums of a PNG right again

    def bake(self) -> bytes:
        """The spoiled file."""
        data = sound(self.kind, self.form)
        for name, *arguments in self.edits:
            data = EDITS[name](data, *arguments)[:MOST_BYTES]
        return mend_png(data) if self.mend and self.kind == "PNG" else data


def _at(data: bytes, where: int, *, front: bool = False) -> int:
    """The place of `where` ten-thousandths, behind the first bytes, which tell the format."""
    span = min(len(data), 600) if front else len(data)
    return max(0, min(_MAGIC + where * (span - _MAGIC) // _PARTS, len(data) - 1))


# --- edits that know nothing of formats ----------------------------------------------------------


def _cut(data: bytes, where: int) -> bytes:
    return data[: _at(data, where)]


def _zero_tail(data: bytes, where: int) -> bytes:
    keep = _at(data, where)
    return data[:keep] + bytes(len(data) - keep)


def _long_zero_tail(data: bytes, where: int, kilobytes: int) -> bytes:
    return data[: _at(data, where)] + bytes(1024 * kilobytes)


def _flip(data: bytes, where: int, bit: int, front: bool) -> bytes:
    if not data:
        return data
    spoiled = bytearray(data)
    spoiled[_at(data, where, front=front)] ^= 1 << bit
    return bytes(spoiled)


def _number(data: bytes, where: int, form: str, value: int, front: bool) -> bytes:
    number = struct.pack(form, value & (2 ** (8 * struct.calcsize(form)) - 1))
    at = _at(data, where, front=front)
    return data[:at] + number + data[at + len(number) :]


def _without(data: bytes, where: int, length: int) -> bytes:
    at = _at(data, where)
    return data[:at] + data[at + length :]


def _twice(data: bytes, where: int, length: int, times: int) -> bytes:
    at = _at(data, where)
    return data[:at] + data[at : at + length] * times + data[at + length :]


def _junk(data: bytes, where: int, junk: bytes) -> bytes:
    at = _at(data, where)
    return data[:at] + junk + data[at:]


def _splice(data: bytes, where: int, other: tuple[str, str], its: int) -> bytes:
    """The beginning of this file with the end of another, mostly of another format."""
    more = sound(*other)
    return data[: _at(data, where)] + more[_at(more, its) :]


def _inside(data: bytes, where: int, other: tuple[str, str]) -> bytes:
    """A whole file of another format in the middle of this one."""
    at = _at(data, where)
    return data[:at] + sound(*other) + data[at:]


# --- headers that lie ----------------------------------------------------------------------------


def _tiff_places(data: bytes) -> list[tuple[int, str]]:
    """Every field of the first directory: tag, type, count, value; and the way to the next one."""
    order = "<" if data[:2] == b"II" else ">"
    if len(data) < 16:
        return [(4, order + "I")]
    start = struct.unpack_from(order + "I", data, 4)[0]
    if start + 2 > len(data):
        return [(4, order + "I")]
    count = min(40, struct.unpack_from(order + "H", data, start)[0])
    places = [(4, order + "I"), (start, order + "H"), (start + 2 + 12 * count, order + "I")]
    for entry in range(count):
        at = start + 2 + 12 * entry
        places += [(at, order + "H"), (at + 2, order + "H"), (at + 4, order + "I")]
        places += [(at + 8, order + "I")] * 3  # the values are the best place for a lie
    return places


def _box_places(data: bytes) -> list[tuple[int, str]]:
    """Lengths of boxes and the first fields behind their names (ISO/IEC 14496-12, 4.2)."""
    names = rb"ftyp|meta|hdlr|pitm|iloc|iinf|infe|iprp|ipco|ispe|pixi|colr|av1C|hvcC|ipma|iref|mdat"
    places = []
    for found in re.finditer(names, data[:4000]):
        at = found.start()
        places += [(max(0, at - 4), ">I"), (at + 4, ">I"), (at + 8, ">I"), (at + 12, ">I")]
    return places


def _gif_places(data: bytes) -> list[tuple[int, str]]:
    """The screen's size and colors, and place and size of what may be the first frames."""
    frames = [found.start() for found in re.finditer(rb",", data[:1500])][:2]
    places = [(at + n, "<H") for at in frames for n in (1, 3, 5, 7)]
    return [(6, "<H"), (8, "<H"), (10, "B"), (11, "B"), *places]


_SIZES: dict[str, Callable[[bytes], list[tuple[int, str]]]] = {
    "PNG": lambda data: [(16, ">I"), (20, ">I"), (24, "B"), (25, "B"), (28, "B")],
    "GIF": _gif_places,
    "BMP": lambda data: [
        (28, "<H"),
        *((at, "<I") for at in (2, 10, 14, 18, 22, 30, 34, 46, 54, 58)),
    ],
    "JPEG": lambda data: [
        (m.start() + n, form)
        for m in re.finditer(rb"\xff[\xc0-\xc4\xda\xdb\xdd]", data[:4000])
        for n, form in ((2, ">H"), (4, "B"), (5, ">H"), (7, ">H"), (9, "B"), (11, "B"))
    ],
    "WEBP": lambda data: [(4, "<I"), (16, "<I"), (20, "<I"), (24, "<I"), (26, "<H"), (28, "<H")],
    "TIFF": _tiff_places,
    # Boxes: the lengths before the names of the parts that tell sizes and places.
    "HEIC": _box_places,
    "AVIF": _box_places,
    "layered": lambda data: [
        *((at, ">H") for at in (4, 12, 22, 24, 38, 40, 42)),
        *((at, ">I") for at in (14, 18, 26, 30, 34)),
    ],
    "SVG": lambda data: [],
    "PDF": lambda data: [],
    "JPEG 2000": lambda data: [
        (m.start() + n, form)
        for m in re.finditer(rb"ihdr|\xff\x4f\xff\x51|jp2c", data[:4000])
        for n, form in ((-4, ">I"), (4, ">I"), (8, ">I"), (12, ">I"), (16, ">I"), (40, ">H"))
        if m.start() + n >= 0
    ],
    "JPEG XL": lambda data: [(at, ">I") for at in (0, 2, 12, 32, 36)],
    "TGA": lambda data: [
        *((at, "B") for at in (0, 1, 2, 7, 16, 17)),
        *((at, "<H") for at in (5, 12, 14)),
    ],
    "PCX": lambda data: [
        *((at, "B") for at in (1, 2, 3, 65)),
        *((at, "<H") for at in (4, 6, 8, 10, 66)),
    ],
    "ICO": lambda data: [(4, "<H"), (6, "B"), (7, "B"), (14, "<I"), (18, "<I"), (26, "<I")],
    "DDS": lambda data: [(at, "<I") for at in (8, 12, 16, 20, 28, 76, 80, 84, 88, 92)],
    "DIB": lambda data: [
        (0, "<I"),
        (4, "<i"),
        (8, "<i"),
        (12, "<H"),
        (14, "<H"),
        (16, "<I"),
        (20, "<I"),
        (32, "<I"),
    ],
}


def kind_of(data: bytes) -> str | None:
    """The format whose beginning the data still has."""
    starts = {b"\x89PNG": "PNG", b"GIF8": "GIF", b"BM": "BMP", b"\xff\xd8": "JPEG"}
    starts |= {b"RIFF": "WEBP", b"II": "TIFF", b"MM": "TIFF", b"8BPS": "layered"}
    starts |= {b"\0\0\0\x0cjP": "JPEG 2000", b"\xff\x4f\xff\x51": "JPEG 2000", b"DDS ": "DDS"}
    starts |= {b"\0\0\0\x0cJXL": "JPEG XL", b"\xff\x0a": "JPEG XL", b"\0\0\1\0": "ICO"}
    starts |= {b"\x0a\x05\x01": "PCX", b"\x28\0\0\0": "DIB"}
    starts |= {bytes([0, 0, kind, 0]): "TGA" for kind in (2, 3, 10)}
    if data[4:8] == b"ftyp":
        return "AVIF" if b"avif" in data[:40] else "HEIC"
    return next((kind for start, kind in starts.items() if data.startswith(start)), None)


def _lie(data: bytes, which: int, value: int, add: int) -> bytes:
    """Another number in a field of the header: one that is odd in itself, or a little off."""
    kind = kind_of(data)
    if kind is None:
        return _lie_in_text(data, which, value)
    places = _SIZES[kind](data)
    if not places:
        return data
    at, form = places[which % len(places)]
    size = struct.calcsize(form)
    if at + size > len(data):
        return data
    if add:
        value = struct.unpack_from(form, data, at)[0] + add
    return data[:at] + struct.pack(form, value & (2 ** (8 * size) - 1)) + data[at + size :]


def _lie_in_text(data: bytes, which: int, value: int) -> bytes:
    """Another number in place of one that is written out, as in SVG and PDF."""
    numbers = list(re.finditer(rb"-?\d+", data))
    if not numbers:
        return data
    found = numbers[which % len(numbers)]
    told = (b"%d" % value, b"-%d" % value, b"1e9", b"nan", b"0.0000001")[which // 7 % 5]
    return data[: found.start()] + told + data[found.end() :]


# --- metadata bombs ------------------------------------------------------------------------------


def _bomb(data: bytes, size: int, sort: int) -> bytes:
    """Much metadata where the format has a place for it: large when unpacked, or very many."""
    kind = kind_of(data)
    bombs = {"PNG": _png_bomb, "JPEG": _jpeg_bomb, "GIF": _gif_bomb, "TIFF": _tiff_bomb}
    if kind in bombs:
        return bombs[kind](data, size, sort)
    return _webp_bomb(data, size) if kind == "WEBP" else _text_bomb(data, size, sort)


def _png_bomb(data: bytes, size: int, sort: int) -> bytes:
    packed = zlib.compress(bytes(size * 10_000), 9)
    chunks = (
        png_chunk(b"zTXt", b"Comment\0\0" + packed),
        png_chunk(b"iTXt", b"Comment\0\1\0\0\0" + packed),
        png_chunk(b"iCCP", b"profile\0\0" + packed),
        png_chunk(b"tEXt", b"Comment\0x") * size,
        png_chunk(b"eXIf", b"II*\0\x08\0\0\0" + struct.pack("<H", 65535) + bytes(size)),
        png_chunk(b"acTL", struct.pack(">II", 2**31 - 1, 0)) * 2,
        png_chunk(b"PLTE", bytes(3 * min(size, 400))),
    )
    return data[:33] + chunks[sort % len(chunks)] + data[33:]


def _jpeg_bomb(data: bytes, size: int, sort: int) -> bytes:
    ring = b"Exif\0\0II*\0\x08\0\0\0\x01\0" + struct.pack("<HHII", 0x8769, 4, 1, 8) + bytes(4)
    parts = (
        b"\xff\xe1" + struct.pack(">H", 2 + len(ring)) + ring,
        b"\xff\xe2\x40\x02" + b"ICC_PROFILE\0" + bytes(0x3FF4),
        b"\xff\xfe\x00\x04hi" * size,
        b"\xff\xed\xff\xff" + b"8BIM" + bytes(65533 - 4),
        b"\xff\xdd\x00\x04\x00\x01" * (size % 90),
    )
    return data[:2] + parts[sort % len(parts)] + data[2:]


def _gif_bomb(data: bytes, size: int, sort: int) -> bytes:
    colors = 3 << ((data[10] & 7) + 1) if len(data) > 10 and data[10] & 128 else 0
    head = 13 + colors
    frame = b",\0\0\0\0\xff\xff\xff\xff\0\x02\x02\x4c\x01\0"
    parts = (
        b"!\xfe\x02hi\0" * size,
        b"!\xfe" + (b"\xff" + bytes(255)) * min(size, 900) + b"\0",
        frame * (size % 300),
        b"!\xf9\x04\x0f\0\0\xff\0" * size,
    )
    return data[:head] + parts[sort % len(parts)] + data[head:]


def _tiff_bomb(data: bytes, size: int, sort: int) -> bytes:
    order = "<" if data[:2] == b"II" else ">"
    tag = (270, 700, 34377, 34675, 33723, 320, 330, 34665, 273, 347)[sort % 10]
    entry = struct.pack(order + "HHII", tag, (1, 2, 3, 4, 7)[size % 5], size * 1000, 8)
    many = min(size, 2000)
    directory = struct.pack(order + "H", many) + entry * many + struct.pack(order + "I", 8)
    if sort % 3 == 0 and len(data) > 8:  # a directory of its own that leads to the true one
        start = len(data) + len(data) % 2
        directory = directory[:-4] + data[4:8]
        return data[:4] + struct.pack(order + "I", start) + data[8:] + bytes(
            start - len(data)
        ) + directory  # fmt: skip
    return data + directory


def _webp_bomb(data: bytes, size: int) -> bytes:
    chunk = b"EXIF" + struct.pack("<I", 2 * size) + bytes(2 * size)
    return data[:12] + chunk + data[12:]


def _text_bomb(data: bytes, size: int, sort: int) -> bytes:
    """What has hurt readers of drawings: nesting, entities, loops of references, huge repeats."""
    parts = (
        b"<g>" * size,
        b"<use href='#u'/>" * size,
        b"<g id='u'><use href='#u'/></g>",
        b"<!DOCTYPE x [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>]>",
        b"<image href='file:///etc/hostname' width='9' height='9'/>",
        b"<path d='M0 0" + b"l1e30 1e30" * size + b"'/>",
        b"<<" * size,
        b"[" * size,
        b"q " * size,
        b"/Kids[2 0 R]",
        b"/Filter[" + b"/FlateDecode" * (size % 100) + b"]",
        b"/MediaBox[0 0 1e9 1e9]",
    )
    end = max(data.rfind(b"</svg>"), data.find(b"Do Q"), data.find(b"/Kids"))
    at = end if end > 0 else len(data) // 2
    return data[:at] + parts[sort % len(parts)] + data[at:]


# --- PNG check sums ------------------------------------------------------------------------------


def mend_png(data: bytes) -> bytes:
    """The same chunks with right check sums, as far as their lengths can be followed."""
    out, at = [data[:8]], 8
    while at + 12 <= len(data):
        length = struct.unpack_from(">I", data, at)[0]
        if at + 12 + length > len(data):
            break
        out.append(png_chunk(data[at + 4 : at + 8], data[at + 8 : at + 8 + length]))
        at += 12 + length
    return b"".join(out) + data[at:]


EDITS: dict[str, Callable[..., bytes]] = {
    "cut": _cut,
    "zero tail": _zero_tail,
    "long zero tail": _long_zero_tail,
    "flip": _flip,
    "number": _number,
    "without": _without,
    "twice": _twice,
    "junk": _junk,
    "splice": _splice,
    "inside": _inside,
    "lie": _lie,
    "bomb": _bomb,
}

_where = st.integers(0, _PARTS)
_other = st.sampled_from(NAMES)
_flips = st.tuples(st.just("flip"), _where, st.integers(0, 7), st.booleans())
_numbers = st.tuples(
    st.just("number"),
    _where,
    st.sampled_from(["B", "<H", ">H", "<I", ">I"]),
    st.sampled_from(_LIES),
    st.booleans(),
)
_lies = st.tuples(
    st.just("lie"),
    st.integers(0, 300),
    st.sampled_from(_LIES),
    st.sampled_from([0, 0, 0, 1, -1, 2, 255, -300]),
)
_edit = st.one_of(
    st.tuples(st.just("cut"), _where),
    st.tuples(st.just("zero tail"), _where),
    st.tuples(st.just("long zero tail"), _where, st.integers(1, 40)),
    _flips,
    _flips,
    _numbers,
    _numbers,
    st.tuples(st.just("without"), _where, st.integers(1, 300)),
    st.tuples(st.just("twice"), _where, st.integers(1, 64), st.integers(2, 40)),
    st.tuples(st.just("junk"), _where, st.binary(max_size=60)),
    st.tuples(st.just("splice"), _where, _other, _where),
    st.tuples(st.just("inside"), _where, _other),
    _lies,
    _lies,
    _lies,
    st.tuples(st.just("bomb"), st.integers(1, 3000), st.integers(0, 20)),
)


def recipes(kind: str | None = None) -> st.SearchStrategy[Recipe]:
    """Spoiled files of one kind, or of all."""
    names = [name for name in NAMES if kind in (None, name[0])]
    edits = st.one_of(
        st.tuples(_edit), st.tuples(_edit), st.lists(_edit, min_size=1, max_size=4).map(tuple)
    )
    return st.builds(
        lambda name, edits, mend: Recipe(*name, edits, mend),
        st.sampled_from(names),
        edits,
        st.booleans(),
    )
