"""The plates of art that is separated already, and how their names are compared."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.art.opened_art import Art
from filmhand.profile.inks import ink_key
from filmhand.tone import FULL
from filmhand.values import dataclass

PROCESS_INKS = ("Cyan", "Magenta", "Yellow", "Black")


@dataclass(slots=True, eq=False)
class ArtPlates:
    """Plates as a file has them, upright.

    Attributes
    ----------
    names : of their inks, as the file has them
    tones : (n, H, W) uint16, 0 for none of the ink and 65535 for a solid
    ppi : own resolution across and down, None where the file gives none worth believing
    format : what the content is, whatever the name says
    notes : plain sentences: what was decided, assumed or left out
    other_colors : whether the art has colors that are on no plate
    """

    names: tuple[str, ...]
    tones: UInt16Array
    ppi: tuple[float, float] | None
    format: str
    notes: list[str] = field(default_factory=list)
    other_colors: bool = False


def plates_of_grays(names: tuple[str, ...], arts: Iterable[Art]) -> ArtPlates:
    """Gray art, one for each name, as plates: what is dark becomes ink.

    Each is asked for when it is needed, and not kept. Resolution and notes are those of the first.

    Raises
    ------
    ValueError
        Where they are not of one size.
    """
    made = None
    for place, art in enumerate(arts):
        if made is None:
            tones = np.empty((len(names), *art.coded.shape), np.uint16)
            made = ArtPlates(names, tones, art.ppi, art.format, art.notes)
        if art.coded.shape != made.tones.shape[1:]:
            raise ValueError("plates of one picture have one size")
        np.subtract(np.uint16(FULL), art.coded, out=made.tones[place])
    assert made is not None
    return made


def plate_key(name: str) -> str:
    """A name as it is compared with others: without case, and however its words are joined.

    >>> plate_key(" Dark_Red ") == plate_key("dark red")
    True
    """
    return ink_key(name)
