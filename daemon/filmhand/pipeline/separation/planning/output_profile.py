"""What an ICC output profile says of its four inks: how colors become them, and what they print.

A profile holds both ways (ICC.1:2022, 8.5: its tables B2A and A2B), which littlecms follows. Eight
bits is all that the binding takes, so colors become inks on a grid whose codes are whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from itertools import product
from typing import Any

import numpy as np
from PIL import Image, ImageCms

from filmhand.arrays import Float64Array, UInt8Array
from filmhand.ink.cielab import lab_to_xyz
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_table import ColorTable, grid_codes
from filmhand.ink.mixing import PrintModel, lab_to_bands
from filmhand.profile.icc import RenderingIntent
from filmhand.values import dataclass

INK_COUNT = 4
_BLACK = 3
_GRID = 52  # colors to a side: codes of the grid are five apart
_TINTS = (64, 128, 191)
_EXPONENTS = np.arange(10, 101) / 10
_LIGHTEST_BLACK = 50.0  # L* of a black point, at most (ISO 18619:2015, from memory)


_INTENTS = {
    RenderingIntent.RELATIVE: ImageCms.Intent.RELATIVE_COLORIMETRIC,
    RenderingIntent.PERCEPTUAL: ImageCms.Intent.PERCEPTUAL,
    RenderingIntent.SATURATION: ImageCms.Intent.SATURATION,
    RenderingIntent.ABSOLUTE: ImageCms.Intent.ABSOLUTE_COLORIMETRIC,
}


@dataclass(frozen=True, slots=True, eq=False)
class OutputProfile:
    """A press as an ICC output profile describes it; cyan, magenta, yellow and black.

    Attributes
    ----------
    name : what it calls itself, empty where it does not
    table : from sRGB codes 0..1 to the coverage of each ink, 0..1
    model : what they print on the profile's own white, which counts as white
    colors : (4, 3) float64, L*, a*, b* of a solid of each
    black : light of what black becomes, 0..1 of the white's
    """

    name: str
    table: ColorTable
    model: PrintModel
    colors: Float64Array
    black: float = 0.0

    def only(self, places: Sequence[int]) -> OutputProfile:
        """The same of some of the inks, where nothing is printed in the others."""
        bits = [sum(1 << place for k, place in enumerate(places) if number >> k & 1)
                for number in range(1 << len(places))]  # fmt: skip
        kept = list(places)
        table = ColorTable(self.table.values[..., kept])
        model = PrintModel(self.model.primaries[bits], self.model.yule_nielsen)
        return OutputProfile(self.name, table, model, self.colors[kept], self.black)


def output_profile(
    data: bytes, *, intent: RenderingIntent = RenderingIntent.RELATIVE, total_ink: float = np.inf
) -> OutputProfile:
    """What a profile of four inks says.

    Parameters
    ----------
    data : the profile's file
    intent : the relative one goes with black point compensation (ISO 18619:2015)
    total_ink : the most that the coverages of a place add up to, 3 for 300 %; black is kept, and
        the others are cut by one factor

    Raises
    ------
    ValueError
        Where it cannot be followed, or is no output profile of these four inks.
    """
    try:
        opened = ImageCms.ImageCmsProfile(BytesIO(data))
        space = opened.profile.xcolor_space.strip()
        kind = opened.profile.device_class.strip()
        if (space, kind) != ("CMYK", "prtr"):
            raise ValueError(f"a profile of the class {kind} for {space}")
        coverages = _separated(opened, intent)
        lab = ImageCms.createProfile("LAB")
        proof = ImageCms.buildTransform(
            opened, lab, "CMYK", "LAB", ImageCms.Intent.RELATIVE_COLORIMETRIC
        )
        name = _plain(ImageCms.getProfileDescription(opened))
    # The binding raises PyCMSError, OSError, TypeError or ValueError, by what is broken.
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError) as fault:
        raise ValueError(f"no output profile that can be followed: {fault}") from fault
    solids = np.array(list(product((0, 255), repeat=INK_COUNT)), np.uint8)[:, ::-1]
    primaries = lab_to_bands(_printed(proof, solids))
    model = PrintModel(primaries, _exponent(proof, primaries))
    colors = _printed(proof, np.eye(INK_COUNT, dtype=np.uint8) * np.uint8(255))
    table = ColorTable.of(_limited(coverages, total_ink))
    return OutputProfile(name, table, model, colors, _black(table, model))


def _black(table: ColorTable, model: PrintModel) -> float:
    """Light of the neutral that is as light as what black becomes in print."""
    lightness = min(float(model.screened(table.at(np.zeros(3)))[0]), _LIGHTEST_BLACK)
    return float(lab_to_xyz(np.array([lightness, 0.0, 0.0]))[1])


def _separated(opened: ImageCms.ImageCmsProfile, intent: RenderingIntent) -> Float64Array:
    """(grid ** 3, 4) coverages of the codes of the grid."""
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"),
        opened,
        "RGB",
        "CMYK",
        _INTENTS[intent],
        ImageCms.Flags.BLACKPOINTCOMPENSATION
        if intent is RenderingIntent.RELATIVE
        else ImageCms.Flags(0),
    )
    codes = np.rint(grid_codes(_GRID) * 255).astype(np.uint8)
    return _through(transform, codes, "RGB") / 255


def _printed(proof: ImageCms.ImageCmsTransform, inks: UInt8Array) -> Float64Array:
    """(m, 3) L*, a*, b* of (m, 4) inks, 255 for a solid."""
    lab = _through(proof, inks, "CMYK").astype(np.float64)
    opposed = np.where(lab[:, 1:] > 127, lab[:, 1:] - 256, lab[:, 1:])
    return np.concatenate([lab[:, :1] * (100 / 255), opposed], axis=1)


def _through(transform: ImageCms.ImageCmsTransform, values: UInt8Array, mode: str) -> UInt8Array:
    """(m, k) what a transform makes of (m, n) values."""
    image = Image.fromarray(np.ascontiguousarray(values[None]), mode)
    made: Any = ImageCms.applyTransform(image, transform)
    found: UInt8Array = np.asarray(made)[0]
    return found


def _exponent(proof: ImageCms.ImageCmsTransform, primaries: Float64Array) -> float:
    """The Yule-Nielsen exponent that tints of single inks are printed with, in tenths."""
    tints = np.zeros((INK_COUNT, len(_TINTS), INK_COUNT), np.uint8)
    for ink in range(INK_COUNT):
        tints[ink, :, ink] = _TINTS
    flat = tints.reshape(-1, INK_COUNT)
    wanted = _printed(proof, flat)
    off = [
        color_difference(wanted, PrintModel(primaries, n).screened(flat / 255)).mean()
        for n in _EXPONENTS
    ]
    return float(_EXPONENTS[int(np.argmin(off))])


def _limited(coverages: Float64Array, total: float) -> Float64Array:
    """Coverages that add up to the total at most."""
    black = np.minimum(coverages[:, _BLACK:], total)
    colors = coverages[:, :_BLACK]
    room = np.minimum((total - black) / np.maximum(colors.sum(axis=1, keepdims=True), 1e-12), 1)
    return np.concatenate([colors * room, black], axis=1)


def _plain(description: str) -> str:
    """A profile's own name fit for a sentence: it comes from a stranger's file."""
    return "".join(c for c in description if c.isprintable()).strip()[:60]
