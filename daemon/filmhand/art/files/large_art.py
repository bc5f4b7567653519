"""Art of so many pixels that the base reader, which holds all of it, would need too much memory.

The library for deep color reads it strip by strip instead.
"""

from __future__ import annotations

from filmhand.art.files.decode import BESIDE_PIXELS, GRAY_BYTES, ExaminedFile, coefficient_bytes
from filmhand.art.files.file_types import FileType
from filmhand.art.files.tiff_structure import Directory, Tag
from filmhand.art.formats.jpeg_markers import frame_of
from filmhand.profile.model import Limits
from filmhand.values import dataclass

_BASE_BYTES = 4  # of a pixel with color, in the base reader
_STREAM_BYTES = 160 * 2**20  # what the library takes for its strips
_SHRINKS = (1, 2, 4, 8)
_PNG_COLORS = {2: (3, False), 4: (1, True), 6: (3, True)}


@dataclass(slots=True)
class PixelChannels:
    """How the pixels lie: color channels, opacity behind them, and what the numbers mean."""

    colors: int
    opacity: bool
    fractions: bool = False
    white_is_zero: bool = False
    lab: bool = False


def layout_of_large(
    art: ExaminedFile, directory: Directory | None, limits: Limits
) -> tuple[PixelChannels | None, int]:
    """The layout of large color of eight bits, and by how much it is shrunk while it is decoded.

    None for art that the base reader has memory for, and for kinds that cannot be read in strips.
    """
    found = _size_and_layout(art, directory)
    if found is None:
        return None, 1
    pixels, layout = found
    kept = coefficient_bytes(art) if art.kind is FileType.JPEG else 0.0
    if pixels * (_BASE_BYTES + GRAY_BYTES + kept) + BESIDE_PIXELS <= limits.memory:
        return None, 1
    left = limits.memory - BESIDE_PIXELS - _STREAM_BYTES - pixels * kept
    shrinks = _SHRINKS if kept else (1,)  # else strips are all that it takes
    fitting = [one for one in shrinks if pixels * GRAY_BYTES / one**2 <= left]
    return (layout, fitting[0]) if fitting else (None, 1)


def _size_and_layout(
    art: ExaminedFile, directory: Directory | None
) -> tuple[int, PixelChannels] | None:
    head = art.head
    if art.kind is FileType.PNG and len(head) > 28 and head[24] == 8 and not head[28]:
        colors = _PNG_COLORS.get(head[25])
        size = int.from_bytes(head[16:20], "big") * int.from_bytes(head[20:24], "big")
        return (size, PixelChannels(*colors)) if colors else None
    if art.kind is FileType.JPEG:
        with art.path.open("rb") as file:
            frame = frame_of(file, art.path.stat().st_size)
        if frame is None or frame.channels not in (1, 3):
            return None
        return frame.width * frame.height, PixelChannels(frame.channels, opacity=False)
    if directory is None or directory.bits != 8 or directory.one(Tag.PHOTOMETRIC, 1) not in (2, 6):
        return None
    extra = directory.one(Tag.EXTRA_SAMPLES, 0)
    opacity = directory.one(Tag.SAMPLES_PER_PIXEL, 3) > 3 and extra in (1, 2)
    size = directory.one(Tag.WIDTH, 0) * directory.one(Tag.LENGTH, 0)
    return size, PixelChannels(3, opacity)
