"""What is on a finished film, ours or not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from filmhand.arrays import Float32Array, UInt8Array
from filmhand.film.bits import BitSheet, ink_in_boxes
from filmhand.film.fork_pool import in_order_in_fork
from filmhand.mesh.assumed import assumptions
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.components import Components, count_components
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.bitmap.strokes import Narrowness
from filmhand.mesh.bitmap.thin_rules import ScreenOfRules
from filmhand.mesh.checks import Check, Verdict, check_dots, check_lines, check_pieces, check_ratio
from filmhand.mesh.limits import MeshLimits, diameter_um, pixels_of_circle
from filmhand.mesh.moire.bands import MeshThreads, screen_vectors
from filmhand.mesh.moire.spectrum import FoundScreen, clearest_screen
from filmhand.mesh.table import Mesh
from filmhand.pipeline.profile_notes import FilmNote
from filmhand.pipeline.render.screen_moire import ideal_moire, judge_moire, measured_moire, sight_of
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.verdict.inspection import measure_lines, thin_in_halftone, worst_places
from filmhand.profile.model import VerdictLimits
from filmhand.screen.dot_shapes import Dot
from filmhand.sheet.layout import Box, in_millimeters
from filmhand.units import MM_PER_INCH, PixelsPerInch

_WINDOW_IN = 4.0
_FINEST_WINDOW_DPI = 400
_ROWS_AT_ONCE = 240
# The smallest components are looked for once more, a few thousand rows at a time, until so many
# are found that some of them lie apart.
_ROWS_LOOKED_THROUGH, _ENOUGH = 4096, 200


def measure_film(
    bits: BitSheet, resolution: PixelsPerInch, *, mesh: Mesh | None, threads: int = 2
) -> dict[str, Any]:
    """All that ``filmhand measure`` tells of a film.

    Parameters
    ----------
    bits : the film
    resolution : its device pixels per inch
    mesh : judge it against this mesh as well
    """
    sheet = AreaOfSheet(bits, Box(0, 0, bits.width, bits.height))
    limits = MeshLimits.of(mesh) if mesh else None

    def counted() -> tuple[tuple[Components, Components], FoundScreen | None]:
        size = (bits.width, bits.height)
        components = count_components(sheet.read_packed, size, threads=max(1, threads - 1))
        return components, screen_of(bits, resolution)

    def opened() -> tuple[Narrowness, Narrowness]:
        return measure_lines(sheet, resolution, limits, threads=1)

    # Openings are many short steps, which in a thread would wait for one another's turn.
    works: list[Callable[[], Any]] = [counted, opened]
    ((dots, shadow_dots), screen), (strokes, gaps) = in_order_in_fork(lambda work: work(), works)
    found: dict[str, Any] = {
        "width_px": bits.width,
        "height_px": bits.height,
        "dpi": [round(resolution.x, 3), round(resolution.y, 3)],
        "sheet_mm": [
            round(bits.width / resolution.x * MM_PER_INCH, 2),
            round(bits.height / resolution.y * MM_PER_INCH, 2),
        ],
        "coverage_pct": round(dots.pixels / (bits.width * bits.height) * 100, 3),
        "lpi": None if screen is None else round(screen.lpi, 3),
        "angle": None if screen is None else round(screen.angle, 3),
        "screen": None if screen is None else "lines" if screen.lines else "dots",
        "dots": _statistics(dots, resolution),
        "shadow_dots": _statistics(shadow_dots, resolution),
        "narrowest_stroke_um": round(strokes.narrowest_um, 1),
        "narrowest_gap_um": round(gaps.narrowest_um, 1),
    }
    if mesh is not None and limits is not None:
        if screen is not None:
            checks = [
                *check_dots(dots.areas, shadow_dots.areas, resolution, limits),
                *_screen_checks(screen, sheet, mesh, resolution),
                *_thin_rules(screen, sheet, resolution, limits, threads),
            ]
        else:
            checks = check_lines(strokes, gaps, limits)
        found["mesh"] = mesh.label
        found["checks"] = [check.record() for check in checks]
        found["notes"] = assumptions(mesh)
        if screen is not None:
            found["notes"] += _narrow_pieces(strokes, gaps, limits)
        if screen is not None:
            dots, shadow_dots = _with_smallest(
                sheet, (dots, shadow_dots), checks[:2], limits, resolution
            )
        spots = worst_places(sheet, (dots, shadow_dots), checks, resolution, limits)
        found["worst"] = [spot.record(resolution) for spot in spots]
    return found


def _screen_checks(
    screen: FoundScreen, sheet: AreaOfSheet, mesh: Mesh, resolution: PixelsPerInch
) -> list[Check]:
    """Ratio and moire of a screen that was found on a film; the moire of dots like those there."""
    usual = VerdictLimits()
    area = sheet.area
    longest = max(in_millimeters((area.width, area.height), resolution))
    kind = Dot.LINE if screen.lines else Dot.ROUND
    assert kind.row.function is not None
    vectors = screen_vectors(screen.lpi, screen.angle)
    moire = ideal_moire(
        vectors,
        MeshThreads.of(mesh),
        kind.row.function,
        sight_of(usual.moire, longest),
        resolution,
        lines=screen.lines,
    )
    found = measured_moire(moire, sheet, vectors, resolution)
    return [
        check_ratio(mesh.threads_per_inch, screen.lpi, least=usual.ratio),
        judge_moire(found, usual.moire, refuse=False),
    ]


def _thin_rules(
    screen: FoundScreen,
    sheet: AreaOfSheet,
    resolution: PixelsPerInch,
    limits: MeshLimits,
    threads: int,
) -> list[Check]:
    rules = ScreenOfRules(screen.lpi, screen.angle if screen.lines else None)
    return check_pieces(
        *thin_in_halftone(sheet, resolution, limits, rules, threads=threads), limits
    )


def _narrow_pieces(strokes: Narrowness, gaps: Narrowness, limits: MeshLimits) -> list[str]:
    """What a dot's area does not tell: that it is long and thin."""
    notes = []
    for found, limit, note in (
        (strokes, limits.stroke.fail_um, FilmNote.NARROW_INK),
        (gaps, limits.gap.fail_um, FilmNote.NARROW_GAPS),
    ):
        if not found.at_least and found.width_um <= limit:
            notes.append(note.say(limit=f"{limit:.0f}"))
    return notes


