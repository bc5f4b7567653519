"""What a file really is, told by its first bytes; its name decides nothing.

Some kinds are read only with the libraries of filmhand[art]. Everything else that people do drop
is recognized well enough to tell them what to do, and no parser ever sees it.
"""

from __future__ import annotations

import re
import zlib
from pathlib import PurePath

from filmhand.art.files.file_words import FileNote, FileRefusal, UnreadWord
from filmhand.errors import Reason, Refused
from filmhand.rows import RowEnum

HEAD_BYTES = 4096


class FileType(RowEnum):
    """What the content of a file is.

    Attributes
    ----------
    suffixes : of the names of files that are read; none where they are not
    what, do : for the refusal of the others: what the file is, and what helps
    """

    suffixes: tuple[str, ...]
    what: UnreadWord | None
    do: UnreadWord | None

    JPEG = "JPEG", (".jpg", ".jpeg", ".jpe", ".jfif", ".mpo"), None, None
    PNG = "PNG", (".png", ".apng"), None, None
    TIFF = "TIFF", (".tif", ".tiff"), None, None
    WEBP = "WEBP", (".webp",), None, None
    BMP = "BMP", (".bmp", ".dib"), None, None
    DIB = "DIB", (".dib", ".bmp"), None, None
    GIF = "GIF", (".gif",), None, None
    HEIC = "HEIC", (".heic", ".heif", ".hif", ".heics"), None, None
    AVIF = "AVIF", (".avif", ".avifs"), None, None
    JPEG_2000 = "JPEG 2000", (".jp2", ".j2k", ".j2c", ".jpc", ".jpf", ".jpx", ".jph"), None, None
    JPEG_XL = "JPEG XL", (".jxl",), None, None
    NETPBM = "Netpbm", (".ppm", ".pgm", ".pbm", ".pnm", ".pam", ".pfm"), None, None
    TGA = "TGA", (".tga", ".vda", ".icb", ".vst"), None, None
    PCX = "PCX", (".pcx",), None, None
    ICO = "ICO", (".ico", ".cur"), None, None
    DDS = "DDS", (".dds",), None, None
    SVG = "SVG", (".svg", ".svgz"), None, None
    PDF = "PDF", (".pdf", ".ai"), None, None
    LAYERED = "layered", (".psd", ".psb"), None, None
    POSTSCRIPT = "PostScript", (), UnreadWord.POSTSCRIPT, UnreadWord.SAVE_AS_PDF
    RAW = "camera raw", (), UnreadWord.RAW, UnreadWord.DEVELOP
    OTHER_PICTURE = "other picture", (), UnreadWord.OTHER_PICTURE, UnreadWord.SAVE_AS_PICTURE
    OFFICE = "office", (), UnreadWord.OFFICE, UnreadWord.SAVE_PICTURE_ALONE
    ARCHIVE = "archive", (), UnreadWord.ARCHIVE, UnreadWord.UNPACK
    VIDEO = "video", (), UnreadWord.VIDEO, UnreadWord.SAVE_A_FRAME
    SOUND = "sound", (), UnreadWord.SOUND, UnreadWord.DROP_A_PICTURE
    TEXT = "text", (), UnreadWord.TEXT, UnreadWord.DROP_A_PICTURE
    EMPTY = "empty", (), None, None
    UNKNOWN = "unknown", (), UnreadWord.UNKNOWN, UnreadWord.DROP_A_PICTURE


READABLE = frozenset(kind for kind in FileType if kind.suffixes)

