"""Opens any customer file as coded gray, the way every later step wants it.

The picture is decoded once, turned into two bytes a pixel strip by strip (so that the largest
moment is the decoder's image and the result together), and let go.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from PIL import Image

from filmhand.arrays import UInt8Array
from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.analysis.ground_color import ground_color, sampled_places
from filmhand.art.drawings.vector import Sizing, shape_of_white
from filmhand.art.files import extras
from filmhand.art.files.damage import damage_notes, is_found_beside, with_place
from filmhand.art.files.decode import ExaminedFile, decoded, examine_file, guarded
from filmhand.art.files.deep_color import read_deep
from filmhand.art.files.file_types import FileType
from filmhand.art.files.file_words import AdditionWord, FileNote, FileRefusal
from filmhand.art.files.gray import Codes
from filmhand.art.files.jpeg_strips import comes_in_strips, load_strips
from filmhand.art.files.orientation import orientation_of, own_resolution, upright_and_stored
from filmhand.art.files.pixel_layouts import (
    INKS,
    PixelLayout,
    computed_plane_note,
    cut_note,
    layout_of_pixels,
    no_transparency,
)
from filmhand.art.files.whole_pixels import decoded_whole, turned
from filmhand.art.formats.decoded_pixels import DecodedPixels
from filmhand.art.formats.png_chunks import is_moving
from filmhand.art.opened_art import Art
from filmhand.art.raster import in_threads, row_strips
from filmhand.errors import Quantity, Refused, needs_too_much_memory
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel
from filmhand.speaking_pool import SpeakingPool

__all__ = ["Art", "count_pages", "open_art"]

_STRIP_PIXELS = 96_000


def count_pages(path: Path, *, name: str, limits: Limits) -> int:
    """How many films the file asks for: the pages of a TIFF or PDF, 1 for everything else.

    Raises Refused as :func:`open_art` does, as far as that needs no decoding.
    """
    return len(examine_file(path, name=name, limits=limits).pages)


def open_art(
    path: Path,
    *,
    name: str,
    limits: Limits,
    channel: Channel,
    page: int = 0,
    sizing: Sizing | None = None,
) -> Art:
    """The art at ``path`` as coded gray, or a refusal that says what to do.

    Parameters
    ----------
    name : str
        The customer's file name, for the sentences.
    limits : Limits
        The profile's ceilings: bytes, pages and pixels are checked before decoding.
    channel : Channel
        What the gray is taken from; see :mod:`filmhand.art.files.gray` for the formulas.
    page : int
        Which page of a TIFF or PDF of several pages, from 0.
    sizing : Sizing, optional
        What size art gets on film, for drawings of commands (PDF, SVG), which have no pixels of
        their own; without it they are drawn at the size that they say, with 300 ppi.

    Raises
    ------
    Refused
        not-art, damaged, locked, too-big, or blank (channel alpha of art without transparency).
    EnvironmentTrouble
        The file cannot be read, through no fault of its content.
    IndexError
        There is no such page.
    """
    found = examine_file(path, name=name, limits=limits)
    if not 0 <= page < len(found.pages):
        raise IndexError(f"page {page} of {len(found.pages)}")
    word = str(channel)
    if found.kind in (FileType.PDF, FileType.SVG):
        return _read_drawn(found, page=page, channel=word, limits=limits, sizing=sizing)
    with SpeakingPool(1) as aside:
        early = aside.submit(damage_notes, found) if is_found_beside(found) else None
        try:
            pixels = decoded_whole(found, page=page, limits=limits)
            art = read_deep(found, page=page, channel=word, limits=limits, pixels=pixels)
            if art is None:
                art = _read_plain(found, page=page, channel=word, limits=limits, pixels=pixels)
        except Refused as refusal:
            raise with_place(refusal, found) from refusal
        art.notes += damage_notes(found) if early is None else early.result()
    return art


def _read_drawn(
    found: ExaminedFile, *, page: int, channel: str, limits: Limits, sizing: Sizing | None
) -> Art:
    """Drawings of commands, drawn with the film's own pixels."""
    from filmhand.art.drawings import pdf, svg  # noqa: PLC0415 - most jobs need none of it

    with guarded(found.name, limits):
        if found.kind is FileType.PDF:
            art = pdf.draw_page(found, page=page, channel=channel, limits=limits, sizing=sizing)
        else:
            art = svg.draw(found, channel=channel, limits=limits, sizing=sizing)
    if channel == "lightness":
        art.notes.append(FileNote.LIGHTNESS.say())
    if channel in INKS:
        art.notes.append(computed_plane_note(channel))
    art.drawn = art.drawn or looks_drawn(art.coded)
    return art


def _read_plain(
    found: ExaminedFile,
    *,
    page: int,
    channel: str,
    limits: Limits,
    pixels: DecodedPixels | None = None,
) -> Art:
    """Everything that the base reader decodes whole, or can hold."""
    notes = found.notes
    try:
        with _image_of(found, page=page, limits=limits, pixels=pixels) as image:
            ppi = own_resolution(image, notes)
            _note_frames(image, found, notes)
            _note_wide_colors(image, notes)
            coded, turned, ground = _coded(image, found, channel=channel, page=page, limits=limits)
            steps = _luma_steps(image, turned=turned)
    except MemoryError as fault:
        raise needs_too_much_memory(f"“{found.name}”", limits.memory) from fault
    if turned and ppi:
        ppi = ppi[::-1]
    return Art(coded, ppi, found.kind.value, looks_drawn(coded), notes, steps, ground)


