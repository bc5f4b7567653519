"""What a picture file says beside its pixels: which way is up, and how large it means to be."""

from __future__ import annotations

from collections.abc import Callable

from PIL import ExifTags, Image

from filmhand.art.files.gray import Codes

_PLACEHOLDERS = (72.0, 96.0)
TURNED_NOTE = "The art was turned upright as its camera noted."


def orientation_of(image: Image.Image) -> int:
    """EXIF tag 274 (Exif 2.32, 4.6.4): 1 to 8; anything odd counts as upright."""
    try:
        value = image.getexif().get(ExifTags.Base.Orientation, 1)
    # EXIF is a stranger's TIFF inside the picture; what breaks there must not lose the picture.
    except Exception:
        return 1
    return value if value in range(1, 9) else 1


def as_stored(upright: Codes, orientation: int) -> Codes:
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


def own_resolution(image: Image.Image, notes: list[str]) -> tuple[float, float] | None:
    """Pixels to the inch across and down; None where the file says none worth believing."""
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
    """EXIF tags 282, 283 and 296 (2 is inch, 3 is centimeter)."""
    try:
        exif = image.getexif()
        across, down = float(exif.get(282, 0)), float(exif.get(283, 0))
        scale = {2: 1.0, 3: 2.54}.get(exif.get(296, 2), 0.0)
    # As above: a stranger's TIFF inside the picture.
    except Exception:
        return None
    return across * scale, down * scale
