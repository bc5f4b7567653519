"""Several readings of one wedge as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from filmhand.reading.reading import SizesHeld, WedgeReading
from filmhand.reading.tones import blended


def as_one(readings: Sequence[WedgeReading]) -> WedgeReading:
    """One reading of several: tones by their errors, other figures by their mean.

    A size held where it did on every print that tells of it; so the largest of the smallest counts,
    and none where on one of them none did.

    Parameters
    ----------
    readings : at least one, all of the same wedge and of the same side, print or film
    """
    first = readings[0]
    if len(readings) == 1:
        return first
    tones = [
        (patch.film_pct, patch.measured_pct, patch.error_pct)
        for reading in readings
        for patch in reading.patches
    ]

    none_held = tuple(dict.fromkeys(kind for reading in readings for kind in reading.none_held))

    def largest(kind: str) -> float | None:
        sizes = [getattr(reading.smallest_held, kind) for reading in readings]
        return None if kind in none_held else max((one for one in sizes if one), default=None)

    scales = [reading.scale for reading in readings if reading.scale]
    across, down = np.mean(scales, axis=0) if scales else (0.0, 0.0)
    return replace(
        first,
        patches=tuple(blended(tones)),
        smallest_held=SizesHeld(
            largest("dots"), largest("shadow_dots"), largest("lines"), largest("gaps")
        ),
        none_held=none_held,
        density=_mean([reading.density for reading in readings]),
        edge_growth_um=_mean([reading.edge_growth_um for reading in readings]),
        scale=(float(across), float(down)) if scales else None,
        ppi=min(reading.ppi for reading in readings),
        mirrored=any(reading.mirrored for reading in readings),
        notes=tuple(dict.fromkeys(note for reading in readings for note in reading.notes)),
    )


def _mean(values: Sequence[float | None]) -> float | None:
    told = [value for value in values if value is not None]
    return float(np.mean(told)) if told else None