@contextmanager
def _image_of(
    found: ExaminedFile, *, page: int, limits: Limits, pixels: DecodedPixels | None
) -> Iterator[Image.Image]:
    """The picture of the base reader, or the same of pixels that were decoded otherwise."""
    if pixels is None:
        with decoded(found, page=page, limits=limits) as image:
            yield image
        return
    if pixels.is_deep and pixels.pixels.dtype == np.float32:
        raise extras.missing(name=found.name, what=AdditionWord.DEEP)
    turned(pixels, orientation_of(None, found.directory(page)))
    found.notes += pixels.notes
    if pixels.is_deep:
        found.notes.append(cut_note(16))
    yield pixels.as_image()


def _luma_steps(image: Image.Image, *, turned: bool) -> tuple[int, ...] | None:
    """The table of a JPEG that its lightness was coded with."""
    tables = getattr(image, "quantization", None)
    table = tables.get(0) if isinstance(tables, dict) else None
    if table is None or len(table) != 64:
        return None
    steps = np.array(table).reshape(8, 8)
    return tuple(int(step) for step in (steps.T if turned else steps).ravel())


def _coded(
    image: Image.Image, found: ExaminedFile, *, channel: str, page: int, limits: Limits
) -> tuple[Codes, bool, tuple[float, float] | None]:
    """The upright gray of an image, whether width and height changed places, and its ground."""
    width, height = image.size
    if not width or not height:
        raise FileRefusal.NO_PIXELS.refused(
            name=found.name, width=width, height=height, found=Quantity(0, "pixels")
        )
    notes, directory = found.notes, found.directory(page)
    picture, see_through = _flattened(image, found, channel)
    made = layout_of_pixels(picture, found, channel=channel, directory=directory)
    orientation = orientation_of(image, directory)
    # The TIFF decoder has turned the picture itself by now.
    coded, stored = upright_and_stored(image.size, 1 if directory else orientation)
    if made.pixels is not None and comes_in_strips(picture):
        with guarded(found.name, limits):
            ground = ground_color(_fill_as_decoded(picture, made.pixels, stored))
    else:
        _fill(picture, made, stored)
        ground = ground_color(image)
    notes += made.notes
    if orientation > 1:
        notes.append(FileNote.TURNED.say())
    if channel == "alpha" and not coded.any():
        raise no_transparency(found.name)

    def opacity() -> Codes:
        shape = np.empty_like(stored)
        alpha = layout_of_pixels(image, found, channel="alpha", directory=directory)
        _fill(image, alpha, shape)
        return shape

    if (made.transparent or see_through) and channel == "luminance":
        shape = shape_of_white(stored, opacity, notes)
        if shape is not stored:
            stored[...] = shape
    return coded, orientation >= 5, ground


def _flattened(image: Image.Image, found: ExaminedFile, channel: str) -> tuple[Image.Image, bool]:
    """The picture to read, and whether a layered file's opacity was left aside for it.

    The flattened picture of a layered file lies on white already (from memory), so its opacity
    serves only as a channel.
    """
    if found.layered is None or image.mode not in ("RGBA", "LA") or channel == "alpha":
        return image, False
    plain = image.getchannel("L") if image.mode == "LA" else image.convert("RGB")
    plain.info = image.info
    return plain, True


def _fill(image: Image.Image, made: PixelLayout, stored: Codes) -> None:
    def one(rows: slice) -> None:
        stored[rows] = made.strip(image.crop((0, rows.start, image.width, rows.stop)))

    in_threads(one, row_strips(stored.shape, _STRIP_PIXELS))


def _fill_as_decoded(
    image: Image.Image, coded: Callable[[UInt8Array], Codes], stored: Codes
) -> Image.Image:
    """Fill in gray while the picture is decoded, of which a sample is given back."""
    columns, rows = sampled_places(image.size)
    sample = np.empty((len(rows), len(columns), 3), np.uint8)

    def one(strip: slice, pixels: UInt8Array) -> None:
        stored[strip] = coded(pixels)
        here = (rows >= strip.start) & (rows < strip.stop)
        sample[here] = pixels[rows[here] - strip.start][:, columns, :3]

    load_strips(image, one, pixels=_STRIP_PIXELS)
    return Image.fromarray(sample)


def _note_frames(image: Image.Image, found: ExaminedFile, notes: list[str]) -> None:
    if found.kind not in (FileType.GIF, FileType.WEBP, FileType.PNG, FileType.AVIF, FileType.HEIC):
        return
    try:
        moving = is_moving(found.chunks or []) or bool(getattr(image, "is_animated", False))
    # Whatever is wrong behind the first frame does not matter to it.
    except Exception:
        moving = True
    if moving and found.kind is FileType.HEIC:
        notes.append(FileNote.MAIN_PICTURE.say())
    elif moving and not found.breaks_off:
        notes.append(FileNote.FIRST_FRAME.say())


def _note_wide_colors(image: Image.Image, notes: list[str]) -> None:
    """HEIC may name its primaries by number (ITU-T H.273, 8.1) in place of a profile."""
    numbers = image.info.get("nclx_profile")
    if "icc_profile" in image.info or not isinstance(numbers, dict):
        return
    if numbers.get("color_primaries") not in (1, 2):  # those of sRGB, or unspecified
        notes.append(FileNote.WIDER_COLORS.say())
