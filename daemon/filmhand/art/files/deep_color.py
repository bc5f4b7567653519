"""Art of more than eight bits a color, opened as coded gray strip by strip with all its bits.

The base reader cuts such color to eight bits; the library used here keeps sixteen, and
fractions. Formulas: IEC 61966-2-1 and CIE 15, as in :mod:`filmhand.art.files.gray`.
"""

from __future__ import annotations

import contextlib
import importlib
import os
from collections.abc import Callable
from dataclasses import field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from filmhand.arrays import Float32Array
from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.drawings.vector import shape_of_white
from filmhand.art.files.color_management import curve_to_codes, light_of_lab, manage
from filmhand.art.files.decode import ExaminedFile, check_header_pixels, damaged, guarded
from filmhand.art.files.file_types import FileType
from filmhand.art.files.file_words import DamageWord, FileNote
from filmhand.art.files.gray import CHANNEL_WEIGHTS, WHITE, Codes, light_of_codes, lightness
from filmhand.art.files.large_art import PixelChannels, layout_of_large
from filmhand.art.files.orientation import (
    believed_resolution,
    orientation_of,
    own_resolution,
    upright_and_stored,
)
from filmhand.art.files.pixel_layouts import (
    INKS,
    computed_plane_note,
    gamma_note,
    no_transparency,
    own_gamma,
)
from filmhand.art.files.tiff_structure import Directory, Tag
from filmhand.art.formats.decoded_pixels import COLOR_COUNT, DecodedPixels
from filmhand.art.opened_art import Art
from filmhand.art.raster import row_strips
from filmhand.profile.model import Limits
from filmhand.tone import linear_to_srgb
from filmhand.values import dataclass

_STRIP_PIXELS = 1_000_000
_STEPS = 1 << 20
_FLOAT = 3
# Color channels by TIFF photometric interpretation: gray, RGB and inks.
_COLORS = {0: 1, 1: 1, 2: 3, 5: 4}
# By PNG color type: RGB, gray with opacity, RGB with opacity.
_PNG_COLORS = {2: 3, 4: 1, 6: 3}


@dataclass(slots=True)
class _Deep:
    """An open picture of deep color, and the channel that its gray is taken from."""

    image: Any
    layout: PixelChannels
    channel: str
    light: Float32Array
    notes: list[str] = field(default_factory=list)
    inks: bool = False


def _layout_of(art: ExaminedFile, directory: Directory | None) -> PixelChannels | None:
    """The layout of color with more than 8 bits; None for everything that the base reads whole."""
    if art.kind is FileType.PNG and len(art.head) > 25 and art.head[24] == 16:
        colors = _PNG_COLORS.get(art.head[25])
        return None if colors is None else PixelChannels(colors, art.head[25] != 2)
    if directory is None or directory.bits not in (16, 32):
        return None
    photometric = directory.one(Tag.PHOTOMETRIC, 1)
    samples = directory.one(Tag.SAMPLES_PER_PIXEL, 1)
    colors = _COLORS.get(photometric)
    if colors is None or samples < max(2, colors):
        return None
    # 1 is color stored times its opacity, which the library divides again; 2 is plain.
    extra = directory.one(Tag.EXTRA_SAMPLES, 0) if samples > colors else 0
    return PixelChannels(
        colors,
        opacity=extra in (1, 2),
        fractions=directory.one(Tag.SAMPLE_FORMAT, 1) == _FLOAT,
        white_is_zero=photometric == 0,
    )


def library() -> Any | None:
    """The library for deep color, None where filmhand[art] is not installed."""
    # Its threads would each want a stack of the worker's memory, and the strips are small.
    os.environ.setdefault("VIPS_CONCURRENCY", "1")
    try:
        found = importlib.import_module("pyvips")
    # Without its C part the library raises OSError or an error of its own.
    except Exception:
        return None
    found.cache_set_max(0)
    return found


def read_deep(
    found: ExaminedFile,
    *,
    page: int,
    channel: str,
    limits: Limits,
    pixels: DecodedPixels | None = None,
) -> Art | None:
    """The art with all its bits; None where it has no deep color, or its library is missing.

    pixels : those of the file, where they were decoded already
    """
    directory, shrink = found.directory(page), 1
    if pixels is None:
        layout = _layout_of(found, directory)
        if layout is None:
            layout, shrink = layout_of_large(found, directory, limits)
    else:
        layout = _layout_of_pixels(pixels, found, channel) if pixels.is_deep else None
    vips = library() if layout else None
    if layout is None or vips is None:
        return None
    with guarded(found.name, limits):
        check_header_pixels(found, page=page, limits=limits)
        return _read(vips, found, layout, page=page, channel=channel, pixels=pixels, shrink=shrink)


def _layout_of_pixels(pixels: DecodedPixels, found: ExaminedFile, channel: str) -> PixelChannels:
    """The flattened picture of a layered file lies on white already, as in the base path."""
    opacity = pixels.opacity and (found.layered is None or channel == "alpha")
    return PixelChannels(
        COLOR_COUNT[pixels.colors],
        opacity,
        fractions=pixels.pixels.dtype == np.float32,
        lab=pixels.colors == "LAB",
    )


