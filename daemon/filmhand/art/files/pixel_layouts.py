"""One function for each pixel layout: a strip of decoded pixels in, coded gray out.

A plan is chosen once for an image; it then serves every strip, from several threads at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from typing import cast

import numpy as np
from PIL import Image, ImageCms

from filmhand.arrays import Float64Array, UInt8Array
from filmhand.art.files.color_management import ColorManagement, curve_to_codes, manage
from filmhand.art.files.decode import ExaminedFile, damaged
from filmhand.art.files.file_types import FileType
from filmhand.art.files.file_words import DamageWord, FileNote, FileRefusal
from filmhand.art.files.gray import (
    WHITE,
    Codes,
    GrayTables,
    lightness_of_codes,
    opacity_as_ink,
    over_white,
)
from filmhand.art.files.tiff_structure import Directory, Tag
from filmhand.errors import Refused
from filmhand.tone import linear_to_srgb, srgb_to_linear
from filmhand.values import dataclass

StripReader = Callable[[Image.Image], Codes]
INKS = {"cyan": 0, "magenta": 1, "yellow": 2, "black": 3}
_ALPHA_MODES = frozenset({"RGBA", "LA", "RGBa", "La", "PA"})


@dataclass(slots=True)
class PixelLayout:
    """How each strip becomes coded gray, whether art can be see-through, and what to record.

    Attributes
    ----------
    pixels : the same of strips that come as (h, w, 4) uint8 red, green, blue and 255; None for art
        that does not
    """

    strip: StripReader
    transparent: bool = False
    notes: list[str] = field(default_factory=list)
    pixels: Callable[[UInt8Array], Codes] | None = None


def layout_of_pixels(
    image: Image.Image, art: ExaminedFile, *, channel: str, directory: Directory | None
) -> PixelLayout:
    """The plan for a decoded image.

    Raises Refused where the channel asked for is not there, or the numbers are not.
    """
    mode = image.mode
    if mode in ("F", "I") or mode.startswith("I;16"):
        made = _deep_gray(image, art, channel=channel, directory=directory)
    elif mode in ("1", "L", "P"):
        made = _indexed(image, art, channel=channel)
    elif mode == "CMYK":
        made = _inks(image, art, channel=channel)
    else:
        made = _color(image, art, channel=channel)
    if channel == "alpha" and not made.transparent:
        raise no_transparency(art.name)
    made.notes += _cut_notes(image, art, directory)
    if channel == "lightness":
        made.notes.append(FileNote.LIGHTNESS.say())
    return made


def computed_plane_note(channel: str) -> str:
    """The note for art that is asked for an ink and has none."""
    if channel == "black":
        return FileNote.COMPUTED_BLACK.say()
    return FileNote.COMPUTED_INK.say(channel=channel)


def no_transparency(name: str) -> Refused:
    """The refusal of channel alpha where every pixel is opaque."""
    return FileRefusal.NO_TRANSPARENCY.refused(name=name)


def cut_note(bits: int) -> str:
    """The note of deep color that was cut to eight bits."""
    return FileNote.CUT_TO_EIGHT_BITS.say(bits=bits)


def _cut_notes(image: Image.Image, art: ExaminedFile, directory: Directory | None) -> list[str]:
    notes = []
    deep_png = art.kind is FileType.PNG and art.head[24] == 16 and art.head[25] in (2, 4, 6)
    bits = directory.bits if directory else 8
    samples = directory.one(Tag.SAMPLES_PER_PIXEL, 1) if directory else 1
    if deep_png or (bits > 8 and len(image.getbands()) > 1):
        notes.append(cut_note(max(bits, 16)))
    kept = len(image.getbands())
    if samples > max(4, kept):
        notes.append(FileNote.CHANNELS_LEFT_OUT.say(found=samples, kept=kept))
    return notes


def own_gamma(image: Image.Image) -> float | None:
    """The gamma that a PNG gives where nothing better says what its numbers mean.

    W3C PNG (third edition) 11.3.2.2 and 13.13: iCCP and sRGB go before gAMA; light is the value
    to the power 1/gamma. 1/2.2 is what sRGB files say.
    """
    gamma = image.info.get("gamma")
    better = "icc_profile" in image.info or "srgb" in image.info
    if not isinstance(gamma, float) or better or not 0.1 <= gamma <= 5:
        return None
    return None if abs(gamma - 1 / 2.2) < 0.02 else gamma


def gamma_note(gamma: float) -> str:
    """The note for art whose numbers :func:`own_gamma` gives a meaning."""
    return FileNote.GAMMA.say(gamma=f"{gamma:.4g}")


def _managed(
    image: Image.Image, mode: str
) -> tuple[ColorManagement, Float64Array | None, list[str]]:
    """How to follow its color profile, light of each 8-bit code by its own gamma, and the notes."""
    management = manage(image.info.get("icc_profile"), mode=mode)
    if management.note:
        return management, None, [management.note]
    gamma = own_gamma(image)
    if gamma is None:
        return management, None, []
    return management, (np.arange(256) / 255) ** (1 / gamma), [gamma_note(gamma)]


def _color(image: Image.Image, art: ExaminedFile, *, channel: str) -> PixelLayout:
    mode = image.mode
    management, light, notes = _managed(image, "LAB" if mode == "LAB" else "RGB")
    key = image.info.get("transparency")
    alpha = mode in _ALPHA_MODES or (mode == "RGB" and isinstance(key, tuple))
    if channel in INKS:
        notes.append(computed_plane_note(channel))
    deep = art.kind is FileType.PNG and art.head[24] == 16
    ready = _rgbx_reader(mode, management.transform, key=key, deep=deep)
    if channel == "alpha":
        return PixelLayout(lambda strip: opacity_as_ink(ready(strip)[..., 3]), alpha, notes)
    tables = GrayTables(channel, light=light)

    def of_pixels(pixels: UInt8Array) -> Codes:
        if management.transform is not None:
            size = pixels.shape[1], pixels.shape[0]
            pixels = ready(Image.frombuffer("RGBX", size, pixels, "raw", "RGBX", 0, 1))
        return tables.coded(pixels, alpha=False)

    return PixelLayout(
        lambda strip: tables.coded(ready(strip), alpha=alpha),
        alpha,
        notes,
        None if alpha else of_pixels,
    )


def _rgbx_reader(
    mode: str,
    transform: ImageCms.ImageCmsTransform | None,
    *,
    key: object = None,
    deep: bool = False,
) -> Callable[[Image.Image], UInt8Array]:
    """A function from a strip to (h, w, 4) uint8: R, G, B and opacity."""

    def read(strip: Image.Image) -> UInt8Array:
        opacity = None
        if strip.mode == "RGBX":
            strip = strip.convert("RGB")
        if mode in _ALPHA_MODES:
            strip = strip.convert("RGBA")
            if transform is not None:
                opacity = np.asarray(strip.getchannel("A"))
                strip = Image.merge("RGB", strip.split()[:3])
        if transform is not None:
            strip = ImageCms.applyTransform(strip, transform) or strip
        elif strip.mode not in ("RGB", "RGBA"):
            strip = strip.convert("RGB")
        raw = strip.tobytes("raw", "RGBA" if strip.mode == "RGBA" else "RGBX")
        pixels = np.frombuffer(raw, np.uint8).reshape(strip.height, strip.width, 4)
        if opacity is not None or isinstance(key, tuple):
            pixels = pixels.copy()
        if opacity is not None:
            pixels[..., 3] = opacity
        elif isinstance(key, tuple):
            # A key color of 16 bits was cut like the pixels; others with its upper half go too.
            color = [value >> 8 if deep else value for value in key]
            pixels[..., 3] = np.where((pixels[..., :3] == color).all(axis=2), 0, 255)
        return pixels

    return read


def _indexed(image: Image.Image, art: ExaminedFile, *, channel: str) -> PixelLayout:
    """Modes 1, L and P: 256 colors at most, so one table of 256 codes does everything."""
    mode = image.mode
    management, light, notes = _managed(image, "RGB" if mode == "P" else "L")
    if mode == "P":
        rgba = _palette(image)
        if management.transform is not None:
            row = Image.fromarray(np.ascontiguousarray(rgba[None, :, :3]))
            out = ImageCms.applyTransform(row, management.transform) or row
            rgba[:, :3] = np.asarray(out)[0]
    else:
        rgba = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 4, axis=1)
        rgba[:, 3] = 255
        key = image.info.get("transparency")
        if isinstance(key, int):
            rgba[_scaled_key(key, art, mode), 3] = 0
    if management.curve is not None:
        light = srgb_to_linear(management.curve / 255)
    transparent = bool(rgba[:, 3].min() < 255)
    if channel == "alpha":
        table = opacity_as_ink(rgba[:, 3])
    else:
        table = GrayTables(channel, light=light).coded(rgba[None], alpha=True)[0]
    return PixelLayout(lambda strip: table[_bytes(strip)], transparent, notes)


def _bytes(strip: Image.Image) -> UInt8Array:
    if strip.mode == "1":
        strip = strip.convert("L")
    return np.frombuffer(strip.tobytes(), np.uint8).reshape(strip.height, strip.width)


def _scaled_key(key: int, art: ExaminedFile, mode: str) -> int:
    """The transparent gray of a PNG of 2 or 4 bits, whose pixels were scaled to 8."""
    bits = art.head[24] if art.kind is FileType.PNG and mode == "L" else 8
    return min(255, key * 255 // (2**bits - 1)) if bits < 8 else min(255, key)


def _palette(image: Image.Image) -> UInt8Array:
    """(256, 4) uint8 RGBA of every palette index; indices beyond the palette are black."""
    rgba = np.zeros((256, 4), np.uint8)
    rgba[:, 3] = 255
    if image.palette is not None:
        colors = np.array(image.getpalette("RGBA"), np.uint8).reshape(-1, 4)
        rgba[: len(colors)] = colors
        if image.palette.mode == "RGB":
            rgba[:, 3] = 255
    key = image.info.get("transparency")
    if isinstance(key, bytes):
        rgba[: len(key), 3] = np.frombuffer(key[:256], np.uint8)
    elif isinstance(key, int) and 0 <= key < 256:
        rgba[key, 3] = 0
    return rgba


def _inks(image: Image.Image, art: ExaminedFile, *, channel: str) -> PixelLayout:
    notes = []
    if art.kind is FileType.JPEG and "adobe" not in image.info:
        notes.append(FileNote.INKS_INVERTED.say())
    if channel in INKS:
        band = INKS[channel]
        return PixelLayout(
            lambda strip: opacity_as_ink(_bytes(strip.getchannel(band))), notes=notes
        )
    if channel == "alpha":
        return PixelLayout(lambda strip: np.zeros(strip.size[::-1], np.uint16))
    extremes = image.getextrema()
    if all(isinstance(one, tuple) and one[1] == 0 for one in extremes[:3]):
        notes.append(FileNote.BLACK_INK.say())
        management = ColorManagement()
    else:
        management = manage(image.info.get("icc_profile"), mode="CMYK")
        notes.append(management.note or FileNote.PLAIN_INKS.say())
    ready = _rgbx_reader("CMYK", management.transform)
    tables = GrayTables(channel)
    return PixelLayout(lambda strip: tables.coded(ready(strip), alpha=False), notes=notes)


def _deep_gray(
    image: Image.Image, art: ExaminedFile, *, channel: str, directory: Directory | None
) -> PixelLayout:
    """Modes I;16, I and F: gray of more than eight bits."""
    numbers, notes = _numbers(image, art, directory)
    management, light, more = _managed(image, "L")
    table = np.arange(65536, dtype=np.uint16)
    if management.curve is not None:
        table = curve_to_codes(management.curve)
    elif light is not None:
        table = curve_to_codes(linear_to_srgb(light) * 255)
    if directory and directory.one(Tag.PHOTOMETRIC, 1) == 0:
        table = table[::-1]
    if channel == "lightness":
        table = lightness_of_codes()[table]
    notes += more
    key = image.info.get("transparency")
    if not isinstance(key, int):
        return PixelLayout(lambda strip: table[numbers(strip)], notes=notes)

    def with_key(strip: Image.Image) -> Codes:
        codes = numbers(strip)
        opacity = np.where(codes == key, 0, 255).astype(np.uint8)
        if channel == "alpha":
            return opacity_as_ink(opacity)
        return over_white(table[codes], opacity)

    return PixelLayout(with_key, True, notes)


def _numbers(
    image: Image.Image, art: ExaminedFile, directory: Directory | None
) -> tuple[StripReader, list[str]]:
    """A function from a strip to 16-bit codes, before any color management."""
    if image.mode.startswith("I;16"):
        own = directory is not None and not directory.has_own_inks  # those are words by now
        bits = directory.one(Tag.BITS_PER_SAMPLE, 16) if directory and own else 16
        most = (1 << min(16, max(1, bits))) - 1

        def sixteen(strip: Image.Image) -> Codes:
            codes = np.asarray(strip).astype(np.uint16)
            if most == WHITE:
                return codes
            return (np.minimum(codes, most).astype(np.uint32) * WHITE // most).astype(np.uint16)

        return sixteen, []
    whole = directory.one(Tag.SAMPLE_FORMAT, 1) == 1 if directory else False
    unsigned = whole and image.mode == "I"
    low, high = cast(tuple[float, float], image.getextrema())
    if not (np.isfinite(low) and np.isfinite(high)):
        raise damaged(art.name, DamageWord.NOT_NUMBERS)
    if unsigned and low < 0:
        high = 2.0**32 - 1  # the decoder's numbers are signed, the file's are not
    white = next(
        (w for w, top in ((1.0, 1.5), (255.0, 255.5), (65535.0, 65535.5)) if high <= top),
        65535.0 if image.mode == "F" else 2.0**32 - 1 if unsigned else 2.0**31 - 1,
    )
    if image.mode == "I" and white == 1.0:
        white = 255.0
    stored = FileNote.CODED_FRACTIONS if image.mode == "F" else FileNote.LARGE_NUMBERS

    def scaled(strip: Image.Image) -> Codes:
        values = np.asarray(strip)
        if unsigned:
            values = values.view(np.uint32)
        if not np.isfinite(values).all():
            raise damaged(art.name, DamageWord.NOT_NUMBERS)
        return np.round(np.clip(values / white, 0, 1) * WHITE).astype(np.uint16)

    return scaled, [stored.say(white=f"{white:g}")]
