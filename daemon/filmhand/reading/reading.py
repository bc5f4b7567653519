"""What one scan or photograph of a wedge says, as values, and its form in JSON.

Tone is dot area in percent: 0 is bare paper or film, 100 the solid. Print tone is what Murray and
Davies call the area of a tint (A. Murray, J. Franklin Inst. 221, 1936): on paper it counts the
shadow that dots cast into the paper around them, the optical gain, as eye and densitometer do.
"""

from __future__ import annotations

from dataclasses import asdict
from enum import StrEnum
from typing import Any

import numpy as np

from filmhand.values import dataclass

READING_SCHEMA = "filmhand-reading/1"


class ReadOf(StrEnum):
    """What was scanned."""

    PRINT = "print"
    FILM = "film"


@dataclass(frozen=True, slots=True)
class PatchReading:
    """One tone of the wedge.

    Attributes
    ----------
    film_pct : the tone that the screen was asked for, 0 to 100; what its bits cover comes near it
    measured_pct : the tone that was read, by Murray-Davies; noise may bring it past 0 and 100
    error_pct : its standard error in points, from the spread within its patches, between its
        repeats, and of the light on bare ground nearby
    """

    film_pct: float
    measured_pct: float
    error_pct: float


@dataclass(frozen=True, slots=True)
class SizesHeld:
    """The smallest size of each kind that held, in micrometers on the film.

    Dots and shadow dots are given by the diameter of the circle of their area, lines and gaps by
    their width. None where none of the wedge's sizes held, or the scan is too coarse to tell.
    """

    dots: float | None = None
    shadow_dots: float | None = None
    lines: float | None = None
    gaps: float | None = None


@dataclass(frozen=True, slots=True)
class WedgeReading:
    """What was read off one scan of a wedge, or off several that were blended.

    Attributes
    ----------
    of : the print that was pulled, or the film itself
    wedge : what the code on the wedge says, for
        :meth:`filmhand.sheet.wedge_identity.WedgeIdentity.from_text`
    patches : by rising film tone, each tone once
    smallest_held : sizes that held
    density : density of the solid over bare ground: by reflected light of a print, by light
        that passes of a film; None where the scan does not tell it
    none_held : kinds of which not even the largest size held, where the scan tells
    edge_growth_um : by how much every edge of the dots lies further out than on the film's bits, as
        fits the tones best; below 0 where dots shrank
    scale : inches that an inch of the wedge measures across and down, as ``print.scale`` has it;
        None where the scan is not to be trusted in that
    ppi : pixels of the scan to an inch of the wedge
    mirrored : whether the wedge was seen from the side on which it reads in reverse
    notes : sentences about what was decided and what could not be told
    """

    of: ReadOf
    wedge: str
    patches: tuple[PatchReading, ...]
    smallest_held: SizesHeld = SizesHeld()
    none_held: tuple[str, ...] = ()
    density: float | None = None
    edge_growth_um: float | None = None
    scale: tuple[float, float] | None = None
    ppi: float = 0.0
    mirrored: bool = False
    notes: tuple[str, ...] = ()

    @property
    def gain_at_50(self) -> float:
        """Points that the press adds to a film tone of 50 %, between the nearest two tones read."""
        film, measured = np.array([(one.film_pct, one.measured_pct) for one in self.patches]).T
        return float(np.interp(50, film, measured)) - 50


def reading_as_json(reading: WedgeReading, *, in_full: bool = False) -> dict[str, Any]:
    """The reading as an object for JSON, rounded to what the figures are worth, or ``in_full``."""

    def told(value: float | None, digits: int) -> float | None:
        # Nothing is -0.0: adding 0 takes the sign off.
        return value if value is None or in_full else round(value, digits) + 0.0

    return {
        "schema": READING_SCHEMA,
        "of": str(reading.of),
        "wedge": reading.wedge,
        "patches": [
            {key: told(value, 2) for key, value in asdict(one).items()} for one in reading.patches
        ],
        "gain_at_50": told(reading.gain_at_50, 2),
        "smallest_held_um": told(reading.smallest_held.dots, 1),
        "held_um": {key: told(value, 1) for key, value in asdict(reading.smallest_held).items()},
        "none_held": list(reading.none_held),
        "density": told(reading.density, 2),
        "edge_growth_um": told(reading.edge_growth_um, 1),
        "scale_pct": [told(100 * one, 2) for one in reading.scale] if reading.scale else None,
        "ppi": told(reading.ppi, 1),
        "mirrored": reading.mirrored,
        "notes": list(reading.notes),
    }
