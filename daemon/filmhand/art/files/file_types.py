"""What a file really is, told by its first bytes; its name decides nothing.

Eleven kinds are read, some of them only with the libraries of filmhand[art]. Everything else that
people do drop is recognized well enough to tell them what to do, and no parser ever sees it.
"""

from __future__ import annotations

import re
from enum import StrEnum
from pathlib import PurePath

from filmhand.errors import Reason, Refused

HEAD_BYTES = 4096


class FileType(StrEnum):
    """What the content of a file is."""

    JPEG = "JPEG"
    PNG = "PNG"
    TIFF = "TIFF"
    WEBP = "WEBP"
    BMP = "BMP"
    GIF = "GIF"
    HEIC = "HEIC"
    AVIF = "AVIF"
    SVG = "SVG"
    PDF = "PDF"
    POSTSCRIPT = "PostScript"
    RAW = "camera raw"
    LAYERED = "layered"
    OTHER_PICTURE = "other picture"
    OFFICE = "office"
    ARCHIVE = "archive"
    VIDEO = "video"
    SOUND = "sound"
    TEXT = "text"
    EMPTY = "empty"
    UNKNOWN = "unknown"


SUFFIXES_OF_TYPES: dict[FileType, frozenset[str]] = {
    FileType.JPEG: frozenset({".jpg", ".jpeg", ".jpe", ".jfif", ".mpo"}),
    FileType.PNG: frozenset({".png", ".apng"}),
    FileType.TIFF: frozenset({".tif", ".tiff"}),
    FileType.WEBP: frozenset({".webp"}),
    FileType.BMP: frozenset({".bmp", ".dib"}),
    FileType.GIF: frozenset({".gif"}),
    FileType.AVIF: frozenset({".avif", ".avifs"}),
    FileType.HEIC: frozenset({".heic", ".heif", ".hif", ".heics"}),
    FileType.LAYERED: frozenset({".psd", ".psb"}),
    FileType.SVG: frozenset({".svg"}),
    FileType.PDF: frozenset({".pdf", ".ai"}),
}
READABLE = frozenset(SUFFIXES_OF_TYPES)

_STARTS: tuple[tuple[bytes, FileType], ...] = (
    (b"\xff\xd8\xff", FileType.JPEG),
    (b"\x89PNG\r\n\x1a\n", FileType.PNG),
    (b"GIF87a", FileType.GIF),
    (b"GIF89a", FileType.GIF),
    (b"8BPS", FileType.LAYERED),
    (b"8BPB", FileType.LAYERED),
    (b"%!PS", FileType.POSTSCRIPT),
    (b"\xc5\xd0\xd3\xc6", FileType.POSTSCRIPT),
    (b"FUJIFILMCCD-RAW", FileType.RAW),
    (b"IIRO", FileType.RAW),
    (b"IIRS", FileType.RAW),
    (b"MMOR", FileType.RAW),
    (b"IIU\x00", FileType.RAW),
    (b"FOVb", FileType.RAW),
    (b"\x00\x00\x00\x0cjP  \r\n\x87\n", FileType.OTHER_PICTURE),
    (b"\xff\x4f\xff\x51", FileType.OTHER_PICTURE),
    (b"\x00\x00\x00\x0cJXL \r\n\x87\n", FileType.OTHER_PICTURE),
    (b"\xff\x0a", FileType.OTHER_PICTURE),
    (b"\x00\x00\x01\x00", FileType.OTHER_PICTURE),
    (b"\x01\x00\x00\x00", FileType.OTHER_PICTURE),
    (b"\xd7\xcd\xc6\x9a", FileType.OTHER_PICTURE),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", FileType.OFFICE),
    (b"{\\rtf", FileType.OFFICE),
    (b"Rar!\x1a\x07", FileType.ARCHIVE),
    (b"7z\xbc\xaf\x27\x1c", FileType.ARCHIVE),
    (b"\x1f\x8b", FileType.ARCHIVE),
    (b"BZh", FileType.ARCHIVE),
    (b"\xfd7zXZ\x00", FileType.ARCHIVE),
    (b"\x28\xb5\x2f\xfd", FileType.ARCHIVE),
    (b"\x1aE\xdf\xa3", FileType.VIDEO),
    (b"\x00\x00\x01\xba", FileType.VIDEO),
    (b"\x00\x00\x01\xb3", FileType.VIDEO),
    (b"OggS", FileType.SOUND),
    (b"ID3", FileType.SOUND),
    (b"fLaC", FileType.SOUND),
)
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_BITMAP_HEADERS = (12, 40, 52, 56, 64, 108, 124)  # sizes
_OFFICE_PARTS = (b"word/", b"ppt/", b"xl/", b"[Content_Types].xml", b"mimetypeapplication/vnd.")


