"""The layers of a layered working file: those that stand in no group, and whole groups."""

from __future__ import annotations

import struct
from collections.abc import Collection, Iterable, Sequence
from typing import BinaryIO

import numpy as np

from filmhand.arrays import Float32Array, UInt8Array, UInt16Array
from filmhand.art.drawings.vector import InkTest, Sizing
from filmhand.art.files.decode import ExaminedFile, check_pixels, guarded
from filmhand.art.files.orientation import believed_resolution
from filmhand.art.formats.flattened import layered_ppi
from filmhand.art.formats.layer_records import (
    MASK,
    OPACITY,
    Area,
    StoredLayer,
    read_layers,
    stored_channel,
)
from filmhand.art.formats.layered import ColorMode, LayeredFile
from filmhand.art.opened_art import Art
from filmhand.art.plates.art_layers import ArtLayer
from filmhand.art.raster import row_strips
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel
from filmhand.values import dataclass

_COLORS = {ColorMode.GRAY: 1, ColorMode.RGB: 3, ColorMode.CMYK: 4}
_STRIP_PIXELS = 2**19
_DEEPEST = 8


@dataclass(frozen=True, slots=True)
class RasterLayers:
    """A picture in layers; see :class:`filmhand.art.plates.art_layers.LayeredArt`."""

    file: ExaminedFile
    limits: Limits
    layered: LayeredFile
    stored: Sequence[StoredLayer]

    @property
    def layers(self) -> Sequence[ArtLayer]:
        """From the lowest to the topmost."""
        return [
            ArtLayer((one.name,) if one.name else (), place, is_clear=_is_clear(one))
            for place, one in enumerate(self.stored)
        ]

    def drawn(self, layers: Collection[ArtLayer], channel: Channel, sizing: Sizing | None) -> Art:
        """Some of the layers on white, in as many pixels as there are, whatever the size."""
        name, limits, layered = self.file.name, self.limits, self.layered
        check_pixels(layered.width, layered.height, name=name, limits=limits)
        with guarded(name, limits), self.file.path.open("rb") as file:
            canvas = np.zeros((layered.height, layered.width, 4), np.uint8)
            places = sorted(layer.place for layer in layers)
            _lay(file, layered, [self.stored[place] for place in places], canvas)
            notes = list(self.file.notes)
            ppi = believed_resolution(layered_ppi(file, layered), notes)
            coded = _coded(canvas, InkTest(channel))
        return Art(coded, ppi, self.file.kind.value, drawn=False, notes=notes)


def raster_layers(found: ExaminedFile, limits: Limits) -> RasterLayers | None:
    """The layers of a file; None where it has none, or where they are not understood."""
    layered = found.layered
    if layered is None or layered.mode not in _COLORS or layered.bits not in (8, 16):
        return None
    try:
        with found.path.open("rb") as file:
            stored = read_layers(file, layered)
    except (ValueError, struct.error, IndexError):
        return None
    return RasterLayers(found, limits, layered, stored)


def _is_clear(layer: StoredLayer) -> bool:
    """Whether what is drawn here of a layer is what people see of it, if they see it at all."""
    members = layer.members or ()
    return not layer.is_visible or (layer.is_plain and all(map(_is_clear, members)))


def _lay(
    file: BinaryIO,
    layered: LayeredFile,
    layers: Iterable[StoredLayer],
    canvas: UInt8Array,
    depth: int = 0,
) -> None:
    """Lay layers over what there is, (H, W, 4) R, G, B and opacity, in place."""
    if depth > _DEEPEST:
        raise ValueError("groups within each other")
    for layer in layers:
        if not layer.is_visible:
            continue
        whole = Area(0, 0, layered.height, layered.width)
        if layer.members is None:
            area, pixels = _pixels(file, layered, layer)
        else:
            area, pixels = whole, np.zeros_like(canvas)
            _lay(file, layered, layer.members, pixels, depth + 1)
        shown = _clipped(area, whole)
        if not all(shown.shape):
            continue
        mask = _mask(file, layered, layer, whole)
        inside = pixels[
            shown.top - area.top : shown.bottom - area.top,
            shown.left - area.left : shown.right - area.left,
        ]
        target = canvas[shown.top : shown.bottom, shown.left : shown.right]
        for rows in row_strips(shown.shape, _STRIP_PIXELS):
            part: Float32Array = inside[rows].astype(np.float32) / np.float32(255)
            part[..., 3] *= np.float32(layer.opacity)
            if mask is not None:
                part[..., 3] *= mask[shown.top : shown.bottom, shown.left : shown.right][rows] / 255
            target[rows] = _over(part, target[rows])


