"""The layers of a layered working file: those that stand in no group, and whole groups.

They are laid over each other a few rows at a time, so memory follows the strip, however large and
many they are. What lies beyond the picture is not shown, and read no further than needed.
"""

from __future__ import annotations

import struct
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import BinaryIO

import numpy as np

from filmhand.arrays import Float32Array, UInt8Array
from filmhand.art.drawings.vector import Sizing
from filmhand.art.files.decode import ExaminedFile, check_pixels, guarded
from filmhand.art.files.orientation import believed_resolution
from filmhand.art.formats.flattened import layered_ppi
from filmhand.art.formats.layer_channels import ChannelRows
from filmhand.art.formats.layer_records import MASK, OPACITY, Area, StoredLayer, read_layers
from filmhand.art.formats.layered import ColorMode, LayeredFile
from filmhand.art.opened_art import DrawnColors
from filmhand.art.plates.art_layers import ArtLayer, LayersNotFollowedError
from filmhand.art.plates.layer_words import LayerTrouble
from filmhand.art.raster import row_strips
from filmhand.profile.model import Limits
from filmhand.values import dataclass

_COLORS = {ColorMode.GRAY: 1, ColorMode.RGB: 3, ColorMode.CMYK: 4}
_STRIP_PIXELS = 2**20
_DEEPEST = 100  # groups within each other; editors offer ten or so (from memory)
_LONGEST = 2**20  # rows and columns of a layer; a picture of the format has 300,000
# What may be unpacked that lies beyond the picture: so many pictures, and so many bytes.
_PICTURES_ASIDE, _BYTES_ASIDE = 64, 2**28


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
            ArtLayer(
                (one.name,) if one.name else (),
                place,
                # Whether what is drawn here of it is what people see of it, if they see it at all.
                is_clear=not one.is_visible or one.is_plain,
            )
            for place, one in enumerate(self.stored)
        ]

    @contextmanager
    def drawn(self, layers: Collection[ArtLayer], sizing: Sizing | None) -> Iterator[DrawnColors]:
        """Some of the layers on nothing, in as many pixels as there are, whatever the size."""
        name, limits, layered = self.file.name, self.limits, self.layered
        check_pixels(layered.width, layered.height, name=name, limits=limits)
        stored = [self.stored[place] for place in sorted(layer.place for layer in layers)]
        _check_followed(layered, stored)
        notes = list(self.file.notes)
        with self.file.path.open("rb") as file:
            with guarded(name, limits):
                ppi = believed_resolution(layered_ppi(file, layered), notes)
            shape = layered.height, layered.width
            strips = self._strips(file, stored)
            yield DrawnColors(shape, ppi, self.file.kind.value, notes, strips)

    def _strips(self, file: BinaryIO, stored: Sequence[StoredLayer]) -> Iterator[UInt8Array]:
        layered = self.layered
        laid = [_LaidLayer(file, layered, one) for one in stored if one.is_visible]
        # Groups within each other have a strip each.
        pixels = _STRIP_PIXELS // (4 + _depth(stored))
        for rows in row_strips((layered.height, layered.width), pixels):
            with guarded(self.file.name, self.limits):
                canvas = np.zeros((rows.stop - rows.start, layered.width, 4), np.float32)
                for one in laid:
                    one.lay(canvas, rows)
                codes = _codes(canvas)
            yield codes


def raster_layers(found: ExaminedFile, limits: Limits) -> RasterLayers | None:
    """The layers of a file; None where it has none.

    Raises
    ------
    LayersNotFollowedError
        Where their descriptions contradict themselves, or there are more than are read here.
    """
    layered = found.layered
    if layered is None:
        return None
    try:
        with found.path.open("rb") as file:
            stored = read_layers(file, layered)
    except (ValueError, struct.error, IndexError) as fault:
        raise LayersNotFollowedError(LayerTrouble.CONTRADICTORY.say()) from fault
    return RasterLayers(found, limits, layered, stored)


def _check_followed(layered: LayeredFile, layers: Iterable[StoredLayer]) -> None:
    """Raise LayersNotFollowedError where what is visible of layers cannot be laid here."""
    if layered.mode not in _COLORS or layered.bits not in (8, 16):
        raise LayersNotFollowedError(LayerTrouble.OTHER_COLORS.say())
    colors = _COLORS[ColorMode(layered.mode)]
    whole = Area(0, 0, layered.height, layered.width)
    size, aside = layered.height * layered.width, 0
    waiting = [(layer, 0) for layer in layers]
    while waiting:
        layer, depth = waiting.pop()
        if not layer.is_visible:
            continue
        if depth > _DEEPEST:
            raise LayersNotFollowedError(LayerTrouble.TOO_DEEP.say(deepest=_DEEPEST))
        waiting += [(member, depth + 1) for member in layer.members or ()]
        areas = [] if layer.members is not None else [layer.area] * (colors + 1)
        areas += [] if layer.mask is None else [layer.mask]
        for area in areas:
            shown = _clipped(area, whole)
            if not all(shown.shape):
                continue
            if max(area.shape) > _LONGEST:
                raise LayersNotFollowedError(LayerTrouble.TOO_LARGE.say())
            aside += (shown.bottom - area.top) * area.shape[1] - shown.shape[0] * shown.shape[1]
        lacking = not layer.channels.keys() >= set(range(colors))
        if lacking and layer.members is None and all(_clipped(layer.area, whole).shape):
            raise LayersNotFollowedError(LayerTrouble.LACKS_COLOR.say(layer=layer.name))
    if aside > _PICTURES_ASIDE * size + _BYTES_ASIDE:
        raise LayersNotFollowedError(LayerTrouble.TOO_LARGE.say())


