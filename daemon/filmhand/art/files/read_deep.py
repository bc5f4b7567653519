"""Art of more than eight bits a color, opened as coded gray."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, UnidentifiedImageError

from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.drawings.vector import WHITE_ON_NOTHING, is_all_white, is_shape
from filmhand.art.files.decode import ExaminedFile, check_header_pixels, damaged, guarded
from filmhand.art.files.deep_color import DeepLayout, fill_rows, layout_of, library, open_deep
from filmhand.art.files.file_types import FileType
from filmhand.art.files.orientation import TURNED_NOTE, as_stored, orientation_of, own_resolution
from filmhand.art.files.pixel_layouts import (
    _INKS,
    LIGHTNESS_NOTE,
    computed_plane_note,
    no_transparency,
    own_gamma,
)
from filmhand.art.files.tiff_structure import ORIENTATION, Directory
from filmhand.art.opened_art import Art

if TYPE_CHECKING:
    from filmhand.profile.model import Limits


def read_deep(
    found: ExaminedFile, *, page: int, channel: str, limits: Limits, notes: list[str]
) -> Art | None:
    """The art with all its bits; None where it has no deep color, or its library is missing."""
    directory = found.structure.directories[found.pages[page]] if found.structure else None
    layout = layout_of(found, directory)
    vips = library() if layout else None
    if layout is None or vips is None:
        return None
    with guarded(found.name, limits):
        check_header_pixels(found, page=page, limits=limits)
        return _read(
            vips, found, layout, page=page, channel=channel, directory=directory, notes=notes
        )


def _read(
    vips: Any,
    found: ExaminedFile,
    layout: DeepLayout,
    *,
    page: int,
    channel: str,
    directory: Directory | None,
    notes: list[str],
) -> Art:
    """The art; what its file says beside the pixels comes from the base reader."""
    gamma, ppi, noted = None, None, directory.one(ORIENTATION, 1) if directory else 1
    with (
        contextlib.suppress(UnidentifiedImageError),
        Image.open(found.path, formats=(found.kind.value,)) as image,
    ):
        ppi = own_resolution(image, notes)
        gamma = own_gamma(image) if found.kind is FileType.PNG else None
        noted = noted if directory else orientation_of(image)
    noted = noted if noted in range(1, 9) else 1
    opened = open_deep(vips, found, layout, page=page, channel=channel, gamma=gamma)
    width, height = opened.image.width, opened.image.height
    coded = np.empty((width, height) if noted >= 5 else (height, width), np.uint16)
    stored = as_stored(coded, noted)
    if channel == "alpha" and not layout.opacity:
        raise no_transparency(found.name)
    if not fill_rows(vips, opened, stored, channel=channel):
        raise damaged(found.name, "some of its pixels are not numbers")
    if channel == "alpha" and not coded.any():
        raise no_transparency(found.name)
    notes += opened.notes
    if channel == "luminance" and layout.opacity and is_all_white(coded):
        shape = np.empty_like(stored)
        again = open_deep(vips, found, layout, page=page, channel="alpha", gamma=gamma)
        if fill_rows(vips, again, shape, channel="alpha") and is_shape(shape):
            stored[...] = shape
            notes.append(WHITE_ON_NOTHING)
    if channel == "lightness":
        notes.append(LIGHTNESS_NOTE)
    if channel in _INKS and not opened.inks:
        notes.append(computed_plane_note(channel))
    if noted > 1:
        notes.append(TURNED_NOTE)
    if noted >= 5 and ppi:
        ppi = ppi[1], ppi[0]
    height, width = coded.shape
    return Art(
        coded, ppi, found.kind.value, width, height, len(found.pages), looks_drawn(coded), notes
    )
