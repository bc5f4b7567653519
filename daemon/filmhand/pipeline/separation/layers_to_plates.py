"""Art of which each layer is named after an ink: the layers as the plates of these inks.

How dark a layer is, times its opacity, is the tone of its ink. A layer may as well be drawn in the
color of its ink: what has that color is a solid then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.art.drawings.vector import Sizing
from filmhand.art.opened_art import Art
from filmhand.art.plates.art_layers import ArtLayer, LayeredArt, layers_of_art, small_size
from filmhand.art.plates.art_plates import ArtPlates, plate_key
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.flat_colors import FLAT_TOLERANCE
from filmhand.language import and_list
from filmhand.pipeline.separation.color_checks import color_told
from filmhand.pipeline.separation.plate_words import PlateNote
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel
from filmhand.tone import FULL
from filmhand.values import dataclass

_COLORS = (Channel.RED, Channel.GREEN, Channel.BLUE)
_MOST_TOLD = 8
# Of a layer that is this pale its opacity is what tells where the ink is.
_PALE = FULL // 20
_NEARLY_SOLID = 0.9  # of an ink, from which on nobody misses the rest
_DRAWN = FULL // 100  # tone from which on something is drawn


@dataclass(frozen=True, slots=True, eq=False)
class _LayerColor:
    """The darkest color of a layer: (3,) L*, a*, b*, and its tone of 65535; opaque if it can be."""

    lab: Float64Array
    tone: int


def layer_plates(
    path: Path,
    *,
    name: str,
    limits: Limits,
    inks: Mapping[str, Float64Array],
    page: int = 0,
    sizing: Sizing | None = None,
) -> tuple[ArtPlates | None, list[str]]:
    """The plates of inks that layers are named after, and notes where they are not taken.

    Two layers or more have to be called like inks, and all that draw anything.

    Parameters
    ----------
    inks : their names and (3,) float64, L*, a*, b* of each
    name, limits, page, sizing : as for :func:`filmhand.art.files.open_art.open_art`, and so is what
        is raised

    Returns
    -------
    plates : with the names of the inks; None where layers are no plates
    """
    art = layers_of_art(path, name=name, limits=limits, page=page)
    if art is None:
        return None, []
    keys = {plate_key(ink): ink for ink in inks}
    of_ink: dict[str, list[ArtLayer]] = {}
    others: list[ArtLayer] = []
    for layer in art.layers:
        called = next((keys[key] for key in map(plate_key, layer.names) if key in keys), None)
        if called is None:
            others.append(layer)
        else:
            of_ink.setdefault(called, []).append(layer)
    if len(of_ink) < 2:
        return None, []
    named = [layer for layers in of_ink.values() for layer in layers]
    told = [layer for layer in others if layer.names and _is_drawn(art, [layer])]
    if told:
        return None, [PlateNote.LAYERS_IN_PART.say(named=_told(named), others=_told(told))]
    # There may be thousands in no layer. What is drawn with any layer would count as its opacity.
    loose = [layer for layer in others if not layer.names]
    if _is_drawn(art, loose) or _is_drawn(art, [], Channel.ALPHA):
        return None, [PlateNote.LAYERS_AND_LOOSE.say(named=_told(named))]
    unclear = [layer for layer in named if not layer.is_clear]
    if unclear:
        return None, [PlateNote.LAYERS_UNCLEAR.say(layers=_told(unclear))]
    # Notes of a reader tell of the whole art, and are the same for each layer.
    made = _plates(art, of_ink, inks, sizing)
    unseen = [layer for layer in others if layer.names]
    unseen += [layer for ink in of_ink if ink not in made.names for layer in of_ink[ink]]
    if unseen:
        made.notes.append(PlateNote.LAYERS_UNSEEN.say(layers=_told(unseen)))
    return (made, []) if made.names else (None, made.notes)


def _plates(
    art: LayeredArt,
    of_ink: Mapping[str, Sequence[ArtLayer]],
    inks: Mapping[str, Float64Array],
    sizing: Sizing | None,
) -> ArtPlates:
    """The plate of each ink whose layers are visible."""
    names: list[str] = []
    tones: list[UInt16Array] = []
    notes: list[str] = []
    first: Art | None = None
    for ink, layers in of_ink.items():
        color = _color_of(art, layers)
        if color is None:
            continue
        own = float(color_difference(color.lab, inks[ink])) <= FLAT_TOLERANCE
        if own and color.tone < _PALE:
            drawn = art.drawn(layers, Channel.ALPHA, sizing)
            solid = FULL
        else:
            drawn = art.drawn(layers, Channel.LUMINANCE, sizing)
            solid = color.tone if own else FULL
        if not own and color.tone < _NEARLY_SOLID * FULL and _is_colored(color.lab):
            notes.append(
                PlateNote.LAYER_OF_OTHER_COLOR.say(
                    layer=_told(layers),
                    color=color_told(color.lab),
                    tone=f"{100 * color.tone / FULL:.0f}",
                )
            )
        first = first or drawn
        names.append(ink)
        tones.append(_scaled(drawn.coded, solid))
    ppi, kind = (None, "") if first is None else (first.ppi, first.format)
    made = np.stack(tones) if tones else np.empty((0, 0, 0), np.uint16)
    return ArtPlates(tuple(names), made, ppi, kind, [*(first.notes if first else []), *notes])


def _scaled(coded: UInt16Array, solid: int) -> UInt16Array:
    """(H, W) uint16, tones of an ink, of coded gray in which so much tone is its solid."""
    tone: UInt16Array = np.uint16(FULL) - coded
    if solid < FULL:
        table = np.minimum(np.rint(np.arange(FULL + 1) * (FULL / solid)), FULL).astype(np.uint16)
        tone = table[tone]
    return tone


def _is_colored(lab: Float64Array) -> bool:
    return float(np.hypot(lab[1], lab[2])) > FLAT_TOLERANCE


def _is_drawn(
    art: LayeredArt, layers: Sequence[ArtLayer], channel: Channel = Channel.LUMINANCE
) -> bool:
    """Whether layers have anything but white, or by their opacity anything at all."""
    coded = art.drawn(layers, channel, small_size).coded
    return bool((coded < FULL - _DRAWN).any())


def _color_of(art: LayeredArt, layers: Sequence[ArtLayer]) -> _LayerColor | None:
    """The darkest color of layers; None where nothing of them is drawn."""
    clear = art.drawn(layers, Channel.ALPHA, small_size).coded
    opacity = FULL - clear.astype(np.int64)
    if opacity.max() < _DRAWN:
        return None
    coded = art.drawn(layers, Channel.LUMINANCE, small_size).coded
    most = opacity >= opacity.max() - _DRAWN
    place = np.flatnonzero(most)[coded[most].argmin()]
    codes = [art.drawn(layers, channel, small_size).coded.ravel()[place] for channel in _COLORS]
    # What is half opaque lies on white, and its color shows less than it is.
    share = opacity.ravel()[place] / FULL
    color = np.clip(1 - (1 - np.array(codes) / FULL) / share, 0, 1)
    tone = (FULL - int(coded.ravel()[place])) / share
    return _LayerColor(srgb_to_lab(color), min(FULL, round(tone)))


def _told(layers: Sequence[ArtLayer]) -> str:
    return and_list([layer.names[0] for layer in layers][:_MOST_TOLD])
