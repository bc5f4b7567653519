"""Pixels to coded gray: the sRGB code whose light is the pixel's relative luminance.

Formulas: IEC 61966-2-1 (sRGB decoding and its inverse; luminance weights of its primaries,
ITU-R BT.709) and CIE 15 (lightness, with the rational constants that leave no step).

Codes are uint16: 0 is black, 65535 white, and an 8-bit code g is exactly 257 g.
"""

from __future__ import annotations

from functools import cached_property, lru_cache

import numpy as np

from filmhand.arrays import (
    Float32Array,
    Float64Array,
    Int32Array,
    Int64Array,
    UInt8Array,
    UInt16Array,
)
from filmhand.kernels.loops import compiled
from filmhand.tone import linear_table, linear_to_srgb, srgb_to_linear

Codes = UInt16Array

WHITE = 65535
# Light is summed in whole 1/2**20: a step is then 0.8 of a 16-bit code in the darkest part, where
# the curve is steepest, and the table of codes (2 MiB) still fits a processor's cache.
_LIGHT_STEPS = 1 << 20
_LUMINANCE = (0.2126, 0.7152, 0.0722)
# Shares of red, green and blue light in the gray of a channel; they add up to 1.
CHANNEL_WEIGHTS: dict[str, tuple[float, float, float]] = {
    "luminance": _LUMINANCE,
    "lightness": _LUMINANCE,
    "red": (1.0, 0.0, 0.0),
    "green": (0.0, 1.0, 0.0),
    "blue": (0.0, 0.0, 1.0),
    # Without ink planes cyan, magenta and yellow are the complements of red, green and blue;
    # the more ink, the darker the gray, so the gray is the color channel itself.
    "cyan": (1.0, 0.0, 0.0),
    "magenta": (0.0, 1.0, 0.0),
    "yellow": (0.0, 0.0, 1.0),
    "black": _LUMINANCE,
}


def lightness(light: Float64Array) -> Float64Array:
    """CIE L* 0..100 of relative luminance 0..1 (CIE 15).

    >>> round(float(lightness(np.array(0.215861))), 3)
    53.585
    """
    light = np.asarray(light, np.float64)
    return np.where(light > 216 / 24389, 116 * np.cbrt(light) - 16, 24389 / 27 * light)


@lru_cache(maxsize=1)
def light_of_codes() -> Float32Array:
    """Light 0..1 of every 16-bit code: (65536,) float32. Do not write to it."""
    table = linear_table().astype(np.float32)
    table.flags.writeable = False
    return table


@lru_cache(maxsize=1)
def codes_of_light() -> Codes:
    """The 16-bit code of light k/65535 for every k: (65536,) uint16. Do not write to it."""
    table = np.round(linear_to_srgb(np.arange(65536) / WHITE) * WHITE).astype(np.uint16)
    table.flags.writeable = False
    return table


@lru_cache(maxsize=1)
def lightness_of_codes() -> Codes:
    """L*/100 as a 16-bit code for every 16-bit gray code: (65536,) uint16. Do not write to it."""
    table = np.round(lightness(linear_table()) / 100 * WHITE).astype(np.uint16)
    table.flags.writeable = False
    return table


def _codes_of_steps() -> Codes:
    """The 16-bit code of light k/2**20 for every k: (2**20 + 1,) uint16.

    Only at the ends of its steps is the curve worked out: the code rises with the light, by less
    than one a step.
    """
    codes = np.arange(1, WHITE + 1)
    begins = np.ceil(srgb_to_linear((codes - 0.5) / WHITE) * _LIGHT_STEPS).astype(np.int64)
    # The way back may be off by a rounding, so it is the curve itself that decides.
    begins += _code_of_step(begins) < codes
    begins -= _code_of_step(begins - 1) >= codes
    steps = np.diff(begins, prepend=0, append=_LIGHT_STEPS + 1)
    return np.repeat(np.arange(WHITE + 1, dtype=np.uint16), steps)


def _code_of_step(step: Int64Array) -> Float64Array:
    return np.round(linear_to_srgb(step / _LIGHT_STEPS) * WHITE)


