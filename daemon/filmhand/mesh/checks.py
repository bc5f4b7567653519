"""The verdicts on a finished film: what was measured, what the limits are, what follows.

Every check is made on the finished bitmap or on the screen and mesh as they are, never on what was
asked for. The limits stand in :mod:`filmhand.mesh.limits`; the ones of the ratio, the resolution
and the levels are trade rules and are named below with their source.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.mesh.limits import MeshLimits, diameter_um
from filmhand.mesh.strokes import Narrowness
from filmhand.units import Resolution

# Share of the dots, or holes, that may lie at or under a limit.
ALLOWED_SHARE = 0.001
# Art pixels to the inch against lines to the inch: under sqrt(2) the screen shows the pixels at its
# diagonal; under 1 a dot does not even have a pixel of its own (common practice, no source).
RESOLUTION_WARN, RESOLUTION_FAIL = 1.414, 1.0
# SEFAR, Questions about half-tone printing, gives 2.5, 3.75 and 5 as mesh : ruling ratios; M.
# Coudray, All Things Are Not as They Appear, Screen Printing, April 2003, names 3.5 and 4 as the
# figures most repeated.
RATIO_WARN = 3.5
LEVELS_WARN = 64  # common practice, no source
BEAT_WARN_MM, BEAT_WARN_CELLS = 1.5, 3.0
BEAT_FAIL_MM, BEAT_FAIL_CELLS = 4.0, 5.0


class Verdict(StrEnum):
    """What a check says."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"


@dataclass(frozen=True, slots=True)
class Check:
    """One check of the record. A limit that is None is not judged."""

    name: str
    measured: float | None
    warn_limit: float | None
    fail_limit: float | None
    unit: str
    verdict: Verdict

    def record(self) -> dict[str, Any]:
        """The check as the record shows it, rounded to what the measurement is good for."""
        entry = asdict(self)
        for key in ("measured", "warn_limit", "fail_limit"):
            value = entry[key]
            entry[key] = None if value is None else round(value, 2 if value < 10 else 1)
        entry["verdict"] = str(self.verdict)
        return entry


def low_quantile(areas: NDArray[np.int64]) -> int | None:
    """The area such that more than 0.1 % of the components have it or less; None without any."""
    if not areas.size:
        return None
    place = int(ALLOWED_SHARE * areas.size)
    return int(np.partition(areas, place)[place])


def check_dots(
    areas: NDArray[np.int64], resolution: Resolution, limits: MeshLimits | None
) -> Check:
    """The smallest dot: diameter of the circle with the area of a black component."""
    fail, warn = (limits.dot_fail_um, limits.dot_warn_um) if limits else (None, None)
    return _least("smallest dot", _size(areas, resolution), warn, fail, "um")


def check_holes(
    areas: NDArray[np.int64], resolution: Resolution, limits: MeshLimits | None
) -> Check:
    """The smallest hole: diameter of the circle with the area of a white component."""
    fail, warn = (limits.hole_fail_um, limits.hole_warn_um) if limits else (None, None)
    return _least("smallest hole", _size(areas, resolution), warn, fail, "um")


def check_strokes(found: Narrowness, limits: MeshLimits | None) -> Check:
    """The narrowest stroke of line art."""
    fail, warn = (limits.dot_fail_um, limits.dot_warn_um) if limits else (None, None)
    return _least("narrowest stroke", found.width_um, warn, fail, "um")


def check_gaps(found: Narrowness, limits: MeshLimits | None) -> Check:
    """The narrowest gap of line art."""
    fail, warn = (limits.hole_fail_um, limits.hole_warn_um) if limits else (None, None)
    return _least("narrowest gap", found.width_um, warn, fail, "um")


def check_ratio(threads_per_inch: float, lpi: float) -> Check:
    """Threads to lines; warns only."""
    ratio = threads_per_inch / lpi
    verdict = Verdict.WARN if ratio < RATIO_WARN else Verdict.PASS
    return Check("mesh to lpi ratio", ratio, RATIO_WARN, None, "threads per line", verdict)


def check_resolution(ppi: float, lpi: float) -> Check:
    """Art pixels per inch on the film against lines per inch."""
    warn, fail = RESOLUTION_WARN * lpi, RESOLUTION_FAIL * lpi
    verdict = Verdict.FAIL if ppi < fail else Verdict.WARN if ppi < warn else Verdict.PASS
    return Check("art resolution", ppi, warn, fail, "ppi", verdict)


def check_line_resolution(ppi: float, dpi: int) -> Check:
    """Line art pixels per inch on the film against device pixels per inch; warns only."""
    verdict = Verdict.WARN if ppi < dpi / 2 else Verdict.PASS
    return Check("art resolution", ppi, dpi / 2, None, "ppi", verdict)


def check_levels(levels: int) -> Check:
    """The sizes that one dot can take; warns only."""
    verdict = Verdict.WARN if levels < LEVELS_WARN else Verdict.PASS
    return Check("levels", float(levels), float(LEVELS_WARN), None, "sizes of one dot", verdict)


def check_beat(worst_period_mm: float, lpi: float, *, refuse: bool) -> Check:
    """The worst beat over the stretch of the mesh; fails only where the profile refuses it."""
    cell = 25.4 / lpi
    warn = max(BEAT_WARN_MM, BEAT_WARN_CELLS * cell)
    fail = max(BEAT_FAIL_MM, BEAT_FAIL_CELLS * cell) if refuse else None
    verdict = Verdict.WARN if worst_period_mm > warn else Verdict.PASS
    if fail is not None and worst_period_mm > fail:
        verdict = Verdict.FAIL
    return Check("beat with the mesh", worst_period_mm, warn, fail, "mm", verdict)


def _size(areas: NDArray[np.int64], resolution: Resolution) -> float | None:
    area = low_quantile(areas)
    return None if area is None else diameter_um(area, resolution)


def _least(
    name: str, measured: float | None, warn: float | None, fail: float | None, unit: str
) -> Check:
    """A check on a size: fails at or under one limit, warns under the other."""
    verdict = Verdict.PASS
    if measured is not None and fail is not None and measured <= fail:
        verdict = Verdict.FAIL
    elif measured is not None and warn is not None and measured < warn * (1 - 1e-9):
        verdict = Verdict.WARN
    return Check(name, measured, warn, fail, unit, verdict)