def _read(
    vips: Any,
    found: ExaminedFile,
    layout: PixelChannels,
    *,
    page: int,
    channel: str,
    pixels: DecodedPixels | None,
    shrink: int,
) -> Art:
    """The art; what its file says beside the pixels comes from the base reader."""
    notes, directory = found.notes, found.directory(page)
    gamma, ppi, orientation = None, None, orientation_of(None, directory)
    if pixels is not None:
        ppi = believed_resolution(pixels.ppi, notes)
        notes += pixels.notes
    else:
        with (
            contextlib.suppress(UnidentifiedImageError),
            Image.open(found.path, formats=(found.kind.value,)) as image,
        ):
            ppi = own_resolution(image, notes)
            gamma = own_gamma(image) if found.kind is FileType.PNG else None
            orientation = orientation_of(image, directory)

    def load() -> Any:
        if pixels is not None:
            return _in_memory(vips, pixels)
        return _load(vips, found, page, shrink)

    opened = _open(load, found, layout, channel=channel, gamma=gamma)
    size = opened.image.width, opened.image.height
    coded, stored = upright_and_stored(size, orientation)
    _fill_rows(vips, opened, stored, name=found.name)
    if channel == "alpha" and not coded.any():
        raise no_transparency(found.name)
    notes += opened.notes

    def opacity() -> Codes:
        again = _open(load, found, layout, channel="alpha", gamma=gamma)
        shape = np.empty_like(stored)
        _fill_rows(vips, again, shape, name=found.name)
        return shape

    if channel == "luminance" and layout.opacity:
        shape = shape_of_white(stored, opacity, notes)
        if shape is not stored:
            stored[...] = shape
    if channel == "lightness":
        notes.append(FileNote.LIGHTNESS.say())
    if channel in INKS and not opened.inks:
        notes.append(computed_plane_note(channel))
    if shrink > 1:
        notes.append(FileNote.SHRUNK.say(shrink=shrink))
        ppi = (ppi[0] / shrink, ppi[1] / shrink) if ppi else None
    if orientation > 1:
        notes.append(FileNote.TURNED.say())
    if orientation >= 5 and ppi:
        ppi = ppi[::-1]
    return Art(coded, ppi, found.kind.value, looks_drawn(coded), notes)


def _open(
    load: Callable[[], Any],
    art: ExaminedFile,
    layout: PixelChannels,
    *,
    channel: str,
    gamma: float | None,
) -> _Deep:
    """The picture, color-managed, to be read once from top to bottom.

    load : opens it anew
    gamma : the file's own, where nothing better says what its numbers mean.
    """
    image = load()
    profile = image.get("icc-profile-data") if image.get_typeof("icc-profile-data") else None
    if image.bands > layout.colors and art.kind is FileType.PNG:
        layout.opacity = True  # a key color counts as opacity
    light = light_of_codes()
    notes: list[str] = []
    if image.bands > layout.colors + layout.opacity:
        notes.append(FileNote.FURTHER_CHANNELS.say())
    color = image[0 : layout.colors] if image.bands > layout.colors else image
    inks = layout.colors == 4
    if layout.lab:
        pass  # its numbers mean the same everywhere
    elif layout.fractions:
        notes.append(FileNote.LINEAR_FRACTIONS.say())
    elif inks and channel in INKS:
        pass  # a plane is taken as it is
    elif inks and load()[0:3].max() == 0:
        notes.append(FileNote.BLACK_INK.say())
    elif profile or inks:
        mode = {1: "L", 3: "RGB", 4: "CMYK"}[layout.colors]
        managed = manage(profile, mode=mode)
        notes += [managed.note] if managed.note else []
        if managed.curve is not None:
            light = light[curve_to_codes(managed.curve)]
        elif managed.transform is not None:
            color = color.icc_transform(
                "srgb", embedded=True, intent="relative", black_point_compensation=True, depth=16
            )
            inks = False
        elif inks and not managed.note:
            notes.append(FileNote.PLAIN_INKS.say())
    elif gamma is not None:
        light = ((np.arange(WHITE + 1) / WHITE) ** (1 / gamma)).astype(np.float32)
        notes.append(gamma_note(gamma))
    if layout.opacity:
        color = color.bandjoin(image[layout.colors])
    return _Deep(color, layout, channel, light, notes, inks)


def _load(vips: Any, art: ExaminedFile, page: int, shrink: int) -> Any:
    path = str(art.path)
    # Unasked, the library lets damaged files pass.
    if art.kind is FileType.JPEG:
        return vips.Image.jpegload(path, access="sequential", fail_on="error", shrink=shrink)
    if art.kind is FileType.PNG:
        return vips.Image.pngload(path, access="sequential", fail_on="error")
    frame = art.pages[page]
    return vips.Image.tiffload(path, page=frame, access="sequential", fail_on="error")