@lru_cache(maxsize=1)
def codes_of_srgb_steps() -> Codes:
    """The 16-bit code of light k/2**20, of an 8-bit sRGB code g exactly 257 g: (2**20 + 1,) uint16.

    Do not write to it.
    """
    table = _codes_of_steps()
    whole = np.round(srgb_to_linear(np.arange(256) / 255) * _LIGHT_STEPS).astype(np.int32)
    table[whole] = np.arange(256) * 257
    table.flags.writeable = False
    return table


class GrayTables:
    """Turns 8-bit RGBX pixels into coded gray by table, exactly 257 g where R = G = B = g.

    Parameters
    ----------
    channel : str
        One of luminance, lightness, red, green, blue, cyan, magenta, yellow, black.
    light : (256,) float64, optional
        Light 0..1 of each 8-bit code; sRGB unless given.

    Raises
    ------
    KeyError
        For a channel that is no weighting of colors (alpha).
    """

    def __init__(self, channel: str, *, light: Float64Array | None = None) -> None:
        """Builds the tables."""
        weights = CHANNEL_WEIGHTS[channel]
        self._is_srgb, self._is_lightness = light is None, channel == "lightness"
        if light is None:
            light = srgb_to_linear(np.arange(256) / 255)
        whole = np.round(light * _LIGHT_STEPS).astype(np.int32)
        red = np.round(light * weights[0] * _LIGHT_STEPS).astype(np.int32)
        blue = np.round(light * weights[2] * _LIGHT_STEPS).astype(np.int32)
        green = whole - red - blue  # so that grays add up exactly
        self._shares = np.stack([red, green, blue])
        self._darkest = channel == "black"

    @cached_property
    def _code(self) -> Codes:
        """The code of each step of light; made once pixels come, while more are decoded."""
        codes = codes_of_srgb_steps() if self._is_srgb else _codes_of_steps()
        return lightness_of_codes()[codes] if self._is_lightness else codes

    @cached_property
    def _pairs(self) -> tuple[Int32Array, Int32Array]:
        """Light by two bytes of a pixel: red + 256 green, and blue + 256 (whatever)."""
        red, green, blue = self._shares
        return (green[:, None] + red[None, :]).ravel(), np.tile(blue, 256)

    def coded(self, pixels: UInt8Array, *, alpha: bool) -> Codes:
        """(H, W, 4) uint8 R, G, B and opacity (or nothing) -> (H, W) uint16 coded gray.

        With ``alpha`` the pixels are laid over white, in linear light, as bare film is white.
        """
        if self._darkest:
            pixels = pixels.copy()
            pixels[..., :3] = pixels[..., :3].max(axis=2, keepdims=True)
        pixels = np.ascontiguousarray(pixels)
        loops = compiled()
        if loops is None:
            return self._looked_up(pixels, alpha=alpha)
        coded = np.empty(pixels.shape[:2], np.uint16)
        loops.code_pixels(pixels, self._shares, self._code, alpha, coded)
        return coded

    def _looked_up(self, pixels: UInt8Array, *, alpha: bool) -> Codes:
        """What the loop in C does; two channels a look-up."""
        pairs, (red_green, blue) = pixels.view("<u2"), self._pairs
        light = np.take(red_green, pairs[..., 0])
        light += np.take(blue, pairs[..., 1])
        if alpha:
            opacity = pixels[..., 3]
            if opacity.min() < 255:
                # White is _LIGHT_STEPS; int64 because the product passes 2**31 steps.
                shade = (_LIGHT_STEPS - light).astype(np.int64) * opacity
                light = (_LIGHT_STEPS - (shade + 127) // 255).astype(np.int32)
        return np.take(self._code, light, mode="clip")


def opacity_as_ink(opacity: UInt8Array) -> Codes:
    """Opacity 0..255 as coded gray: black where it is full, white where there is none."""
    return (WHITE - opacity.astype(np.uint16) * 257).astype(np.uint16)


def over_white(coded: Codes, opacity: UInt8Array) -> Codes:
    """Coded gray laid over white with the given opacity 0..255, in linear light."""
    light = light_of_codes()[coded].astype(np.float64)
    share = opacity.astype(np.float64) / 255
    mixed = linear_to_srgb(1 - (1 - light) * share)
    result = np.round(mixed * WHITE).astype(np.uint16)
    return np.where(opacity == 255, coded, result)