def _over(above: Float32Array, below: UInt8Array) -> UInt8Array:
    """(h, w, 4) colors and opacity of one laid over the other."""
    ground: Float32Array = below.astype(np.float32) / np.float32(255)
    cover, left = above[..., 3:], ground[..., 3:] * (1 - above[..., 3:])
    opacity = cover + left
    color = (above[..., :3] * cover + ground[..., :3] * left) / np.maximum(opacity, 1e-6)
    made = np.concatenate([color, opacity], axis=-1)
    codes: UInt8Array = np.rint(np.clip(made, 0, 1) * 255).astype(np.uint8)
    return codes


def _pixels(file: BinaryIO, layered: LayeredFile, layer: StoredLayer) -> tuple[Area, UInt8Array]:
    """Where a layer lies, and (h, w, 4) its R, G, B and opacity."""
    area, count = layer.area, _COLORS[ColorMode(layered.mode)]
    rows, columns = area.shape
    if rows * columns > 4 * layered.height * layered.width + 2**20:
        raise ValueError("a layer is far larger than its picture")
    made = np.full((rows, columns, 4), 255, np.uint8)
    if not rows or not columns:
        return area, made

    def channel(number: int) -> UInt8Array:
        return stored_channel(file, layered, layer.channels[number], area.shape)

    if count == 4:
        # Of inks nothing is the largest number; how they show is not asked, but how dark they are.
        black = channel(3).astype(np.uint16)
        for place in range(3):
            made[..., place] = (channel(place) * black + 127) // 255
    else:
        for place in range(3):
            made[..., place] = channel(place if count == 3 else 0)
    if OPACITY in layer.channels:
        made[..., 3] = channel(OPACITY)
    return area, made


def _mask(
    file: BinaryIO, layered: LayeredFile, layer: StoredLayer, whole: Area
) -> UInt8Array | None:
    """(H, W) uint8, how much of a layer its mask shows over the whole picture."""
    if layer.mask is None or MASK not in layer.channels:
        return None
    mask = np.full(whole.shape, round(255 * layer.mask_outside), np.uint8)
    area, shown = layer.mask, _clipped(layer.mask, whole)
    if area.shape[0] * area.shape[1] > 4 * mask.size + 2**20:
        raise ValueError("a mask is far larger than its picture")
    if all(shown.shape):
        plane = stored_channel(file, layered, layer.channels[MASK], area.shape)
        mask[shown.top : shown.bottom, shown.left : shown.right] = plane[
            shown.top - area.top : shown.bottom - area.top,
            shown.left - area.left : shown.right - area.left,
        ]
    return mask


def _clipped(area: Area, whole: Area) -> Area:
    return Area(
        max(area.top, 0),
        max(area.left, 0),
        min(area.bottom, whole.bottom),
        min(area.right, whole.right),
    )


def _coded(canvas: UInt8Array, inking: InkTest) -> UInt16Array:
    """(H, W) uint16, coded gray on white, or opacity as ink."""
    coded = np.empty(canvas.shape[:2], np.uint16)
    for rows in row_strips(coded.shape, _STRIP_PIXELS):
        part = canvas[rows]
        if not inking.alpha:
            opacity = part[..., 3:].astype(np.float32) / np.float32(255)
            on_white = 255 - (255 - part[..., :3]) * opacity
            part = np.concatenate([np.rint(on_white), opacity * 255], axis=-1).astype(np.uint8)
        coded[rows] = inking.coded(part)
    return coded
