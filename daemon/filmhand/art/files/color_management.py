"""Embedded color profiles, followed by littlecms: to sRGB, relative colorimetric, black point
compensation. Eight bits is all that the binding takes; sixteen-bit gray goes through a curve.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
from PIL import Image, ImageCms

from filmhand.arrays import Float32Array, Float64Array, UInt16Array
from filmhand.art.files.file_words import FileNote
from filmhand.values import dataclass

_MOST_PROFILE_BYTES = 4 * 2**20


@dataclass(slots=True)
class ColorManagement:
    """How to follow a profile: a transform for color, a curve for gray, or nothing to do.

    curve : (256,) float64, the sRGB code 0..255 of each gray code, or None.
    """

    transform: ImageCms.ImageCmsTransform | None = None
    curve: Float64Array | None = None
    note: str | None = None


def manage(profile: bytes | None, *, mode: str) -> ColorManagement:
    """What to do for art of Pillow mode RGB, CMYK, LAB or L that embeds ``profile``.

    A profile that is broken or belongs to another kind of colors is left aside, with a note.
    """
    if mode == "LAB":
        return ColorManagement(_build(ImageCms.createProfile("LAB"), "LAB"))
    if not profile:
        return ColorManagement()
    followed = _follow(profile, mode) if len(profile) <= _MOST_PROFILE_BYTES else None
    if followed is not None:
        return followed
    broken = FileNote.BROKEN_INK_PROFILE if mode == "CMYK" else FileNote.BROKEN_PROFILE
    return ColorManagement(note=broken.say())


def _follow(profile: bytes, mode: str) -> ColorManagement | None:
    """How to follow the profile, or None if it is no use for this mode."""
    try:
        opened = ImageCms.ImageCmsProfile(BytesIO(profile))
        name = _plain(ImageCms.getProfileDescription(opened))
        if mode == "L":
            return _gray(opened, opened.profile.xcolor_space.strip(), name)
        transform = _build(opened, mode)
    # The binding raises PyCMSError, OSError, TypeError or ValueError, by what is broken.
    except Exception:
        return None
    if mode == "RGB" and _changes_nothing(transform):
        return ColorManagement()
    note = FileNote.NAMED_PROFILE.say(profile=name) if name else FileNote.PROFILE.say()
    return ColorManagement(transform, note=note)


def _build(profile: Any, mode: str, *, exact: bool = False) -> ImageCms.ImageCmsTransform:
    return ImageCms.buildTransform(
        profile,
        ImageCms.createProfile("sRGB"),
        mode,
        "RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        # Unasked, littlecms bends the shadows of steep gray curves by ten codes to save time.
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION
        | (ImageCms.Flags.NOOPTIMIZE if exact else ImageCms.Flags(0)),
    )


def _plain(description: str) -> str:
    """A profile's own name fit for a sentence: it comes from a stranger's file."""
    return "".join(c for c in description if c.isascii() and c.isprintable()).strip()[:60]


def _gray(opened: ImageCms.ImageCmsProfile, space: str, name: str) -> ColorManagement | None:
    ramp = np.arange(256, dtype=np.uint8)[None, :]
    if space == "GRAY":
        image, mode = Image.fromarray(ramp), "L"
    elif space == "RGB":  # gray art often carries the color profile of its origin
        image, mode = Image.fromarray(np.repeat(ramp[..., None], 3, axis=2)), "RGB"
    else:
        return None
    out = np.asarray(ImageCms.applyTransform(image, _build(opened, mode, exact=True)))[0, :, 1]
    curve = out.astype(np.float64)
    if np.abs(curve - np.arange(256)).max() <= 1:
        return ColorManagement()
    note = FileNote.NAMED_GRAY_PROFILE.say(profile=name) if name else FileNote.GRAY_PROFILE.say()
    return ColorManagement(curve=curve, note=note)


def _changes_nothing(transform: ImageCms.ImageCmsTransform) -> bool:
    """True for a profile that is sRGB itself, to within the rounding of eight bits.

    Following it would cost time and shift flat tints by a code.
    """
    steps = np.linspace(0, 255, 17).astype(np.uint8)
    lattice = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(1, -1, 3)
    after = np.asarray(ImageCms.applyTransform(Image.fromarray(lattice), transform))
    return bool(np.abs(after.astype(int) - lattice).max() <= 2)


def curve_to_codes(curve: Float64Array) -> UInt16Array:
    """A curve of 256 points as a table of all 65536 codes, interpolated.

    >>> table = curve_to_codes(np.arange(256.0))
    >>> int(table[0]), int(table[257]), int(table[65535])
    (0, 257, 65535)
    """
    codes = np.interp(np.arange(65536), np.arange(256) * 257, curve * 257)
    return np.round(codes).astype(np.uint16)


# From XYZ under D50, which CIELAB in files is meant for, to light of sRGB's primaries: the inverse
# of the matrix of sRGB's ICC profile (ICC, "sRGB.icc", colorants adapted by Bradford).
_D50 = np.array([0.96422, 1.0, 0.82521])
_TO_SRGB = np.linalg.inv(
    np.array(
        [
            [0.436065674, 0.385147095, 0.143066406],
            [0.222488403, 0.716873169, 0.060607910],
            [0.013916016, 0.097076416, 0.714096069],
        ]
    )
)


def light_of_lab(lab: Float32Array) -> Float32Array:
    """(H, W, 3) L* 0..100, a* and b* (CIE 15, D50) -> light of sRGB's red, green, blue, 0..1."""
    across = (lab[..., :1] + 16) / 116
    f = np.concatenate([across + lab[..., 1:2] / 500, across, across - lab[..., 2:3] / 200], -1)
    xyz = np.where(f > 6 / 29, f**3, (f - 4 / 29) * (3 * (6 / 29) ** 2)) * _D50
    light: Float32Array = np.clip(xyz @ _TO_SRGB.T, 0, 1).astype(np.float32)
    return light
