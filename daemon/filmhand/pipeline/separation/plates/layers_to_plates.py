"""Art of which each layer is named after an ink: the layers as the plates of these inks.

How dark a layer is, times its opacity, is the tone of its ink. A layer may as well be drawn in the
color of its ink: what has that color is a solid then, and its tints are tints of the ink.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.art.drawings.vector import InkTest, Sizing
from filmhand.art.opened_art import DrawnColors
from filmhand.art.plates.art_layers import (
    ArtLayer,
    LayeredArt,
    LayersNotFollowedError,
    layers_of_art,
    small_size,
)
from filmhand.art.plates.art_plates import ArtPlates, plate_key
from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.flat_colors import FLAT_TOLERANCE
from filmhand.ink.tints import PlateOfInk, coverage_of_tints, darkness_of_codes, has_tints, of_hue
from filmhand.language import and_list
from filmhand.pipeline.separation.color_checks import color_told
from filmhand.pipeline.separation.plates.kept_layers import KeptLayer, LayerColors
from filmhand.pipeline.separation.plates.plate_words import PlateNote
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel
from filmhand.tone import FULL
from filmhand.values import dataclass

_MOST_TOLD = 8
# Of a layer that is this pale its opacity is what tells where the ink is.
_PALE = 0.05
_NEARLY_SOLID = 0.9  # of an ink, from which on nobody misses the rest
_SOLID_MEANT = 0.85  # of an ink, the same of a color of its hue that is no tint of it
_DRAWN = FULL // 100  # tone from which on something is drawn
_DRAWN_OPACITY = 3  # of 255, the same
_RARE = 0.001  # of a layer, what its darkest color is not told by
_TOLD_SHARE, _OWN_SHARE = 0.01, 0.1  # of a layer, colors that are told (all: ours, no source)


@dataclass(frozen=True, slots=True)
class _Named:
    """The layers of art by the inks that they are called like, and those called otherwise."""

    of_ink: dict[str, list[ArtLayer]]
    others: list[ArtLayer]

    @property
    def layers(self) -> list[ArtLayer]:
        return [layer for layers in self.of_ink.values() for layer in layers]


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
    try:
        art = layers_of_art(path, name=name, limits=limits, page=page)
        if art is None:
            return None, []
        named = _named(art, inks)
        if len(named.of_ink) < 2:
            return None, []
        if note := _why_not(art, named):
            return None, [note]
        made = _plates(art, named.of_ink, inks, sizing)
    except LayersNotFollowedError as fault:
        return None, [PlateNote.LAYERS_NOT_FOLLOWED.say(why=fault.why)]
    unseen = [layer for layer in named.others if layer.names]
    unseen += [
        layer for ink in named.of_ink if ink not in made.names for layer in named.of_ink[ink]
    ]
    if unseen:
        made.notes.append(PlateNote.LAYERS_UNSEEN.say(layers=_told(unseen)))
    return (made, []) if made.names else (None, made.notes)


def _named(art: LayeredArt, inks: Mapping[str, Float64Array]) -> _Named:
    keys = {plate_key(ink): ink for ink in inks}
    found = _Named({}, [])
    for layer in art.layers:
        called = next((keys[key] for key in map(plate_key, layer.names) if key in keys), None)
        if called is None:
            found.others.append(layer)
        else:
            found.of_ink.setdefault(called, []).append(layer)
    return found


def _why_not(art: LayeredArt, named: _Named) -> str:
    """Why layers are not taken as plates; empty where they are."""
    told = [layer for layer in named.others if layer.names and _is_drawn(art, [layer])]
    if told:
        return PlateNote.LAYERS_IN_PART.say(named=_told(named.layers), others=_told(told))
    # There may be thousands in no layer. What is drawn with any layer would count as its opacity.
    loose = [layer for layer in named.others if not layer.names]
    if loose and (_is_drawn(art, loose) or _is_drawn(art, [], of_any_color=True)):
        return PlateNote.LAYERS_AND_LOOSE.say(named=_told(named.layers))
    unclear = [layer for layer in named.layers if not layer.is_clear]
    return PlateNote.LAYERS_UNCLEAR.say(layers=_told(unclear)) if unclear else ""


def _is_drawn(art: LayeredArt, layers: Sequence[ArtLayer], *, of_any_color: bool = False) -> bool:
    """Whether layers have anything but white, or anything at all."""
    inking = InkTest(Channel.LUMINANCE)
    with art.drawn(layers, small_size) as drawn:
        for pixels in drawn.strips:
            seen = pixels[pixels[..., 3] >= _DRAWN_OPACITY].astype(np.float32)
            if of_any_color and len(seen):
                return True
            seen[:, :3] = 255 - (255 - seen[:, :3]) * (seen[:, 3:] / 255)
            codes = np.rint(seen).astype(np.uint8)
            if len(codes) and (inking.coded(codes[None]) < FULL - _DRAWN).any():
                return True
    return False


def _plates(
    art: LayeredArt,
    of_ink: Mapping[str, Sequence[ArtLayer]],
    inks: Mapping[str, Float64Array],
    sizing: Sizing | None,
) -> ArtPlates:
    """The plate of each ink whose layers are visible."""
    names: list[str] = []
    notes: list[str] = []
    first: DrawnColors | None = None
    tones = np.empty((0, 0, 0), np.uint16)
    for ink, layers in of_ink.items():
        with art.drawn(layers, sizing) as drawn:
            kept = KeptLayer(drawn)
        if kept.most_opaque < _DRAWN_OPACITY:
            continue
        if first is None:
            first, tones = drawn, np.zeros((len(of_ink), *kept.shape), np.uint16)
        plate, told = _plate_of(kept.colors(), inks[ink], layers)
        kept.tones_into(tones[len(names)], plate)
        names.append(ink)
        notes += told
    ppi, kind = (None, "") if first is None else (first.ppi, first.format)
    # Notes of a reader tell of the whole art, and are the same for each layer.
    told = [*(first.notes if first else []), *notes]
    return ArtPlates(tuple(names), tones[: len(names)], ppi, kind, told)


def _plate_of(
    found: LayerColors, ink: Float64Array, layers: Sequence[ArtLayer]
) -> tuple[PlateOfInk, list[str]]:
    """What colors of layers are of their ink, (3,) L*, a*, b*, and what is told of that."""
    codes, shares = found.codes, found.counts / found.counts.sum()
    lab = srgb_to_lab(codes)
    own = color_difference(lab, ink) <= FLAT_TOLERANCE
    notes: list[str] = []
    color = _own_color(found, own, lab_to_srgb(ink))
    if has_tints(color):
        plate = PlateOfInk(color)
    else:
        dark = darkness_of_codes(codes)
        order = np.argsort(-dark)
        darkest = order[min(int(np.searchsorted(shares[order].cumsum(), _RARE)), len(order) - 1)]
        plate = PlateOfInk(None)
        if own[darkest]:
            plate = PlateOfInk(None, 0 if dark[darkest] < _PALE else float(dark[darkest]))
        elif shares[own].sum() > _OWN_SHARE and not found.is_all_over:
            prints = float(darkness_of_codes(color[None])[0])
            if prints < _NEARLY_SOLID:
                notes.append(
                    PlateNote.LAYER_HAS_DARKER.say(
                        layer=_told(layers),
                        color=color_told(srgb_to_lab(color)),
                        tone=f"{100 * prints:.0f}",
                    )
                )
    if note := _of_other_colors(found, plate, own, layers):
        notes.append(note)
    return plate, notes


def _own_color(found: LayerColors, own: BoolArray, ink: Float64Array) -> Float64Array:
    """(3,) the color that stands for a solid of an ink: its own as drawn, or near to its hue."""
    if not own.any() and has_tints(ink):
        prints, nearest = coverage_of_tints(found.codes, ink)
        apart = color_difference(srgb_to_lab(found.codes), srgb_to_lab(nearest)) > FLAT_TOLERANCE
        own = apart & (prints > _SOLID_MEANT) & (of_hue(found.codes, ink) == 1)
        if found.counts[own].sum() <= _TOLD_SHARE * found.counts.sum():
            return ink
    return found.codes[own][found.counts[own].argmax()] if own.any() else ink


def _of_other_colors(
    found: LayerColors, plate: PlateOfInk, own: BoolArray, layers: Sequence[ArtLayer]
) -> str:
    """What is told of colors that nobody draws the ink's plate in; empty where there are none."""
    lab, prints = srgb_to_lab(found.codes), plate.coverage(found.codes)
    apart = color_difference(lab, srgb_to_lab(plate.nearest(found.codes))) > FLAT_TOLERANCE
    colored = np.hypot(lab[:, 1], lab[:, 2]) > FLAT_TOLERANCE
    other = apart & colored & ~own & (prints < _NEARLY_SOLID)
    if found.counts[other].sum() <= _TOLD_SHARE * found.counts.sum():
        return ""
    most = np.flatnonzero(other)[found.counts[other].argmax()]
    return PlateNote.LAYER_OF_OTHER_COLOR.say(
        layer=_told(layers), color=color_told(lab[most]), tone=f"{100 * prints[most]:.0f}"
    )


def _told(layers: Sequence[ArtLayer]) -> str:
    return and_list([layer.names[0] for layer in layers][:_MOST_TOLD])