_STARTS = {
    FileType.JPEG: (b"\xff\xd8\xff",),
    FileType.PNG: (b"\x89PNG\r\n\x1a\n",),
    FileType.GIF: (b"GIF87a", b"GIF89a"),
    FileType.LAYERED: (b"8BPS", b"8BPB"),
    FileType.POSTSCRIPT: (b"%!PS", b"\xc5\xd0\xd3\xc6"),
    FileType.RAW: (b"FUJIFILMCCD-RAW", b"IIRO", b"IIRS", b"MMOR", b"IIU\x00", b"FOVb"),
    FileType.JPEG_2000: (b"\x00\x00\x00\x0cjP  \r\n\x87\n", b"\xff\x4f\xff\x51"),
    FileType.JPEG_XL: (b"\x00\x00\x00\x0cJXL \r\n\x87\n", b"\xff\x0a"),
    FileType.DDS: (b"DDS \x7c\x00\x00\x00",),
    # Drawings and bitmaps of windows, then RGBE, OpenEXR, JPEG XR, DjVu, FITS, JBIG2, MNG and JNG,
    # XPM, QOI, and of workstations.
    FileType.OTHER_PICTURE: (
        b"\x01\x00\x00\x00",
        b"\xd7\xcd\xc6\x9a",
        b"#?RADIANCE",
        b"#?RGBE",
        b"\x76\x2f\x31\x01",
        b"II\xbc\x01",
        b"AT&TFORM",
        b"SIMPLE  =",
        b"\x97JB2\r\n\x1a\n",
        b"\x8aMNG\r\n\x1a\n",
        b"\x8bJNG\r\n\x1a\n",
        b"/* XPM */",
        b"qoif",
        b"\x01\xda\x00",
        b"\x01\xda\x01",
        b"\x59\xa6\x6a\x95",
        b"icns",
        b"BPG\xfb",
        b"FLIF",
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
# What begins so is that, also where the mark of a document follows, as in a comment.
_SURE = frozenset(
    {
        *(FileType.JPEG, FileType.PNG, FileType.GIF, FileType.LAYERED, FileType.JPEG_2000),
        *(FileType.JPEG_XL, FileType.DDS),
    }
)
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
# P1 to P6 and fractions (Pf, PF) with width and height behind comments; P7 with its words.
_BETWEEN = rb"\s(?:\s|#[^\n]{0,999}\n)*"
_NETPBM = re.compile(
    rb"P[1-6Ff]" + _BETWEEN + rb"\d{1,7}" + _BETWEEN + rb"\d{1,7}\s"
    rb"|P7\s+(?:#|WIDTH|HEIGHT|DEPTH|MAXVAL|TUPLTYPE)"
)
_XBM = re.compile(rb"#define\s+\w*_?width\s+\d+\s+#define\s+\w*_?height\s+\d+")
_BITMAP_HEADERS = (12, 40, 52, 56, 64, 108, 124)  # sizes
_OFFICE_PARTS = (b"word/", b"ppt/", b"xl/", b"[Content_Types].xml", b"mimetypeapplication/vnd.")


def sniff(head: bytes) -> FileType:
    """What the content is, from the first bytes of a file (some 4 KiB are enough).

    >>> sniff(b"\\xff\\xd8\\xff\\xe0").value, sniff(b"").value, sniff(b"Hello, shop").value
    ('JPEG', 'empty', 'text')
    """
    if not head:
        return FileType.EMPTY
    started = next((kind for kind, starts in _STARTS.items() if head.startswith(starts)), None)
    if started in _SURE:
        return started
    found = _tiff(head) or _containers(head) or _documents(head) or started
    if found:
        return found
    return _by_fields(head) or (FileType.TEXT if _looks_like_text(head) else FileType.UNKNOWN)


def _by_fields(head: bytes) -> FileType | None:
    """Kinds whose beginning is told by several fields that have to fit one another."""
    if _NETPBM.match(head) or _XBM.match(head):
        return FileType.NETPBM if head[:1] == b"P" else FileType.OTHER_PICTURE
    # A count of pictures follows; a TGA that begins alike has a zero there.
    if head[:4] in (b"\x00\x00\x01\x00", b"\x00\x00\x02\x00") and any(head[4:6]):
        return FileType.ICO
    if len(head) < 18:
        return None
    little = [int.from_bytes(head[at : at + 2], "little") for at in range(0, 18, 2)]
    if head[0] == 10 and head[1] in (0, 2, 3, 4, 5) and head[2] <= 1 and head[3] in (1, 2, 4, 8):
        return FileType.PCX if little[2] <= little[4] and little[3] <= little[5] else None
    # A bitmap without its first header: the second one's size, one plane, and bits a pixel.
    if head[1:4] == bytes(3) and head[0] in _BITMAP_HEADERS:
        planes, bits = (little[4], little[5]) if head[0] == 12 else (little[6], little[7])
        return FileType.DIB if planes == 1 and bits in (1, 2, 4, 8, 16, 24, 32) else None
    return FileType.TGA if _is_targa(head) else None


def _is_targa(head: bytes) -> bool:
    """Whether all fields of a TGA header fit one another; it has no mark at its beginning."""
    has_map, packing = head[1], head[2]
    map_length, map_bits = int.from_bytes(head[5:7], "little"), head[7]
    width, height = int.from_bytes(head[12:14], "little"), int.from_bytes(head[14:16], "little")
    bits, opacity = head[16], head[17] & 15
    if not width or not height or head[17] & 0xC0 or opacity > 8:
        return False
    if packing in (1, 9):
        return has_map == 1 and 0 < map_length <= 256 and map_bits in (15, 16, 24, 32) and bits == 8
    if has_map or any(head[3:8]):
        return False
    if packing in (3, 11):
        return bits in (1, 8, 16)
    return packing in (2, 10) and bits in (15, 16, 24, 32)


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
    if head[:3] == b"\x1f\x8b\x08":
        head = unpacked_head(head)
    plain = head.replace(b"\0", b"") if head[:2] in (b"\xff\xfe", b"\xfe\xff") else head
    if re.search(rb"<([\w.-]+:)?svg[\s>]", plain) and _looks_like_text(head):
        return FileType.SVG
    return None


def unpacked_head(head: bytes) -> bytes:
    """The first bytes of what is packed by gzip (RFC 1952); empty where that breaks off."""
    try:
        return zlib.decompressobj(31).decompress(head, HEAD_BYTES)
    except zlib.error:
        return b""


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
    if kind is FileType.EMPTY:
        return FileRefusal.EMPTY.refused(name=name)
    if kind.what is None or kind.do is None:
        raise ValueError(f"{kind} is read and needs no refusal")
    suffix = PurePath(name).suffix.lower()
    poses = any(suffix in other.suffixes for other in READABLE)
    say = UnreadWord.POSES if poses else UnreadWord.IS
    return Refused(Reason.NOT_ART, say.say(name=name, what=kind.what.say()), kind.do.say())


def mismatch_note(kind: FileType, *, name: str) -> str | None:
    """A sentence if the name promises another kind than the content is, else None."""
    suffix = PurePath(name).suffix.lower()
    if suffix in kind.suffixes or not suffix:
        return None
    if kind is FileType.LAYERED:
        return FileNote.OTHER_KIND_LAYERED.say(suffix=suffix)
    return FileNote.OTHER_KIND.say(suffix=suffix, kind=kind)
