"""The plates of art that is separated already, and how their names are compared."""

from __future__ import annotations

from dataclasses import dataclass, field

from filmhand.arrays import UInt16Array

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


def plate_key(name: str) -> str:
    """A name as it is compared with others: without case, and however its words are joined.

    >>> plate_key(" Dark_Red ") == plate_key("dark red")
    True
    """
    return " ".join(name.casefold().replace("_", " ").replace("-", " ").split())
