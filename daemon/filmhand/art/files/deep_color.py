"""Color of more than eight bits, read strip by strip with all its bits.

The base reader cuts such color to eight bits; the library used here keeps sixteen, and
fractions. Formulas: IEC 61966-2-1 and CIE 15, as in :mod:`filmhand.art.files.gray`.
"""

from __future__ import annotations

import importlib
import os
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import Float32Array
from filmhand.art.files.color_management import curve_to_codes, manage
from filmhand.art.files.file_types import FileType
from filmhand.art.files.gray import WHITE, Codes, channel_weights, light_of_codes, lightness
from filmhand.art.files.tiff_structure import (
    BITS_PER_SAMPLE,
    EXTRA_SAMPLES,
    PHOTOMETRIC,
    SAMPLE_FORMAT,
    SAMPLES_PER_PIXEL,
    Directory,
)
from filmhand.tone import linear_to_srgb

if TYPE_CHECKING:
    from filmhand.art.files.decode import ExaminedFile

_INKS = ("cyan", "magenta", "yellow", "black")
_STRIP_PIXELS = 1_000_000
_STEPS = 1 << 20
_FLOAT = 3
# Color channels by TIFF photometric interpretation: gray, RGB and inks.
_COLORS = {0: 1, 1: 1, 2: 3, 5: 4}
# By PNG color type: RGB, gray with opacity, RGB with opacity.
_PNG_COLORS = {2: 3, 4: 1, 6: 3}


@dataclass(slots=True)
class DeepLayout:
    """How the pixels lie: color channels, opacity behind them, and what the numbers mean."""

    colors: int
    opacity: bool
    fractions: bool = False
    white_is_zero: bool = False


@dataclass(slots=True)
class Deep:
    """An open picture of deep color."""

    image: Any
    layout: DeepLayout
    light: Float32Array
    notes: list[str] = field(default_factory=list)
    inks: bool = False


def layout_of(art: ExaminedFile, directory: Directory | None) -> DeepLayout | None:
    """The layout of color with more than 8 bits; None for everything that the base reads whole."""
    if art.kind is FileType.PNG and len(art.head) > 25 and art.head[24] == 16:
        colors = _PNG_COLORS.get(art.head[25])
        return None if colors is None else DeepLayout(colors, art.head[25] != 2)
    if directory is None or max(directory.tags.get(BITS_PER_SAMPLE, ()), default=1) not in (16, 32):
        return None
    photometric = directory.one(PHOTOMETRIC, 1)
    samples = directory.one(SAMPLES_PER_PIXEL, 1)
    colors = _COLORS.get(photometric)
    if colors is None or samples < max(2, colors):
        return None
    # 1 is color stored times its opacity, which the library divides again; 2 is plain.
    extra = directory.one(EXTRA_SAMPLES, 0) if samples > colors else 0
    return DeepLayout(
        colors,
        opacity=extra in (1, 2),
        fractions=directory.one(SAMPLE_FORMAT, 1) == _FLOAT,
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


def open_deep(
    vips: Any,
    art: ExaminedFile,
    layout: DeepLayout,
    *,
    page: int,
    channel: str,
    gamma: float | None,
) -> Deep:
    """The picture, color-managed, to be read once from top to bottom.

    gamma : the file's own, where nothing better says what its numbers mean.
    """
    image = _load(vips, art, page)
    profile = image.get("icc-profile-data") if image.get_typeof("icc-profile-data") else None
    if image.bands > layout.colors and art.kind is FileType.PNG:
        layout.opacity = True  # a key color counts as opacity
    light = light_of_codes()
    notes: list[str] = []
    if image.bands > layout.colors + layout.opacity:
        notes.append("Channels beyond color and opacity were left out.")
    color = image[0 : layout.colors] if image.bands > layout.colors else image
    inks = layout.colors == 4
    if layout.fractions:
        notes.append("The art stores fractions; they were taken as linear light, white at 1.")
    elif inks and channel in _INKS:
        pass  # a plane is taken as it is
    elif inks and _only_black(_load(vips, art, page)):
        notes.append("Only the black ink is used; it was taken as it is.")
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
            notes.append(
                "The inks carry no color profile; they were mixed plainly, (1 - ink)(1 - black)."
            )
    elif gamma is not None:
        light = ((np.arange(WHITE + 1) / WHITE) ** (1 / gamma)).astype(np.float32)
        notes.append(f"The file's own gamma of {gamma:.4g} was applied.")
    if layout.opacity:
        color = color.bandjoin(image[layout.colors])
    return Deep(color, layout, light, notes, inks)


def _load(vips: Any, art: ExaminedFile, page: int) -> Any:
    path = str(art.path)
    # Unasked, the library lets damaged files pass.
    if art.kind is FileType.PNG:
        return vips.Image.pngload(path, access="sequential", fail_on="error")
    frame = art.pages[page]
    return vips.Image.tiffload(path, page=frame, access="sequential", fail_on="error")


def _only_black(image: Any) -> bool:
    return bool(image[0:3].max() == 0)


def fill_rows(vips: Any, deep: Deep, out: Codes, *, channel: str) -> bool:
    """Writes coded gray, laid over white, to ``out``; False where a number is not finite.

    out : (H, W) uint16, the picture as stored.
    """
    image = deep.image
    height, width = out.shape
    rows = max(1, _STRIP_PIXELS // width)
    region = vips.Region.new(image)
    kind = {"uchar": np.uint8, "ushort": np.uint16, "uint": np.uint32, "float": np.float32}[
        image.format
    ]
    for top in range(0, height, rows):
        count = min(rows, height - top)
        raw = np.frombuffer(region.fetch(0, top, width, count), kind)
        pixels = raw.reshape(count, width, image.bands)
        if kind is np.float32 and not np.isfinite(pixels).all():
            return False
        out[top : top + count] = _coded(pixels, deep, channel=channel)
    return True


def _coded(pixels: NDArray[Any], deep: Deep, *, channel: str) -> Codes:
    layout = deep.layout
    shares: NDArray[Any] = (
        np.clip(pixels, 0, 1).astype(np.float32) if layout.fractions else _sixteen(pixels)
    )
    opacity = _opacity(shares, layout)
    if channel == "alpha":
        return np.round((1 - opacity) * WHITE).astype(np.uint16)
    color = shares[..., : deep.image.bands - layout.opacity]
    if deep.inks and channel in _INKS:
        return (WHITE - color[..., _INKS.index(channel)]).astype(np.uint16)
    if deep.inks:
        color = _mixed(color)
    if layout.white_is_zero:
        color = WHITE - color
    light = _light(color, deep, channel=channel)
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


def _opacity(shares: NDArray[Any], layout: DeepLayout) -> Float32Array:
    if not layout.opacity:
        return np.ones(shares.shape[:2], np.float32)
    last = shares[..., -1].astype(np.float32)
    return last if layout.fractions else last / np.float32(WHITE)


def _mixed(inks: Codes) -> Codes:
    """(H, W, 4) inks to (H, W, 3) red, green, blue: (1 - ink)(1 - black)."""
    free = WHITE - inks.astype(np.uint32)
    return ((free[..., :3] * free[..., 3:] + WHITE // 2) // WHITE).astype(np.uint16)


def _light(color: NDArray[Any], deep: Deep, *, channel: str) -> Float32Array:
    if channel == "black":
        color = color.max(axis=2, keepdims=True)
    if color.shape[-1] == 1:
        only = color[..., 0]
        return only if deep.layout.fractions else np.take(deep.light, only)
    light = np.zeros(color.shape[:2], np.float32)
    for band, weight in enumerate(channel_weights(channel)):
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