def _with_smallest(
    sheet: AreaOfSheet,
    counted: tuple[Components, Components],
    checks: Sequence[Check],
    limits: MeshLimits,
    resolution: PixelsPerInch,
) -> tuple[Components, Components]:
    """The same dots and shadow dots, with the runs of some of the smallest that do not pass.

    ``checks`` are that of the dots and that of the shadow dots. Which are the smallest is known
    only once all are counted, and keeping all would take memory by their number.
    """
    sizes = [
        pixels_of_circle(um, resolution) for um in (limits.dot.warn_um, limits.shadow_dot.warn_um)
    ]
    keep = [
        0 if check.verdict is Verdict.PASS else _size_of_smallest(color.areas, size)
        for color, check, size in zip(counted, checks, sizes, strict=True)
    ]
    found: tuple[list[SmallRuns], list[SmallRuns]] = ([], [])
    wanted = [_ENOUGH if size else 0 for size in keep]
    count = [0, 0]
    width, height = sheet.area.width, sheet.area.height
    overlap = max(keep)
    for first in range(0, height, _ROWS_LOOKED_THROUGH):
        if count[0] >= wanted[0] and count[1] >= wanted[1]:
            break
        top, stop = max(0, first - overlap), min(height, first + _ROWS_LOOKED_THROUGH)

        def read(a: int, b: int, top: int = top) -> UInt8Array:
            return sheet.read_packed(top + a, top + b)

        parts = count_components(
            read, (width, stop - top), small_dot=keep[0], small_shadow_dot=keep[1], threads=1
        )
        for color, part in enumerate(parts):
            runs = part.small
            if runs.row.size:
                number = runs.component + count[color]
                found[color].append(runs._replace(component=number, row=runs.row + top))
                count[color] += int(runs.component.max()) + 1
    dots, shadow_dots = (
        replace(color, small=SmallRuns.joined(runs))
        for color, runs in zip(counted, found, strict=True)
    )
    return dots, shadow_dots


def _size_of_smallest(areas: AreaCounts, limit: int) -> int:
    """Pixels below which lie about as many of the smallest as are wanted; 0 where none is small."""
    small = min(_ENOUGH, areas.below(limit))
    return areas.at(small - 1) + 1 if small else 0


def screen_of(bits: BitSheet, resolution: PixelsPerInch) -> FoundScreen | None:
    """The clearest screen among nine windows of the film, up to 4 inches wide."""
    factor = max(1, int(min(resolution.x, resolution.y) // _FINEST_WINDOW_DPI))
    width = min(bits.width, int(_WINDOW_IN * resolution.x)) // factor * factor
    height = min(bits.height, int(_WINDOW_IN * resolution.y)) // factor * factor
    if min(width, height) < 16 * factor:
        return None
    places = {
        ((bits.width - width) * i // 4, (bits.height - height) * j // 4)
        for i in (1, 2, 3)
        for j in (1, 2, 3)
    }

    def windows() -> Iterator[Float32Array]:
        for left, top in sorted(places):
            yield _averaged(bits, Box(left, top, width, height), factor)

    return clearest_screen(windows(), (resolution.x / factor, resolution.y / factor))


def _averaged(bits: BitSheet, box: Box, factor: int) -> Float32Array:
    """The share of ink in squares of ``factor`` pixels of a box of whole squares."""
    mean = np.empty((box.height // factor, box.width // factor), np.float32)
    area = AreaOfSheet(bits, box)
    step = max(1, _ROWS_AT_ONCE // factor)
    for first in range(0, len(mean), step):
        count = min(step, len(mean) - first)
        sums = ink_in_boxes(
            area.read_packed(first * factor, (first + count) * factor),
            skip=area.skip,
            columns=mean.shape[1],
            across=factor,
            down=factor,
        )
        mean[first : first + count] = sums.astype(np.float32) / factor**2
    return mean


def _statistics(components: Components, resolution: PixelsPerInch) -> dict[str, Any]:
    areas = components.areas
    count = areas.total
    if not count:
        return {"count": 0, "smallest_um": None, "median_um": None}
    return {
        "count": count,
        "smallest_um": round(diameter_um(areas.smallest, resolution), 1),
        "median_um": round(diameter_um(areas.median, resolution), 1),
    }
