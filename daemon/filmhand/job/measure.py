"""What is on a finished film, ours or not."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.film.bits import BitSheet
from filmhand.job.inspect import measure_lines
from filmhand.job.lay_down import AreaOfSheet
from filmhand.mesh.checks import check_dots, check_gaps, check_holes, check_ratio, check_strokes
from filmhand.mesh.components import Components, count_components
from filmhand.mesh.limits import MeshLimits, diameter_um
from filmhand.mesh.spectrum import FoundScreen, find_screen
from filmhand.mesh.table import Mesh
from filmhand.sheet.layout import Box
from filmhand.units import Resolution

_WINDOW_IN = 4.0
_FINEST_WINDOW_DPI = 400


def measure_film(
    bits: BitSheet, resolution: Resolution, *, mesh: Mesh | None, threads: int = 2
) -> dict[str, Any]:
    """All that ``filmhand measure`` tells of a film.

    Parameters
    ----------
    bits : the film
    resolution : its device pixels per inch
    mesh : judge it against this mesh as well
    """
    sheet = AreaOfSheet(bits, Box(0, 0, bits.width, bits.height))
    dots, holes = count_components(sheet.read, (bits.width, bits.height), threads=threads)
    screen = screen_of(bits, resolution)
    limits = MeshLimits.of(mesh) if mesh else None
    strokes, gaps = measure_lines(sheet, resolution, limits, threads=threads)
    found: dict[str, Any] = {
        "width_px": bits.width,
        "height_px": bits.height,
        "dpi": [resolution.x, resolution.y],
        "sheet_mm": [
            round(bits.width / resolution.x * 25.4, 2),
            round(bits.height / resolution.y * 25.4, 2),
        ],
        "coverage_pct": round(dots.pixels / (bits.width * bits.height) * 100, 3),
        "lpi": None if screen is None else round(screen.lpi, 3),
        "angle": None if screen is None else round(screen.angle, 3),
        "screen": None if screen is None else "lines" if screen.lines else "dots",
        "dots": _statistics(dots, resolution),
        "holes": _statistics(holes, resolution),
        "narrowest_stroke_um": round(strokes.width_um, 1),
        "narrowest_gap_um": round(gaps.width_um, 1),
    }
    if mesh is not None:
        if screen is not None:
            checks = [
                check_dots(dots.areas, resolution, limits),
                check_holes(holes.areas, resolution, limits),
                check_ratio(mesh.threads_per_inch, screen.lpi),
            ]
        else:
            checks = [check_strokes(strokes, limits), check_gaps(gaps, limits)]
        found["mesh"] = mesh.label
        found["checks"] = [check.record() for check in checks]
    return found


def screen_of(bits: BitSheet, resolution: Resolution) -> FoundScreen | None:
    """The clearest screen among nine windows of the film, up to 4 inches wide."""
    factor = max(1, min(resolution.x, resolution.y) // _FINEST_WINDOW_DPI)
    best: FoundScreen | None = None
    width = min(bits.width, int(_WINDOW_IN * resolution.x)) // factor * factor
    height = min(bits.height, int(_WINDOW_IN * resolution.y)) // factor * factor
    if min(width, height) < 16 * factor:
        return None
    places = {
        ((bits.width - width) * i // 4, (bits.height - height) * j // 4)
        for i in (1, 2, 3)
        for j in (1, 2, 3)
    }
    for left, top in sorted(places):
        window = _averaged(bits, Box(left, top, width, height), factor)
        found = find_screen(window, (resolution.x / factor, resolution.y / factor))
        if found is not None and (best is None or found.share > best.share):
            best = found
    return best


def _averaged(bits: BitSheet, box: Box, factor: int) -> NDArray[np.float64]:
    rows = np.unpackbits(bits.read(box.top, box.height), axis=1)[:, box.left : box.right]
    blocks = rows.reshape(box.height // factor, factor, box.width // factor, factor)
    mean: NDArray[np.float64] = blocks.mean(axis=(1, 3), dtype=np.float64)
    return mean


def _statistics(components: Components, resolution: Resolution) -> dict[str, Any]:
    areas = components.areas
    if not areas.size:
        return {"count": 0, "smallest_um": None, "median_um": None}
    return {
        "count": int(areas.size),
        "smallest_um": round(diameter_um(int(areas.min()), resolution), 1),
        "median_um": round(diameter_um(float(np.median(areas)), resolution), 1),
    }
