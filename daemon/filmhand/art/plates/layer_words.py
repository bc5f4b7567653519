"""Why layers of art are not followed."""

from __future__ import annotations

from filmhand.language import Sentence


class LayerTrouble(Sentence):
    """A part of a sentence: what is the matter with them."""

    CONTRADICTORY = "their descriptions contradict themselves, or there are more than 1000"
    TOO_DEEP = "groups lie more than {deepest} deep within each other"
    TOO_LARGE = "what of them lies beyond the picture is far larger than the picture"
    LACKS_COLOR = "the layer {layer} lacks one of its colors"
    IN_TIFF = "those inside a TIFF are not read"
    OTHER_COLORS = "they are not in gray, RGB or CMYK of 8 or 16 bits a color"
