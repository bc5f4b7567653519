"""The guarded door to the decoders: limits first, one format only, every fault a refusal.

Residual risk: the decoders are C code and a stranger's file may crash them. That is why this
runs in a process of its own; here only Python's exceptions are turned into sentences.
"""

from __future__ import annotations

import errno
import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from PIL import Image, UnidentifiedImageError, features

from filmhand.art.files import extras
from filmhand.art.files.completeness import completeness_of
from filmhand.art.files.file_types import (
    HEAD_BYTES,
    READABLE,
    FileType,
    mismatch_note,
    refusal,
    sniff,
)
from filmhand.art.files.file_words import (
    AdditionWord,
    DamageWord,
    FileNote,
    FileRefusal,
    UnreadWord,
)
from filmhand.art.files.jpeg_strips import comes_in_strips
from filmhand.art.files.tiff_structure import Directory, Structure, Tag, read_structure
from filmhand.art.formats.animations import webp_first_frames, webp_frames
from filmhand.art.formats.jpeg_markers import frame_of
from filmhand.art.formats.layered import LayeredFile, check_layered, read_layered
from filmhand.art.formats.png_chunks import PngChunk, is_moving, png_chunks, still_and_sound
from filmhand.errors import (
    EnvironmentTrouble,
    Quantity,
    Refused,
    has_too_many_megabytes,
    needs_too_much_memory,
)
from filmhand.profile.model import MOST_MEGAPIXELS, Limits
from filmhand.values import dataclass

# Numbers of the operating system that odd content can provoke (a seek to a nonsense place), and
# Pillow's errors, which have none; all others mean that the disk or the share failed.
_ERRNOS_OF_CONTENT = frozenset({errno.EINVAL, errno.EOVERFLOW, errno.EFBIG, errno.ERANGE, None})

# The decoder's own words where they differ.
_DECODERS = {FileType.JPEG_2000: ("JPEG2000",), FileType.ICO: ("ICO", "CUR")}

GRAY_BYTES = 2
"""Bytes a pixel of the gray that everything becomes."""
BESIDE_PIXELS = 320 * 2**20
"""About the bytes that a job takes beside the pixels of its art."""


@dataclass(slots=True)
class ExaminedFile:
    """A file that passed every test that needs no decoding.

    ``breaks_off`` tells of an animation that some frames of are missing, as its notes do.
    """

    path: Path
    name: str
    kind: FileType
    head: bytes
    structure: Structure | None
    notes: list[str]
    layered: LayeredFile | None = None
    document_pages: int = 1
    breaks_off: bool = False
    chunks: list[PngChunk] | None = None

    @property
    def pages(self) -> list[int]:
        """The decoder's frame number of each page."""
        return self.structure.pages if self.structure else list(range(self.document_pages))

    def directory(self, page: int) -> Directory | None:
        """A page's directory; None for everything but a TIFF."""
        return self.structure.directories[self.pages[page]] if self.structure else None


def damaged(name: str, why: DamageWord, **parts: object) -> Refused:
    """The refusal of a picture that breaks off or contradicts itself, with the word's parts."""
    return FileRefusal.DAMAGED.refused(name=name, why=why.say(**parts))


def _out_of_reach(name: str, fault: OSError) -> EnvironmentTrouble:
    return EnvironmentTrouble(UnreadWord.CANNOT_BE_READ.say(name=name, fault=fault.strerror))


def examine_file(path: Path, *, name: str, limits: Limits) -> ExaminedFile:
    """Sniffs the file, checks bytes, pages and its end. Raises Refused; decodes nothing.

    Raises EnvironmentTrouble where the file cannot be opened or read.
    """
    try:
        with path.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            head = file.read(HEAD_BYTES)
            kind = sniff(head)
            if kind not in READABLE:
                raise refusal(kind, name=name)
            if size / 1e6 > limits.megabytes:
                raise has_too_many_megabytes(f"“{name}”", size / 1e6, limits.megabytes)
            structure, layered = None, None
            if kind is FileType.LAYERED:
                layered = read_layered(file, size)
            if kind is FileType.TIFF:
                structure = read_structure(file, size, most=max(1000, limits.pages + 1))
                if structure.is_raw:
                    raise refusal(FileType.RAW, name=name)
                check_page_count(len(structure.pages), name=name, limits=limits)
        completeness = completeness_of(path)
    except OSError as fault:
        raise _out_of_reach(name, fault) from fault
    if not completeness.finished and completeness.hard:
        raise FileRefusal.DAMAGED.refused(name=name, why=completeness.why)
    if layered:
        check_layered(layered, name=name)
    pages = 1
    if kind is FileType.PDF:
        from filmhand.art.drawings.pdf import count_pdf_pages  # noqa: PLC0415 - most jobs need none of it

        with guarded(name, limits):
            pages = count_pdf_pages(path, name=name)
        check_page_count(pages, name=name, limits=limits)
    notes = []
    if not completeness.finished:
        notes.append(completeness.note)
    mismatch = mismatch_note(kind, name=name)
    if mismatch:
        notes.append(mismatch)
    broken = completeness.frames > 0
    return ExaminedFile(path, name, kind, head, structure, notes, layered, pages, broken)


