"""What a picture file says beside its pixels: which way is up, and how large it means to be."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.art.files.file_words import FileNote
from filmhand.art.files.gray import Codes
from filmhand.art.files.tiff_structure import Directory, Tag

_PLACEHOLDERS = (72.0, 96.0)
# Steps down and across through the upright picture; from 5 on columns and rows change places too.
_FLIPS = ((1, 1), (1, -1), (-1, -1), (-1, 1))


def orientation_of(image: Image.Image | None, directory: Directory | None) -> int:
    """TIFF or EXIF tag 274 (Exif 2.32, 4.6.4): 1 to 8; anything odd counts as upright."""
    try:
        if directory:
            value = directory.one(Tag.ORIENTATION, 1)
        else:
            value = image.getexif().get(Tag.ORIENTATION, 1) if image else 1
    # EXIF is a stranger's TIFF inside the picture; what breaks there must not lose the picture.
    except Exception:
        return 1
    return value if value in range(1, 9) else 1


def upright_and_stored(size: tuple[int, int], orientation: int) -> tuple[Codes, Codes]:
    """An empty array for the upright picture, and a view of it as the picture is stored.

    size : width and height as stored
    """
    turned = orientation >= 5
    upright = np.empty(size if turned else size[::-1], np.uint16)
    down, across = _FLIPS[(orientation - 1) % 4]
    view = upright[::down, ::across]
    return upright, view.T if turned else view


def turned_upright(stored: NDArray[Any], orientation: int) -> NDArray[Any]:
    """A view of pixels (H, W, C) that were stored by an orientation, upright."""
    down, across = _FLIPS[(orientation - 1) % 4]
    rows_first = stored.swapaxes(0, 1) if orientation >= 5 else stored
    return rows_first[::down, ::across]


def own_resolution(image: Image.Image, notes: list[str]) -> tuple[float, float] | None:
    """Pixels to the inch across and down; None where the file says none worth believing."""
    return believed_resolution(image.info.get("dpi") or _exif_resolution(image), notes)


def believed_resolution(found: Any, notes: list[str]) -> tuple[float, float] | None:
    """What a file says of its pixels to the inch, where that is to be believed; or a note."""
    try:
        across, down = (float(value) for value in found or (0, 0))
    # Fractions with a zero below, texts, tuples of one: all mean that nothing is known.
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    if not (30 <= across <= 20_000 and 30 <= down <= 20_000):
        return None
    if any(abs(across - p) < 0.05 and abs(down - p) < 0.05 for p in _PLACEHOLDERS):
        notes.append(FileNote.PLACEHOLDER_PPI.say(ppi=f"{across:.0f}"))
        return None
    return across, down


def _exif_resolution(image: Image.Image) -> tuple[float, float] | None:
    """EXIF tags 282, 283 and 296 (2 is inch, 3 is centimeter)."""
    try:
        exif = image.getexif()
        across, down = float(exif.get(282, 0)), float(exif.get(283, 0))
        scale = {2: 1.0, 3: 2.54}.get(exif.get(296, 2), 0.0)
    # As above: a stranger's TIFF inside the picture.
    except Exception:
        return None
    return across * scale, down * scale
