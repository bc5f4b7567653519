"""What a file really is, told by its first bytes; its name decides nothing.

Eleven kinds are read, some of them only with the libraries of filmhand[art]. Everything else that
people do drop is recognized well enough to tell them what to do, and no parser ever sees it.
"""

from __future__ import annotations

import re
from pathlib import PurePath

from filmhand.errors import Reason, Refused
from filmhand.rows import RowEnum

HEAD_BYTES = 4096


_SAVE = "Save or export it as PNG, TIFF or JPEG and drop that."
_ANY = "Drop a picture instead, such as JPEG, PNG, TIFF, PDF or SVG."


class FileType(RowEnum):
    """What the content of a file is.

    Attributes
    ----------
    suffixes : of the names of files that are read; none where they are not
    what, do : for the refusal of the others: what the file is, and what helps
    """

    suffixes: tuple[str, ...]
    what: str
    do: str

    JPEG = "JPEG", (".jpg", ".jpeg", ".jpe", ".jfif", ".mpo"), "", ""
    PNG = "PNG", (".png", ".apng"), "", ""
    TIFF = "TIFF", (".tif", ".tiff"), "", ""
    WEBP = "WEBP", (".webp",), "", ""
    BMP = "BMP", (".bmp", ".dib"), "", ""
    GIF = "GIF", (".gif",), "", ""
    HEIC = "HEIC", (".heic", ".heif", ".hif", ".heics"), "", ""
    AVIF = "AVIF", (".avif", ".avifs"), "", ""
    SVG = "SVG", (".svg",), "", ""
    PDF = "PDF", (".pdf", ".ai"), "", ""
    LAYERED = "layered", (".psd", ".psb"), "", ""
    POSTSCRIPT = (
        "PostScript",
        (),
        "a PostScript file",
        "Save it as PDF, or export it as PNG or TIFF at 300 ppi or more, and drop that.",
    )
    RAW = (
        "camera raw",
        (),
        "a camera's raw file",
        "Develop it in the program that came with the camera, save it as JPEG or TIFF, "
        "and drop that.",
    )
    OTHER_PICTURE = "other picture", (), "a picture of a kind that is not read here", _SAVE
    OFFICE = (
        "office",
        (),
        "an office document",
        "Save the picture itself as PNG, TIFF or JPEG and drop that, not the document around it.",
    )
    ARCHIVE = "archive", (), "a packed archive", "Unpack it and drop the folder that comes out."
    VIDEO = "video", (), "a video", "Save a single frame as PNG or JPEG and drop that."
    SOUND = "sound", (), "a sound recording", _ANY
    TEXT = "text", (), "text", _ANY
    EMPTY = "empty", (), "", ""
    UNKNOWN = "unknown", (), "of no kind known here", _ANY


READABLE = frozenset(kind for kind in FileType if kind.suffixes)

_STARTS = {
    FileType.JPEG: (b"\xff\xd8\xff",),
    FileType.PNG: (b"\x89PNG\r\n\x1a\n",),
    FileType.GIF: (b"GIF87a", b"GIF89a"),
    FileType.LAYERED: (b"8BPS", b"8BPB"),
    FileType.POSTSCRIPT: (b"%!PS", b"\xc5\xd0\xd3\xc6"),
    FileType.RAW: (b"FUJIFILMCCD-RAW", b"IIRO", b"IIRS", b"MMOR", b"IIU\x00", b"FOVb"),
    FileType.OTHER_PICTURE: (
        b"\x00\x00\x00\x0cjP  \r\n\x87\n",
        b"\xff\x4f\xff\x51",
        b"\x00\x00\x00\x0cJXL \r\n\x87\n",
        b"\xff\x0a",
        b"\x00\x00\x01\x00",
        b"\x01\x00\x00\x00",
        b"\xd7\xcd\xc6\x9a",
    ),
    FileType.OFFICE: (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"{\\rtf"),
    FileType.ARCHIVE: (
        b"Rar!\x1a\x07",
        b"7z\xbc\xaf\x27\x1c",
        b"\x1f\x8b",
        b"BZh",
        b"\xfd7zXZ\x00",
        b"\x28\xb5\x2f\xfd",
    ),
    FileType.VIDEO: (b"\x1aE\xdf\xa3", b"\x00\x00\x01\xba", b"\x00\x00\x01\xb3"),
    FileType.SOUND: (b"OggS", b"ID3", b"fLaC"),
}
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
    found = _tiff(head) or _containers(head) or _documents(head)
    if found:
        return found
    for kind, starts in _STARTS.items():
        if head.startswith(starts):
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
    suffix = PurePath(name).suffix.lower()
    posing = any(suffix in other.suffixes for other in READABLE)
    really = "is named like a picture, but it is " if posing else "is "
    return Refused(Reason.NOT_ART, f"“{name}” {really}{kind.what}.", kind.do)


def mismatch_note(kind: FileType, *, name: str) -> str | None:
    """A sentence if the name promises another kind than the content is, else None."""
    suffix = PurePath(name).suffix.lower()
    if suffix in kind.suffixes or not suffix:
        return None
    return f"The name ends in {suffix}, but the content is {kind}; it was read as {kind}."