_FORMATS = {"uint8": "uchar", "uint16": "ushort", "float32": "float"}
_MEANINGS = {"L": "grey16", "RGB": "rgb16", "CMYK": "cmyk", "LAB": "lab"}


def _in_memory(vips: Any, decoded: DecodedPixels) -> Any:
    """Decoded pixels as the library's own picture, with their color profile."""
    pixels = np.ascontiguousarray(decoded.pixels)
    height, width, bands = pixels.shape
    kind = _FORMATS[pixels.dtype.name]
    image = vips.Image.new_from_memory(pixels.data, width, height, bands, kind)
    image = image.copy(interpretation=_MEANINGS[decoded.colors])
    if decoded.profile:
        image.set_type(vips.GValue.blob_type, "icc-profile-data", decoded.profile)
    return image


def _fill_rows(vips: Any, deep: _Deep, out: Codes, *, name: str) -> None:
    """Writes coded gray, laid over white, to ``out``.

    out : (H, W) uint16, the picture as stored.
    """
    image = deep.image
    width = out.shape[1]
    region = vips.Region.new(image)
    kind = {"uchar": np.uint8, "ushort": np.uint16, "uint": np.uint32, "float": np.float32}[
        image.format
    ]
    for rows in row_strips(out.shape, _STRIP_PIXELS):
        raw = np.frombuffer(region.fetch(0, rows.start, width, rows.stop - rows.start), kind)
        pixels = raw.reshape(-1, width, image.bands)
        if kind is np.float32 and not np.isfinite(pixels).all():
            raise damaged(name, DamageWord.NOT_NUMBERS)
        out[rows] = _coded(pixels, deep)


def _coded(pixels: NDArray[Any], deep: _Deep) -> Codes:
    layout, channel = deep.layout, deep.channel
    if layout.lab:
        pixels = np.concatenate([light_of_lab(pixels[..., :3]), pixels[..., 3:]], axis=-1)
    shares: NDArray[Any] = (
        np.clip(pixels, 0, 1).astype(np.float32) if layout.fractions else _sixteen(pixels)
    )
    opacity = _opacity(shares, layout)
    if channel == "alpha":
        return np.round((1 - opacity) * WHITE).astype(np.uint16)
    color = shares[..., : deep.image.bands - layout.opacity]
    if deep.inks and channel in INKS:
        return (WHITE - color[..., INKS[channel]]).astype(np.uint16)
    if deep.inks:
        color = _mixed(color)
    if layout.white_is_zero:
        color = WHITE - color
    light = _light(color, deep)
    codes = _codes_of(light, channel)
    if not layout.fractions and deep.light is light_of_codes() and channel != "lightness":
        # Grays keep every bit; the sum of light would round them.
        first = color[..., 0]
        gray = np.logical_and.reduce([color[..., i] == first for i in range(color.shape[-1])])
        codes = np.where(gray, first, codes)
    if not layout.opacity or opacity.min() >= 1:
        return codes
    return np.where(opacity >= 1, codes, _codes_of(1 - (1 - light) * opacity, channel))


def _sixteen(pixels: NDArray[Any]) -> Codes:
    if pixels.dtype == np.uint8:
        return pixels.astype(np.uint16) * np.uint16(257)
    if pixels.dtype == np.uint32:
        return (pixels >> 16).astype(np.uint16)
    return pixels.astype(np.uint16, copy=False)


def _opacity(shares: NDArray[Any], layout: PixelChannels) -> Float32Array:
    if not layout.opacity:
        return np.ones(shares.shape[:2], np.float32)
    last = shares[..., -1].astype(np.float32)
    return last if layout.fractions else last / np.float32(WHITE)


def _mixed(inks: Codes) -> Codes:
    """(H, W, 4) inks to (H, W, 3) red, green, blue: (1 - ink)(1 - black)."""
    free = WHITE - inks.astype(np.uint32)
    return ((free[..., :3] * free[..., 3:] + WHITE // 2) // WHITE).astype(np.uint16)


def _light(color: NDArray[Any], deep: _Deep) -> Float32Array:
    if deep.channel == "black":
        color = color.max(axis=2, keepdims=True)
    if color.shape[-1] == 1:
        only = color[..., 0]
        return only if deep.layout.fractions else np.take(deep.light, only)
    light = np.zeros(color.shape[:2], np.float32)
    for band, weight in enumerate(CHANNEL_WEIGHTS[deep.channel]):
        if weight:
            part = color[..., band]
            light += np.float32(weight) * (
                part if deep.layout.fractions else np.take(deep.light, part)
            )
    return light


def _codes_of(light: Float32Array, channel: str) -> Codes:
    steps = np.clip(light, 0, 1) * np.float32(_STEPS) + np.float32(0.5)
    return np.take(_code_table(channel == "lightness"), steps.astype(np.int32))


@lru_cache(maxsize=2)
def _code_table(as_lightness: bool) -> Codes:
    light = np.arange(_STEPS + 1) / _STEPS
    share = lightness(light) / 100 if as_lightness else linear_to_srgb(light)
    return np.round(share * WHITE).astype(np.uint16)
