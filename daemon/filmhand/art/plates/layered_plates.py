"""The plates of a layered file: its process inks, and channels that are inks of their own."""

from __future__ import annotations

import numpy as np

from filmhand.art.files.decode import ExaminedFile, check_pixels
from filmhand.art.files.orientation import believed_resolution
from filmhand.art.formats.channel_names import further_channels
from filmhand.art.formats.flattened import as_words, layered_ppi, stored_planes
from filmhand.art.formats.layered import ColorMode
from filmhand.art.plates.art_plates import PROCESS_INKS, ArtPlates
from filmhand.profile.model import Limits
from filmhand.tone import FULL

_COLORS = {
    ColorMode.GRAY: 1,
    ColorMode.RGB: 3,
    ColorMode.CMYK: 4,
    ColorMode.SPOTS: 0,
    ColorMode.DUOTONE: 1,
    ColorMode.LAB: 3,
}


def layered_plate_names(found: ExaminedFile) -> tuple[str, ...]:
    """The names of the plates, none where the file has none; nothing is decoded."""
    return tuple(name for _, name in _plates(found))


def layered_plates(found: ExaminedFile, limits: Limits) -> ArtPlates:
    """The plates of the file.

    Raises
    ------
    Refused
        too-big or damaged
    """
    layered = found.layered
    assert layered is not None
    check_pixels(layered.width, layered.height, name=found.name, limits=limits)
    plates = _plates(found)
    with found.path.open("rb") as file:
        planes = stored_planes(file, layered, layered.channels)
        notes = list(found.notes)
        ppi = believed_resolution(layered_ppi(file, layered), notes)
    most = np.iinfo(planes.dtype).max
    # Of inks nothing is a solid.
    tones = FULL - as_words(planes[[place for place, _ in plates]])
    taken = {place for place, _ in plates}
    left = [place for place in range(_COLORS[ColorMode(layered.mode)]) if place not in taken]
    beside = bool(left) and bool((planes[left] != most).any())
    names = tuple(name for _, name in plates)
    return ArtPlates(names, tones, ppi, found.kind.value, notes, beside)


def _plates(found: ExaminedFile) -> list[tuple[int, str]]:
    """The place and the name of each channel that is an ink."""
    layered = found.layered
    if layered is None or layered.mode not in _COLORS or layered.bits not in (8, 16):
        return []
    colors = _COLORS[ColorMode(layered.mode)]
    plates = list(enumerate(PROCESS_INKS)) if layered.mode == ColorMode.CMYK else []
    first = colors + (1 if layered.see_through and layered.mode != ColorMode.SPOTS else 0)
    with found.path.open("rb") as file:
        further = further_channels(file, layered.resources)
    # Opacity has a name as well, where there are as many names as channels beyond the colors.
    skipped = first - colors if len(further) == layered.channels - colors else 0
    for place, channel in enumerate(further[skipped:], first):
        if place < layered.channels and channel.name and channel.is_ink:
            plates.append((place, channel.name))
    return plates
