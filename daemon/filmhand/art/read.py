"""Opens any customer file as coded grey, the way every later step wants it.

The picture is decoded once, turned into two bytes a pixel strip by strip (so that the largest
moment is the decoder's image and the result together), and let go.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from filmhand.art.decode import Examined, decoded, examine, out_of_memory
from filmhand.art.flats import looks_drawn
from filmhand.art.grey import Codes
from filmhand.art.kinds import Kind, mismatch_note
from filmhand.art.pixels import Plan, no_transparency, plan
from filmhand.art.tiff import ORIENTATION
from filmhand.errors import Quantity, Reason, Refused

if TYPE_CHECKING:
    from filmhand.profile.model import Channel, Limits

_STRIP_PIXELS = 96_000
_THREADS = 2
_PLACEHOLDERS = (72.0, 96.0)


@dataclass(slots=True)
class Art:
    """Art as every later step sees it: upright, grey, on white.

    coded : (H, W) uint16, C-contiguous: the sRGB code (0 black, 65535 white) of each pixel's
        relative luminance, colour-managed and laid over white; 8-bit grey g is exactly 257 g.
    ppi : own resolution across and down, None where the file gives none worth believing.
    format : what the content is ("JPEG" …), whatever the name says.
    drawn : True for computer-drawn art with exact flats, False for scans and photographs.
    notes : plain sentences: what was decided, assumed or left out.
    """

    coded: NDArray[np.uint16]
    ppi: tuple[float, float] | None
    format: str
    width_px: int
    height_px: int
    pages: int
    drawn: bool
    notes: list[str] = field(default_factory=list)


def count_pages(path: Path, *, name: str, limits: Limits) -> int:
    """How many films the file asks for: the pages of a TIFF, 1 for everything else.

    Raises Refused as :func:`open_art` does, as far as that needs no decoding.
    """
    return len(examine(path, name=name, limits=limits).pages)


def open_art(path: Path, *, name: str, limits: Limits, channel: Channel, page: int = 0) -> Art:
    """The art at ``path`` as coded grey, or a refusal that says what to do.

    Parameters
    ----------
    name : str
        The customer's file name, for the sentences.
    limits : Limits
        The profile's ceilings: bytes, pages and pixels are checked before decoding.
    channel : Channel
        What the grey is taken from; see :mod:`filmhand.art.grey` for the formulas.
    page : int
        Which page of a TIFF of several pages, from 0.

    Raises
    ------
    Refused
        not-art, damaged, too-big, or blank (channel alpha of art without transparency).
    Surroundings
        The file cannot be read, through no fault of its content.
    IndexError
        There is no such page.
    """
    found = examine(path, name=name, limits=limits)
    pages = len(found.pages)
    if not 0 <= page < pages:
        raise IndexError(f"page {page} of {pages}")
    notes = list(found.notes)
    mismatch = mismatch_note(found.kind, name=name)
    if mismatch:
        notes.append(mismatch)
    try:
        with decoded(found, page=page, limits=limits) as image:
            ppi = _own_resolution(image, notes)
            _note_frames(image, found, notes)
            coded, turned = _coded(image, found, channel=str(channel), page=page, notes=notes)
    except MemoryError as fault:
        raise out_of_memory(name, limits) from fault
    if turned and ppi:
        ppi = ppi[1], ppi[0]
    height, width = coded.shape
    return Art(coded, ppi, found.kind.value, width, height, pages, looks_drawn(coded), notes)


def _coded(
    image: Image.Image, found: Examined, *, channel: str, page: int, notes: list[str]
) -> tuple[Codes, bool]:
    """The upright grey of a decoded image, and whether width and height changed places."""
    width, height = image.size
    if not width or not height:
        raise Refused(
            Reason.DAMAGED,
            f"“{found.name}” has no pixels ({width} x {height}).",
            "Save it again and drop that.",
            found=Quantity(0, "pixels"),
        )
    structure = found.structure
    directory = structure.directories[found.pages[page]] if structure else None
    made = plan(image, found, channel=channel, directory=directory)
    noted = directory.one(ORIENTATION, 1) if directory else _orientation(image)
    noted = noted if noted in range(1, 9) else 1
    # The TIFF decoder has turned the picture itself by now.
    orientation = 1 if directory else noted
    coded = np.empty((width, height) if orientation >= 5 else (height, width), np.uint16)
    _fill(image, made, _as_stored(coded, orientation))
    notes += made.notes
    if noted > 1:
        notes.append("The art was turned upright as its camera noted.")
    if channel == "alpha" and not coded.any():
        raise no_transparency(found.name)
    if made.transparent and channel == "luminance":
        _note_white_on_nothing(image, found, coded, notes, page=page)
    return coded, noted >= 5


def _fill(image: Image.Image, made: Plan, stored: Codes) -> None:
    width, height = image.size
    rows = max(1, _STRIP_PIXELS // width)

    def one(top: int) -> None:
        bottom = min(height, top + rows)
        stored[top:bottom] = made.strip(image.crop((0, top, width, bottom)))

    with ThreadPoolExecutor(_THREADS) as pool:
        for _ in pool.map(one, range(0, height, rows)):
            pass


def _orientation(image: Image.Image) -> int:
    """EXIF tag 274 (Exif 2.32, 4.6.4): 1 to 8; anything odd counts as upright."""
    try:
        value = image.getexif().get(ExifTags.Base.Orientation, 1)
    # EXIF is a stranger's TIFF inside the picture; what breaks there must not lose the picture.
    except Exception:
        return 1
    return value if value in range(1, 9) else 1


def _as_stored(upright: Codes, orientation: int) -> Codes:
    """A view of the upright array, indexed by the rows and columns of the stored picture."""
    views: dict[int, Callable[[Codes], Codes]] = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.T,
        6: lambda a: a[:, ::-1].T,
        7: lambda a: a[::-1, ::-1].T,
        8: lambda a: a[::-1].T,
    }
    return views[orientation](upright)


def _own_resolution(image: Image.Image, notes: list[str]) -> tuple[float, float] | None:
    try:
        found = image.info.get("dpi") or _exif_resolution(image)
        across, down = (float(value) for value in found or (0, 0))
    # Fractions with a zero below, texts, tuples of one: all mean that nothing is known.
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    if not (30 <= across <= 20_000 and 30 <= down <= 20_000):
        return None
    if any(abs(across - p) < 0.05 and abs(down - p) < 0.05 for p in _PLACEHOLDERS):
        notes.append(
            f"The file says {across:.0f} ppi, which programs write when they know nothing; "
            "its resolution counts as unknown."
        )
        return None
    return across, down


def _exif_resolution(image: Image.Image) -> tuple[float, float] | None:
    """EXIF tags 282, 283 and 296 (2 is inch, 3 is centimetre)."""
    try:
        exif = image.getexif()
        across, down = float(exif.get(282, 0)), float(exif.get(283, 0))
        scale = {2: 1.0, 3: 2.54}.get(exif.get(296, 2), 0.0)
    # As above: a stranger's TIFF inside the picture.
    except Exception:
        return None
    return across * scale, down * scale


def _note_frames(image: Image.Image, found: Examined, notes: list[str]) -> None:
    if found.kind not in (Kind.GIF, Kind.WEBP, Kind.PNG):
        return
    try:
        moving = bool(getattr(image, "is_animated", False))
    # Whatever is wrong behind the first frame does not matter to it.
    except Exception:
        moving = True
    if moving:
        notes.append("The art is an animation; only its first frame is used.")


def _note_white_on_nothing(
    image: Image.Image, found: Examined, coded: Codes, notes: list[str], *, page: int
) -> None:
    if coded.min() < 64_000:
        return
    structure = found.structure
    directory = structure.directories[found.pages[page]] if structure else None
    opacity = plan(image, found, channel="alpha", directory=directory)
    middle = image.resize((min(256, image.width), min(256, image.height)), Image.Resampling.NEAREST)
    if (opacity.strip(middle) < 32_768).any():
        notes.append(
            "All visible pixels of this transparent art are white, so nothing would print; "
            "to print the shape itself use channel: alpha."
        )
