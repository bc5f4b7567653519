"""What a repair leaves in the record."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair that was done.

    Attributes
    ----------
    name : the key of the profile's group ``repair`` that turns it off
    found : what was measured before
    unit : of what was measured
    say : a sentence for the record
    """

    name: str
    found: float
    unit: str
    say: str

    def record(self) -> dict[str, str | float]:
        """As the record's list ``repaired`` holds it."""
        return {"name": self.name, "found": self.found, "unit": self.unit}
