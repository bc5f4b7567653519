"""The repairs, and what one leaves in the record."""

from __future__ import annotations

from filmhand.rows import RowEnum
from filmhand.values import dataclass


class RepairKind(RowEnum):
    """The repairs: each is the key of the profile's group ``repair`` that turns it off.

    ``mends`` is what it mends, as the guide has it.
    """

    mends: str

    LIGHT = "light", "Uneven light"
    PAPER = "paper", "Paper"
    FADED = "faded", "Faded strokes"
    BLOCKS = "blocks", "JPEG squares"
    SKEW = "skew", "Crooked art"
    SCREENED = "screened", "Screened before"


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair that was done.

    Attributes
    ----------
    found : what was measured before
    unit : of what was measured
    say : a sentence for the record
    """

    kind: RepairKind
    found: float
    unit: str
    say: str

    def record(self) -> dict[str, str | float]:
        """As the record's list ``repaired`` holds it."""
        return {"name": str(self.kind), "found": self.found, "unit": self.unit}
