"""The repairs, and what one leaves in the record."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class RepairKind(StrEnum):
    """The repairs: each is the key of the profile's group ``repair`` that turns it off.

    ``mends`` is what it mends, as the guide has it.
    """

    mends: str

    def __new__(cls, key: str, mends: str) -> RepairKind:
        """A member that is its key and carries its row of the guide."""
        member = str.__new__(cls, key)
        member._value_ = key
        member.mends = mends
        return member

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