def check_page_count(pages: int, *, name: str, limits: Limits) -> None:
    """Raises Refused (too-big) for more pages than the profile allows."""
    if pages > limits.pages:
        raise FileRefusal.TOO_MANY_PAGES.refused(
            name=name,
            pages=pages,
            allowed=limits.pages,
            some=f"1-{limits.pages}" if limits.pages > 1 else "1",
            found=Quantity(pages, "pages"),
            needed=Quantity(limits.pages, "pages"),
        )


def check_pixels(
    width: int,
    height: int,
    *,
    name: str,
    limits: Limits,
    refusal: FileRefusal = FileRefusal.TOO_MANY_PIXELS,
) -> None:
    """Raises Refused (too-big) for a picture of more pixels than the profile allows."""
    if width * height / 1e6 > limits.megapixels:
        found = -(-width * height // 100_000) / 10  # up, so that so many would be enough
        row = refusal if found <= MOST_MEGAPIXELS else FileRefusal.MORE_PIXELS_THAN_ANY
        raise row.refused(
            name=name,
            width=width,
            height=height,
            megapixels=f"{found:.1f}".removesuffix(".0"),
            allowed=f"{limits.megapixels:g}",
            most=f"{MOST_MEGAPIXELS:g}",
            found=Quantity(found, "megapixels"),
            needed=Quantity(limits.megapixels, "megapixels"),
        )


@contextmanager
def guarded(name: str, limits: Limits) -> Iterator[None]:
    """Turns all that a decoder raises into Refused or EnvironmentTrouble; for decoders only."""
    most = Image.MAX_IMAGE_PIXELS
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        Image.MAX_IMAGE_PIXELS = max(1, int(limits.megapixels * 1e6))
        try:
            yield
        except (Refused, EnvironmentTrouble):
            raise
        except MemoryError as fault:
            raise needs_too_much_memory(f"“{name}”", limits.memory) from fault
        except (Image.DecompressionBombWarning, Image.DecompressionBombError) as fault:
            raise _bomb(name, limits) from fault
        # Decoders trip over odd content in every way that Python knows.
        except Exception as fault:
            if isinstance(fault, OSError) and fault.errno not in _ERRNOS_OF_CONTENT:
                raise _out_of_reach(name, fault) from fault
            raise damaged(name, DamageWord.CONTRADICTORY) from fault
        finally:
            Image.MAX_IMAGE_PIXELS = most


def _bomb(name: str, limits: Limits) -> Refused:
    return FileRefusal.UNPACKS_TOO_LARGE.refused(
        name=name,
        allowed=f"{limits.megapixels:g}",
        found=Quantity(FileNote.OVER.say(allowed=f"{limits.megapixels:g}"), "megapixels"),
        needed=Quantity(limits.megapixels, "megapixels"),
    )


def unread_kind(art: ExaminedFile) -> Refused:
    """The refusal of a sound picture of a sort of its kind that is not read."""
    return FileRefusal.UNREAD_SORT.refused(name=art.name, kind=art.kind)


def chunks_of(art: ExaminedFile, file: BinaryIO) -> list[PngChunk]:
    """The chunks of a PNG, whose sums are taken once."""
    if art.chunks is None:
        art.chunks = list(png_chunks(file, os.fstat(file.fileno()).st_size))
    return art.chunks


def _mended(art: ExaminedFile, file: BinaryIO) -> BinaryIO:
    """The file as the decoder is to see it: what of it is whole.

    Of a WebP animation that breaks off these are the first frames, of a PNG all but further frames
    and broken chunks that do not matter to its pixels.
    """
    size = os.fstat(file.fileno()).st_size
    if art.kind is FileType.WEBP:
        frames, behind = webp_frames(file, size)
        if not frames.ended and frames.whole:
            return BytesIO(webp_first_frames(file, behind))
    if art.kind is FileType.PNG:
        chunks = chunks_of(art, file)
        if is_moving(chunks) or any(not (one.is_right or one.is_needed) for one in chunks):
            return BytesIO(still_and_sound(file, chunks))
    file.seek(0)
    return file


def unread_tiff(name: str) -> Refused:
    """The directories are sound (that was examined), so it is the pixels that are unheard of."""
    from filmhand.art.files.deep_color import library  # noqa: PLC0415 - which imports this

    if library():
        return FileRefusal.UNREAD_TIFF.refused(name=name)
    return FileRefusal.UNREAD_TIFF_WITHOUT_ADDITION.refused(name=name, command=extras.ART_EXTRA)


@contextmanager
def decoded(art: ExaminedFile, *, page: int, limits: Limits) -> Iterator[Image.Image]:
    """The decoded page as a Pillow image; the size is checked from the header first.

    Its pixels are still to be read where they come in strips
    (:mod:`filmhand.art.files.jpeg_strips`).
    """
    with art.path.open("rb") as file:
        with guarded(art.name, limits):
            check_header_pixels(art, page=page, limits=limits)
            try:
                image = Image.open(_mended(art, file), formats=_decoders(art))
            except UnidentifiedImageError as fault:
                if art.kind is FileType.TIFF:
                    raise unread_tiff(art.name) from fault
                raise
            except (OSError, NotImplementedError) as fault:
                if _says_unsupported(fault):
                    raise unread_kind(art) from fault
                raise
            frame = art.pages[page]
            if frame:
                image.seek(frame)
            check_pixels(*image.size, name=art.name, limits=limits)
            check_memory(art, image.width * image.height, _bytes_a_pixel(art, image), limits)
            if not comes_in_strips(image):
                image.load()
        with image:
            yield image


def check_memory(art: ExaminedFile, pixels: int, bytes_a_pixel: float, limits: Limits) -> None:
    """Raises Refused (too-big), with numbers, where that many bytes a pixel are too many.

    Some decoders only say that they failed where they get no memory, as of a damaged file.
    """
    needed = int(pixels * bytes_a_pixel) + BESIDE_PIXELS
    if needed > limits.memory:
        fitting = int((limits.memory - BESIDE_PIXELS) / bytes_a_pixel)
        raise needs_too_much_memory(
            f"“{art.name}”", limits.memory, pixels=pixels, needed=needed, fitting=fitting
        )


def _bytes_a_pixel(art: ExaminedFile, image: Image.Image) -> float:
    """What the decoded picture and its gray take together, and what the decoder takes meanwhile."""
    if art.kind in (FileType.HEIC, FileType.AVIF):
        return 12
    own = {"1": 1, "L": 1, "P": 1, "I;16": 2, "I;16B": 2, "LA": 4}.get(image.mode, 4)
    return own + GRAY_BYTES + (coefficient_bytes(art) if art.kind is FileType.JPEG else 0)


def coefficient_bytes(art: ExaminedFile) -> float:
    """Bytes a pixel that the decoder keeps of a JPEG of several scans, until the last is read."""
    with art.path.open("rb") as file:
        frame = frame_of(file, os.fstat(file.fileno()).st_size)
    return frame.kept_bytes if frame else 0.0


def _says_unsupported(fault: Exception) -> bool:
    """What a decoder knows and still does not support is no damage."""
    return isinstance(fault, NotImplementedError) or str(fault).startswith("Unsupported")


def _decoders(art: ExaminedFile) -> tuple[str, ...]:
    """The decoder's own words for the kind; HEIC is added to them when first asked for."""
    if art.kind is FileType.HEIC:
        extras.load("pillow_heif", name=art.name, what=AdditionWord.HEIC).register_heif_opener()
        return ("HEIF",)
    if art.kind is FileType.AVIF and not features.check("avif"):
        raise extras.missing(name=art.name, what=AdditionWord.AVIF)
    if art.kind is FileType.TIFF:
        _know_both_orders()
    return _DECODERS.get(art.kind, (art.kind.value,))


def _know_both_orders() -> None:
    """Have the decoder read gray of 16 bits with white as zero in either byte order.

    It knows one only. It does not turn it round in either; the caller does.
    """
    from PIL import TiffImagePlugin as Tiff  # noqa: PLC0415 - other art needs none of it

    Tiff.OPEN_INFO.setdefault((Tiff.MM, 0, (1,), 1, (16,), ()), ("I;16B", "I;16B"))


def check_header_pixels(art: ExaminedFile, *, page: int, limits: Limits) -> None:
    """Sizes that stand at a fixed place, so that the sentence can tell the numbers."""
    head = art.head
    size: tuple[int, int] | None = None
    if art.kind is FileType.PNG:
        size = int.from_bytes(head[16:20], "big"), int.from_bytes(head[20:24], "big")
    elif art.kind is FileType.GIF:
        size = int.from_bytes(head[6:8], "little"), int.from_bytes(head[8:10], "little")
    elif art.kind is FileType.BMP and head[14] != 12:
        height = abs(int.from_bytes(head[22:26], "little", signed=True))
        size = int.from_bytes(head[18:22], "little"), height
    elif art.kind is FileType.WEBP:
        size = _webp_size(head)
        if size:  # its decoder holds three pictures of four bytes a pixel
            check_pixels(*size, name=art.name, limits=limits)
            check_memory(art, size[0] * size[1], 12, limits)
    elif art.layered:
        size = art.layered.width, art.layered.height
    elif directory := art.directory(page):
        size = directory.one(Tag.WIDTH, 0), directory.one(Tag.LENGTH, 0)
    if size:
        check_pixels(*size, name=art.name, limits=limits)


def _webp_size(head: bytes) -> tuple[int, int] | None:
    """Width and height from the first chunk of a WebP file (RFC 9649, 2.5 to 2.7)."""
    if head[12:16] == b"VP8X":
        across, down = head[24:27], head[27:30]
        return 1 + int.from_bytes(across, "little"), 1 + int.from_bytes(down, "little")
    if head[12:16] == b"VP8L" and head[20:21] == b"\x2f":
        bits = int.from_bytes(head[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    if head[12:16] == b"VP8 " and head[23:26] == b"\x9d\x01\x2a":
        across, down = head[26:28], head[28:30]
        return int.from_bytes(across, "little") & 0x3FFF, int.from_bytes(down, "little") & 0x3FFF
    return None