def sniff(head: bytes) -> FileType:
    """What the content is, from the first bytes of a file (some 4 KiB are enough).

    >>> sniff(b"\\xff\\xd8\\xff\\xe0").value, sniff(b"").value, sniff(b"Hello, shop").value
    ('JPEG', 'empty', 'text')
    """
    if not head:
        return FileType.EMPTY
    for test in (_tiff, _containers, _documents):
        kind = test(head)
        if kind:
            return kind
    for start, kind in _STARTS:
        if head.startswith(start):
            return kind
    return FileType.TEXT if _looks_like_text(head) else FileType.UNKNOWN


def _tiff(head: bytes) -> FileType | None:
    if head[:4] in (b"II\x2a\x00", b"MM\x00\x2a"):
        return FileType.RAW if head[8:10] == b"CR" else FileType.TIFF
    return FileType.TIFF if head[:4] in (b"II\x2b\x00", b"MM\x00\x2b") else None


def _containers(head: bytes) -> FileType | None:
    if head[:4] == b"RIFF":
        return {b"WEBP": FileType.WEBP, b"WAVE": FileType.SOUND}.get(head[8:12], FileType.VIDEO)
    if head[:4] == b"PK\x03\x04":
        return FileType.OFFICE if any(part in head for part in _OFFICE_PARTS) else FileType.ARCHIVE
    if head[4:8] == b"ftyp":
        return _boxed(head)
    # A bitmap says BM, then its size, four reserved bytes and the size of its second header;
    # the last of these keeps a letter that begins "BM…" out.
    if head[:2] == b"BM" and int.from_bytes(head[14:18], "little") in _BITMAP_HEADERS:
        return FileType.BMP
    return None


def _boxed(head: bytes) -> FileType:
    """The kinds that begin with an ftyp box (ISO/IEC 14496-12, 4.3), told by their brands."""
    size = int.from_bytes(head[:4], "big")
    brands = head[8 : max(12, min(size, 256))]
    if b"avif" in brands or b"avis" in brands:
        return FileType.AVIF
    if brands[:3] == b"crx":
        return FileType.RAW
    return FileType.HEIC if any(brand in brands for brand in _HEIC_BRANDS) else FileType.VIDEO


def _documents(head: bytes) -> FileType | None:
    # ISO 32000 lets the header stand anywhere in the first 1024 bytes; vector files of other
    # names often are PDF inside.
    if b"%PDF-" in head[:1024]:
        return FileType.PDF
    plain = head.replace(b"\0", b"") if head[:2] in (b"\xff\xfe", b"\xfe\xff") else head
    if re.search(rb"<([\w.-]+:)?svg[\s>]", plain) and _looks_like_text(head):
        return FileType.SVG
    return None


def _looks_like_text(head: bytes) -> bool:
    """True for text in any common encoding, with or without a byte order mark."""
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return True
    return not any(byte < 32 and byte not in (9, 10, 12, 13, 27) for byte in head)


_SAVE = "Save or export it as PNG, TIFF or JPEG and drop that."
_ANY = "Drop a picture instead, such as JPEG, PNG, TIFF, PDF or SVG."
_ADVICE: dict[FileType, tuple[str, str]] = {
    FileType.POSTSCRIPT: (
        "a PostScript file",
        "Save it as PDF, or export it as PNG or TIFF at 300 ppi or more, and drop that.",
    ),
    FileType.RAW: (
        "a camera's raw file",
        "Develop it in the program that came with the camera, save it as JPEG or TIFF, "
        "and drop that.",
    ),
    FileType.OTHER_PICTURE: ("a picture of a kind that is not read here", _SAVE),
    FileType.OFFICE: (
        "an office document",
        "Save the picture itself as PNG, TIFF or JPEG and drop that, not the document around it.",
    ),
    FileType.ARCHIVE: ("a packed archive", "Unpack it and drop the folder that comes out."),
    FileType.VIDEO: ("a video", "Save a single frame as PNG or JPEG and drop that."),
    FileType.SOUND: ("a sound recording", _ANY),
    FileType.TEXT: ("text", _ANY),
    FileType.UNKNOWN: ("of no kind known here", _ANY),
}


def refusal(kind: FileType, *, name: str) -> Refused:
    """The refusal for a kind that is not read, with a plain sentence of what to do.

    Raises
    ------
    ValueError
        For a kind that is read.
    """
    if kind in READABLE:
        raise ValueError(f"{kind} is read and needs no refusal")
    if kind is FileType.EMPTY:
        return Refused(
            Reason.DAMAGED,
            f"“{name}” is empty: it holds no bytes at all.",
            "Copy or save it again; the first copy seems to have failed.",
        )
    what, advice = _ADVICE[kind]
    suffix = PurePath(name).suffix.lower()
    posing = any(suffix in suffixes for suffixes in SUFFIXES_OF_TYPES.values())
    really = "is named like a picture, but it is " if posing else "is "
    return Refused(Reason.NOT_ART, f"“{name}” {really}{what}.", advice)


def mismatch_note(kind: FileType, *, name: str) -> str | None:
    """A sentence if the name promises another kind than the content is, else None."""
    suffix = PurePath(name).suffix.lower()
    if suffix in SUFFIXES_OF_TYPES[kind] or not suffix:
        return None
    return f"The name ends in {suffix}, but the content is {kind}; it was read as {kind}."
