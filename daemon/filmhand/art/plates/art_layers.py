"""Layers of art that can be drawn one by one, whatever kind of file it is."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Protocol

from filmhand.art.drawings.vector import FilmSize, Sizing
from filmhand.art.files.decode import examine_file, guarded
from filmhand.art.files.file_types import FileType
from filmhand.art.opened_art import DrawnColors
from filmhand.art.plates.layer_words import LayerTrouble
from filmhand.art.plates.tiff_plates import has_layers
from filmhand.profile.model import Limits
from filmhand.values import dataclass

_SIDE = 1000  # pixels of a look at whether anything is drawn, and in which color


@dataclass(frozen=True, slots=True)
class ArtLayer:
    """A layer.

    Attributes
    ----------
    names : all that it is called, what it is told by first; none for what lies in no layer
    place : its number among the layers of its art
    is_clear : whether drawing it alone gives what people see of it
    """

    names: tuple[str, ...]
    place: int
    is_clear: bool = True


class LayersNotFollowedError(Exception):
    """Layers that may be sound, but are none that are understood here; the art is no worse.

    Attributes
    ----------
    why : what is the matter, as a part of a sentence
    """

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class LayeredArt(Protocol):
    """A page of art in layers."""

    @property
    def layers(self) -> Sequence[ArtLayer]:
        """From the lowest to the topmost; what lies in no layer is among them, without a name."""

    def drawn(
        self, layers: Collection[ArtLayer], sizing: Sizing | None
    ) -> AbstractContextManager[DrawnColors]:
        """Some of the layers on nothing, to be drawn inside the ``with``.

        What is not visible in the art is not drawn here.

        Raises
        ------
        Refused
            as :func:`filmhand.art.files.open_art.open_art` does
        LayersNotFollowedError
            where layers cannot be drawn here
        """


def layers_of_art(path: Path, *, name: str, limits: Limits, page: int = 0) -> LayeredArt | None:
    """The layers of a page; None where it has none, or where they cannot be told apart.

    Parameters
    ----------
    name, limits, page : as for :func:`filmhand.art.files.open_art.open_art`, and so is what is
        raised

    Raises
    ------
    LayersNotFollowedError
        where there may be layers, and they are not understood
    """
    with guarded(name, limits):
        found = examine_file(path, name=name, limits=limits)
        made: LayeredArt | None = None
        if found.kind is FileType.SVG:
            from filmhand.art.plates.svg_layers import svg_layers  # noqa: PLC0415 - most need none

            made = svg_layers(found, limits)
        elif found.kind is FileType.PDF:
            from filmhand.art.plates.pdf_layers import pdf_layers  # noqa: PLC0415 - as above

            made = pdf_layers(found, page, limits)
    if found.kind is FileType.LAYERED:
        from filmhand.art.plates.raster_layers import raster_layers  # noqa: PLC0415 - as above

        made = raster_layers(found, limits)
    elif found.kind is FileType.TIFF and has_layers(found, page):
        raise LayersNotFollowedError(LayerTrouble.IN_TIFF.say())
    return made if made is not None and made.layers else None


def small_size(width: float, height: float) -> FilmSize:
    """The size of a quick look at a drawing of so many inches."""
    ppi = _SIDE / max(width, height)
    return FilmSize(max(1, round(width * ppi)), max(1, round(height * ppi)), ppi)
