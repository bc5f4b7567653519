"""The layers of an SVG drawing: groups right inside its root."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import AbstractContextManager, nullcontext

from filmhand.art.drawings.svg import drawn_colors, svg_text
from filmhand.art.drawings.svg_parts import TopPart, top_parts, with_parts
from filmhand.art.drawings.svg_scan import BrokenSvg
from filmhand.art.drawings.vector import Sizing
from filmhand.art.files.decode import ExaminedFile
from filmhand.art.formats.channel_names import plain_name
from filmhand.art.opened_art import DrawnColors
from filmhand.art.plates.art_layers import ArtLayer
from filmhand.profile.model import Limits
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class SvgLayers:
    """A drawing in layers; see :class:`filmhand.art.plates.art_layers.LayeredArt`."""

    file: ExaminedFile
    limits: Limits
    text: str
    parts: Sequence[TopPart]

    @property
    def layers(self) -> Sequence[ArtLayer]:
        """From the lowest to the topmost."""
        return [
            ArtLayer(tuple(name for said in part.names if (name := plain_name(said))), place)
            for place, part in enumerate(self.parts)
        ]

    def drawn(
        self, layers: Collection[ArtLayer], sizing: Sizing | None
    ) -> AbstractContextManager[DrawnColors]:
        """Some of the layers on nothing."""
        kept = [self.parts[layer.place] for layer in layers]
        content = with_parts(self.text, self.parts, kept)
        return nullcontext(
            drawn_colors(self.file, limits=self.limits, sizing=sizing, content=content)
        )


def svg_layers(found: ExaminedFile, limits: Limits) -> SvgLayers | None:
    """The layers of a drawing; None where it cannot be read, which its reader will tell."""
    try:
        text = svg_text(found)
        parts = top_parts(text)
    except BrokenSvg:
        return None
    return SvgLayers(found, limits, text, parts)
