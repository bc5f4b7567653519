"""The verdicts on a finished film: what was measured, what the limits are, what follows.

Every check is made on the finished bitmap or on the screen and mesh as they are, never on what was
asked for. The limits of sizes stand in :mod:`filmhand.mesh.limits`; those of the ratio, the
resolution, the levels and the beat come from the profile, whose defaults are trade rules. The page
``mesh`` of the guide names the source of each.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.mesh.bitmap.strokes import Narrowness
from filmhand.mesh.limits import (
    STENCIL_GAP_UM,
    STENCIL_STROKE_UM,
    MeshLimits,
    Pair,
    diameter_um,
)
from filmhand.units import MM_PER_INCH, Resolution

# Share of the dots, or holes, that may lie at or under a limit.
ALLOWED_SHARE = 0.001


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


def check_shadow_dots(
    areas: NDArray[np.int64], resolution: Resolution, limits: MeshLimits | None
) -> Check:
    """The smallest hole: diameter of the circle with the area of a white component."""
    fail, warn = (limits.hole_fail_um, limits.hole_warn_um) if limits else (None, None)
    return _least("smallest hole", _size(areas, resolution), warn, fail, "um")


def check_strokes(found: Narrowness, limits: MeshLimits | None) -> Check:
    """The narrowest stroke of line art."""
    fail, warn = (limits.stroke_fail_um, limits.stroke_warn_um) if limits else (None, None)
    return _least("narrowest stroke", found.width_um, warn, fail, "um")


def check_gaps(found: Narrowness, limits: MeshLimits | None) -> Check:
    """The narrowest gap of line art."""
    fail, warn = (limits.gap_fail_um, limits.gap_warn_um) if limits else (None, None)
    return _least("narrowest gap", found.width_um, warn, fail, "um")


def check_stencil(strokes: Narrowness, gaps: Narrowness) -> list[Check]:
    """Strokes and gaps of line art against what emulsion and film hold on any mesh; warns only."""
    checks = []
    for name, found, warn in (
        ("stroke for the stencil", strokes, STENCIL_STROKE_UM),
        ("gap for the stencil", gaps, STENCIL_GAP_UM),
    ):
        check = _least(name, found.width_um, warn, None, "um")
        # Where nothing narrow was found, the width is only that of the widest disc tried.
        checks.append(replace(check, verdict=Verdict.PASS) if found.at_least else check)
    return checks


def check_ratio(threads_per_inch: float, lpi: float, *, least: float) -> Check:
    """Threads to lines; warns only, under ``least``."""
    ratio = threads_per_inch / lpi
    verdict = Verdict.WARN if ratio < least else Verdict.PASS
    return Check("mesh to lpi ratio", ratio, least, None, "threads per line", verdict)


def check_resolution(ppi: float, lpi: float, *, limits: Pair) -> Check:
    """Art pixels per inch on the film against lines per inch; ``limits`` are (fail, warn) a line.

    Under sqrt(2) a line the screen shows the pixels at its diagonal; under 1 a dot does not even
    have a pixel of its own.
    """
    fail, warn = limits[0] * lpi, limits[1] * lpi
    verdict = Verdict.FAIL if ppi < fail else Verdict.WARN if ppi < warn else Verdict.PASS
    return Check("art resolution", ppi, warn, fail, "ppi", verdict)


def check_line_resolution(ppi: float, dpi: int, *, least: float) -> Check:
    """Line art pixels per inch on the film against device pixels per inch; warns only."""
    warn = least * dpi
    verdict = Verdict.WARN if ppi < warn else Verdict.PASS
    return Check("art resolution", ppi, warn, None, "ppi", verdict)


def check_gray_levels(levels: int, *, least: float) -> Check:
    """The sizes that one dot can take; warns only."""
    verdict = Verdict.WARN if levels < least else Verdict.PASS
    return Check("levels", float(levels), least, None, "sizes of one dot", verdict)


def moire_limits_mm(lpi: float, *, periods_mm: Pair, cells: Pair) -> Pair:
    """The periods in millimeters over which a beat warns and fails: both rules must be exceeded.

    ``periods_mm`` and ``cells`` are (warn, fail), in millimeters and in cells of the screen.
    """
    cell = MM_PER_INCH / lpi
    return max(periods_mm[0], cells[0] * cell), max(periods_mm[1], cells[1] * cell)


def check_moire(worst_period_mm: float, limits_mm: Pair, *, refuse: bool) -> Check:
    """The worst beat over the stretch of the mesh; fails only where the profile refuses it.

    ``limits_mm`` are those of :func:`moire_limits_mm`.
    """
    warn, fail = limits_mm[0], limits_mm[1] if refuse else None
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
