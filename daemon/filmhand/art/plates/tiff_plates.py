"""The plates of a TIFF: its inks, and channels beside its colors that are inks of their own.

Inks are named by a tag (TIFF 6.0, section 16), and channels beside the colors by the image
resources of layered working files, which a tag of their own holds. There a solid is 0, as in gray
pictures (from memory); of inks it is the largest number.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.art.files.decode import ExaminedFile, check_pixels
from filmhand.art.files.orientation import believed_resolution, orientation_of, turned_upright
from filmhand.art.files.tiff_structure import Directory, Tag
from filmhand.art.formats.channel_names import further_channels, plain_name
from filmhand.art.formats.codecs import planes_of_inks, stored_tiff
from filmhand.art.formats.layered import image_resources
from filmhand.art.plates.art_plates import PROCESS_INKS, ArtPlates
from filmhand.profile.model import Limits
from filmhand.tone import FULL
from filmhand.values import dataclass

_WHITE_IS_ZERO, _SEPARATED = 0, 5
_COLOR_SAMPLES = {0: 1, 1: 1, 2: 3, 5: 4}
_MOST_NAME_BYTES = 65_536
# Keys of the blocks that have layers, of 8, 16 and 32 bits a color; turned round in files of which
# the lowest byte comes first.
_LAYER_KEYS = (b"Layr", b"Lr16", b"Lr32", b"ryaL", b"61rL", b"23rL")


@dataclass(frozen=True, slots=True)
class _Plate:
    """A sample of each pixel that is an ink: its place, its name, and whether a solid is 0."""

    sample: int
    name: str
    is_gray: bool = False


def tiff_plate_names(found: ExaminedFile, page: int) -> tuple[str, ...]:
    """The names of the plates of a page, none where it has none; nothing is decoded."""
    directory = found.directory(page)
    return () if directory is None else tuple(one.name for one in _plates(found.path, directory))


def tiff_plates(found: ExaminedFile, page: int, limits: Limits) -> ArtPlates | None:
    """The plates of a page; None where its pixels are of a kind that is not known.

    Raises
    ------
    Refused
        too-big, damaged, or not-art without the library
    """
    directory = found.directory(page)
    assert directory is not None
    width, height = directory.one(Tag.WIDTH, 0), directory.one(Tag.LENGTH, 0)
    check_pixels(width, height, name=found.name, limits=limits)
    plates = _plates(found.path, directory)
    stored = stored_tiff(found.path, found.pages[page], directory, name=found.name)
    if stored is None or stored[0].dtype.kind != "u":
        return None
    pixels, _, ppi = stored
    orientation = orientation_of(None, directory)
    pixels = turned_upright(pixels, orientation)
    notes = list(found.notes)
    believed = believed_resolution(ppi, notes)
    if believed and orientation >= 5:
        believed = believed[::-1]
    tones = planes_of_inks(pixels[..., [one.sample for one in plates]], directory.bits)
    for plate, tone in zip(plates, tones, strict=True):
        if plate.is_gray:
            np.subtract(np.uint16(FULL), tone, out=tone)
    names = tuple(one.name for one in plates)
    beside = _has_other_colors(pixels, directory, plates)
    return ArtPlates(names, np.ascontiguousarray(tones), believed, found.kind.value, notes, beside)


def has_layers(found: ExaminedFile, page: int) -> bool:
    """Whether a page has layers beside its picture, as layered working files have them."""
    directory = found.directory(page)
    text = b"" if directory is None else _text(found.path, directory, Tag.LAYERS)
    return any(key in text for key in _LAYER_KEYS)


def page_name(path: Path, directory: Directory) -> str:
    """What the page is called (tag 285), empty where it has no name."""
    return plain_name(
        _text(path, directory, Tag.PAGE_NAME).split(b"\0")[0].decode("utf-8", "replace")
    )


def _plates(path: Path, directory: Directory) -> list[_Plate]:
    photometric = directory.one(Tag.PHOTOMETRIC, 1)
    samples = directory.one(Tag.SAMPLES_PER_PIXEL, 1)
    if photometric not in _COLOR_SAMPLES:
        return []
    texts = _text(path, directory, Tag.INK_NAMES).split(b"\0")
    names = [plain_name(text.decode("utf-8", "replace")) for text in texts if text]
    if photometric == _SEPARATED and names:
        return [_Plate(place, name) for place, name in enumerate(names[:samples]) if name]
    if directory.has_own_inks:
        return []  # inks without names
    colors = _COLOR_SAMPLES[photometric]
    process = PROCESS_INKS if photometric == _SEPARATED and samples >= colors else ()
    plates = [_Plate(place, name) for place, name in enumerate(process)]
    opacity = 1 if directory.one(Tag.EXTRA_SAMPLES, 0) in (1, 2) and samples > colors else 0
    place = directory.texts.get(Tag.IMAGE_RESOURCES)
    if place is None or samples <= colors + opacity:
        return plates
    with path.open("rb") as file:
        further = further_channels(file, image_resources(file, *place))
    # Opacity is among the channels that have names, where there are as many as samples.
    skipped = opacity if len(further) == samples - colors else 0
    for place_of, channel in enumerate(further[skipped:], colors + opacity):
        if channel.is_ink and channel.name and place_of < samples:
            plates.append(_Plate(place_of, channel.name, is_gray=True))
    return plates


def _text(path: Path, directory: Directory, tag: Tag) -> bytes:
    at, length = directory.texts.get(tag, (0, 0))
    if not length:
        return b""
    with path.open("rb") as file:
        file.seek(at)
        return file.read(min(length, _MOST_NAME_BYTES))


def _has_other_colors(pixels: NDArray[Any], directory: Directory, plates: list[_Plate]) -> bool:
    """Whether there is anything but white in samples that are no plates."""
    photometric = directory.one(Tag.PHOTOMETRIC, 1)
    taken = {one.sample for one in plates}
    inks = pixels.shape[-1] if directory.has_own_inks else _COLOR_SAMPLES[photometric]
    left = [sample for sample in range(inks) if sample not in taken]
    bare = 0 if photometric in (_WHITE_IS_ZERO, _SEPARATED) else (1 << directory.bits) - 1
    return bool(left) and bool((pixels[..., left] != bare).any())
