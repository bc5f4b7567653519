"""Words for places on a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from filmhand.mesh.bitmap.worst_places import WorstPlace
from filmhand.units import MM_PER_INCH, Resolution


def spot_record(spot: WorstPlace, resolution: Resolution) -> dict[str, Any]:
    """A place as records and reports show it, in mm from the sheet's top left corner."""
    x, y = _millimeters(spot, resolution)
    return {
        "what": str(spot.feature),
        "x_mm": round(x, 1),
        "y_mm": round(y, 1),
        "width_um": round(spot.width_um, 1),
    }


def worst_places_phrase(spots: Sequence[WorstPlace], resolution: Resolution) -> str:
    """Where the spots are, as the end of a sentence; nothing where there are none.

    >>> from filmhand.mesh.limits import Feature
    >>> worst_places_phrase([WorstPlace(600, 1200, 50.0, Feature.STROKE)], Resolution(600, 600))
    "worst at 25 x 51 mm from the sheet's top left corner"
    """
    if not spots:
        return ""
    places = ["{:.0f} x {:.0f} mm".format(*_millimeters(spot, resolution)) for spot in spots]
    listed = " and ".join([", ".join(places[:-1]), places[-1]] if len(places) > 1 else places)
    return f"worst at {listed} from the sheet's top left corner"


def _millimeters(spot: WorstPlace, resolution: Resolution) -> tuple[float, float]:
    return spot.x_px / resolution.x * MM_PER_INCH, spot.y_px / resolution.y * MM_PER_INCH