def _depth(layers: Iterable[StoredLayer]) -> int:
    """How many groups lie within each other."""
    groups = (one.members for one in layers if one.is_visible and one.members is not None)
    return max((1 + _depth(members) for members in groups), default=0)


class _LaidLayer:
    """A layer that is being laid, from the top of the picture to its bottom."""

    def __init__(self, file: BinaryIO, layered: LayeredFile, layer: StoredLayer) -> None:
        self._layer, self._colors = layer, _COLORS[ColorMode(layered.mode)]
        self._members = (
            None
            if layer.members is None
            else [_LaidLayer(file, layered, one) for one in layer.members if one.is_visible]
        )
        self._whole = Area(0, 0, layered.height, layered.width)
        self._open: dict[int, ChannelRows] = {}
        self._source = file, layered

    def lay(self, canvas: Float32Array, rows: slice) -> None:
        """Lay it over some rows of the picture, in place.

        canvas : (h, W, 4) R, G, B times the opacity, and the opacity, 0..1
        """
        if self._members is None:
            self._lay_pixels(canvas, rows)
            return
        mask = self._mask(rows)
        # Covering is associative, so a group that changes nothing needs no strip of its own.
        alone = mask is None and self._layer.opacity == 1
        inner = canvas if alone else np.zeros_like(canvas)
        for one in self._members:
            one.lay(inner, rows)
        if not alone:
            share = np.float32(self._layer.opacity) if mask is None else mask[..., None]
            _cover(canvas, inner * share)

    def _lay_pixels(self, canvas: Float32Array, rows: slice) -> None:
        shown = _clipped(self._layer.area, Area(rows.start, 0, rows.stop, self._whole.right))
        if not all(shown.shape):
            return
        across = slice(shown.left, shown.right)
        target = canvas[shown.top - rows.start : shown.bottom - rows.start, across]
        mask = self._mask(slice(shown.top, shown.bottom))
        opacity: Float32Array = np.full(shown.shape, self._layer.opacity, np.float32)
        if mask is not None:
            opacity = mask[:, across]
        if OPACITY in self._layer.channels:
            opacity *= self._plane(OPACITY, self._layer.area, shown) / np.float32(255)
        if not opacity.any():
            return
        part = np.empty((*shown.shape, 4), np.float32)
        part[..., 3] = opacity
        opacity /= np.float32(255)
        if self._colors == 1:
            part[..., :3] = (self._plane(0, self._layer.area, shown) * opacity)[..., None]
        else:
            for place in range(3):
                part[..., place] = self._plane(place, self._layer.area, shown) * opacity
        if self._colors == 4:
            # Of inks nothing is the largest number; how they show is not asked, but how dark
            # they are.
            black = self._plane(3, self._layer.area, shown) / np.float32(255)
            part[..., :3] *= black[..., None]
        _cover(target, part)

    def _mask(self, rows: slice) -> Float32Array | None:
        """(h, W) how much of the layer is shown by its mask and opacity; None without a mask."""
        layer = self._layer
        if layer.mask is None or MASK not in layer.channels:
            return None
        shape = rows.stop - rows.start, self._whole.right
        mask = np.full(shape, layer.mask_outside, np.float32)
        shown = _clipped(layer.mask, Area(rows.start, 0, rows.stop, self._whole.right))
        if all(shown.shape):
            plane = self._plane(MASK, layer.mask, shown)
            mask[shown.top - rows.start : shown.bottom - rows.start, shown.left : shown.right] = (
                plane / np.float32(255)
            )
        mask *= np.float32(layer.opacity)
        return mask

    def _plane(self, number: int, area: Area, shown: Area) -> UInt8Array:
        """(h, w) what a channel has within an area of the picture."""
        if number not in self._open:
            place = self._layer.channels[number]
            self._open[number] = ChannelRows(*self._source, place, area.shape)
        first, left = shown.top - area.top, shown.left - area.left
        return self._open[number].rows(first, first + shown.shape[0], left, left + shown.shape[1])


def _cover(below: Float32Array, above: Float32Array) -> None:
    """Lay (h, w, 4) colors times opacity, and opacity, over others, in place."""
    below *= 1 - above[..., 3:]
    below += above


def _codes(canvas: Float32Array) -> UInt8Array:
    """(h, W, 4) uint8 R, G, B and opacity."""
    opacity = canvas[..., 3:]
    canvas[..., :3] /= np.maximum(opacity, np.float32(1e-6))
    codes: UInt8Array = np.rint(np.clip(canvas, 0, 1) * 255).astype(np.uint8)
    return codes


def _clipped(area: Area, whole: Area) -> Area:
    return Area(
        max(area.top, whole.top),
        max(area.left, whole.left),
        min(area.bottom, whole.bottom),
        min(area.right, whole.right),
    )
