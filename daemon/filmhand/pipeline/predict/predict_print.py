"""The expected print of a finished film, ours or not: a picture, losses, bands and the tone curve.

The film is worked on strip by strip, so memory follows its width. The picture is averaged twice as
fine as it is shown and then reduced with a proper filter: else dots would beat with its pixels and
show bands that no print has.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import Float32Array
from filmhand.film.bits import BitSheet, box_sums
from filmhand.mesh.assumed import assumptions
from filmhand.mesh.bitmap.components import count_components
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.moire.spectrum import FoundScreen
from filmhand.mesh.printing.losses import AtRisk, blacken_runs, count_of, passes
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips, washes_away
from filmhand.page.predicted_print import LONGEST_PRINT_SIDE
from filmhand.pipeline.measure import screen_of
from filmhand.pipeline.predict.flat_tints import TONES_OF_CURVE, bands_of, curve_of
from filmhand.pipeline.profile_notes import FilmNote
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.profile.model import Profile
from filmhand.screen.grain import Grain
from filmhand.screen.lattice import Lattice, find_lattice
from filmhand.screen.tile import ThresholdTile, build_tile
from filmhand.sheet.layout import Box
from filmhand.speaking_pool import SpeakingPool
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

_ROWS_AT_ONCE = 80
# A film made with a profile has its screen to within this; else the film's own is looked at.
_SAME_LPI, _SAME_ANGLE = 0.02, 1.5
# A place is this many cells of the screen wide, so that a cell more or less matters little, and
# even where its four quarters are within this share of each other.
_CELLS, _EVEN = 6, 0.06
_LEAST_PLACES = 4


@dataclass(frozen=True, slots=True)
class PredictedPrint:
    """What is expected of a film.

    Attributes
    ----------
    film, printed : (h, w) float32, shares of ink 0..1 on film and print, by boxes of the film
    box : device pixels of a box, across and down
    dots, shadow_dots : how many of each are on the film, but for those that the sheet's edge cuts
    lost, filled : how many of them do not print, and fill with ink
    """

    film: Float32Array
    printed: Float32Array
    box: tuple[int, int]
    dots: int
    lost: int
    shadow_dots: int
    filled: int


def predict_film(
    bits: BitSheet, resolution: PixelsPerInch, conditions: PrintConditions, *, threads: int = 2
) -> PredictedPrint:
    """What the whole of a film prints.

    Parameters
    ----------
    bits : the film
    resolution : its device pixels per inch
    conditions : of mesh, light and ink
    """
    least = AtRisk.of(conditions, resolution)
    dots, shadow_dots = count_components(
        lambda first, stop: bits.read(first, stop - first),
        (bits.width, bits.height),
        small_dot=least.dot,
        small_shadow_dot=least.shadow_dot,
        threads=threads,
    )
    posts, small = (
        runs.picked(np.argsort(runs.row, kind="stable")) for runs in (shadow_dots.small, dots.small)
    )
    washed = washes_away(posts, count_of(posts), conditions, resolution)
    sheet = _Sheet(bits, resolution, conditions, posts.picked(washed[posts.component]), small)
    with SpeakingPool(threads) as pool:
        list(pool.map(sheet.strip, sheet.tops))
    return PredictedPrint(
        sheet.film,
        sheet.printed,
        sheet.box,
        dots.areas.total,
        int((~sheet.shown).sum()),
        shadow_dots.areas.total,
        int(washed.sum()),
    )


def predict_print(
    bits: BitSheet,
    resolution: PixelsPerInch,
    conditions: PrintConditions,
    *,
    profile: Profile | None = None,
    threads: int = 2,
) -> tuple[dict[str, Any], PredictedPrint]:
    """All that ``filmhand predict`` tells of a film, and what its picture is drawn from.

    Parameters
    ----------
    profile : the profile that the film was made with, if that is known
    """
    seen = predict_film(bits, resolution, conditions, threads=threads)
    found = screen_of(bits, resolution)
    tile, lpi, whose = _screen(found, profile, resolution)
    own = tones_of_film(seen.film, seen.printed, _cell(lpi, resolution, seen.box), TONES_OF_CURVE)
    points: list[dict[str, Any]] = [
        {"film_pct": round(film, 1), "print_pct": round(printed, 1), "from": "film"}
        for film, printed in own
    ]
    bands = None
    if tile is not None and lpi is not None:
        bands = bands_of(conditions, tile, resolution, lpi)
        missing = [t for t in TONES_OF_CURVE if all(abs(t - film) > _near(t) for film, _ in own)]
        points += [
            {"film_pct": round(film, 1), "print_pct": round(printed, 1), "from": "flats"}
            for film, printed in curve_of(conditions, tile, resolution, missing)
        ]
    points.sort(key=lambda point: point["film_pct"])
    report = {
        "width_px": bits.width,
        "height_px": bits.height,
        "dpi": [resolution.x, resolution.y],
        "mesh": conditions.mesh.label,
        "notes": assumptions(conditions.mesh),
        "press": _press(conditions),
        "film_pct": round(100 * float(seen.film.mean()), 2),
        "print_pct": round(100 * float(seen.printed.mean()), 2),
        "dots": _losses(seen.dots, "lost", seen.lost),
        "shadow_dots": _losses(seen.shadow_dots, "filled", seen.filled),
        "screen": None
        if found is None
        else {"lpi": round(found.lpi, 3), "angle": round(found.angle, 3), "lines": found.lines},
        "flats": whose,
        "bands": None if bands is None else bands.record(),
        "curve": points,
    }
    return report, seen


def _near(tone: float) -> float:
    """How near a tone of the film must be to stand for one of the curve's."""
    return 1.0 if tone <= 10 or tone >= 90 else 2.5


def _losses(count: int, word: str, gone: int) -> dict[str, Any]:
    share = round(100 * gone / count, 3) if count else 0.0
    return {"count": count, word: gone, f"{word}_pct": share}


def _press(conditions: PrintConditions) -> dict[str, float]:
    return {
        "mesh_angle": conditions.mesh_angle,
        "gap_um": conditions.gap_um,
        "light_deg": conditions.light_deg,
        "spread_um": conditions.spread_um,
        "passage_um": conditions.narrowest_um,
        "undercut_um": round(conditions.undercut_um, 1),
        "stretch_pct": conditions.mesh.stretch_percent or 0.0,
    }


def _cell(lpi: float | None, resolution: PixelsPerInch, box: tuple[int, int]) -> float:
    """The side of a screen's cell in boxes; of a millimeter where there is no screen."""
    per_inch = lpi or MM_PER_INCH
    return max(resolution.x / box[0], resolution.y / box[1]) / per_inch


def _screen(
    found: FoundScreen | None, profile: Profile | None, resolution: PixelsPerInch
) -> tuple[ThresholdTile | None, float | None, str | None]:
    """The screen of which flats are printed, its ruling, and whose it is."""
    if profile is not None and profile.lpi is not None and profile.dot is not None:
        plan = plan_screen(profile)
        if profile.acetate_dpi == resolution and (found is None or _same(found, plan.grid)):
            return plan.tile(), plan.grid.lpi, FilmNote.SCREEN_OF_PROFILE.say()
    if found is None or found.lpi > min(resolution.x, resolution.y) / 4:
        return None, None if found is None else found.lpi, None
    try:
        lattice = find_lattice(found.lpi, found.angle, resolution)
    except ValueError:
        return None, found.lpi, None
    shape = "line" if found.lines else "round"
    whose = FilmNote.FOUND_LINES if found.lines else FilmNote.FOUND_DOTS
    return build_tile(lattice, shape), lattice.lpi, whose.say()


def _same(found: FoundScreen, grid: Lattice | Grain) -> bool:
    if isinstance(grid, Grain):
        return True
    turn = 180 if found.lines else 90
    apart = abs((grid.angle - found.angle + turn / 2) % turn - turn / 2)
    return bool(abs(grid.lpi / found.lpi - 1) < _SAME_LPI and apart < _SAME_ANGLE)


class _Sheet:
    """A film whose strips are printed; strips may be asked for in several threads.

    ``film`` and ``printed`` gather ink by box, ``shown`` by small dot whether any of it prints.
    """

    def __init__(
        self,
        bits: BitSheet,
        resolution: PixelsPerInch,
        conditions: PrintConditions,
        washed: SmallRuns,
        small: SmallRuns,
    ) -> None:
        self._bits = AreaOfSheet(bits, Box(0, 0, bits.width, bits.height))
        self._impression = PrintedStrips(conditions, resolution, left=0, width=bits.width)
        self._washed, self._small = washed, small
        self.shown = np.zeros(count_of(small), np.bool_)
        coarser = max(resolution.x, resolution.y)
        inches = max(bits.width / resolution.x, bits.height / resolution.y)
        side = ceil(inches * coarser / (2 * LONGEST_PRINT_SIDE))
        across = ceil(side * resolution.x / coarser)
        down = ceil(side * resolution.y / coarser)
        self.box = min(across, bits.width), min(down, bits.height)
        self._boxes = bits.width // self.box[0], bits.height // self.box[1]
        self._rows = max(1, _ROWS_AT_ONCE // self.box[1]) * self.box[1]
        self.tops = range(0, self._boxes[1] * self.box[1], self._rows)
        self.film, self.printed = (np.empty(self._boxes[::-1], np.float32) for _ in range(2))

    def strip(self, top: int) -> None:
        """Print the strip that begins at row ``top``."""
        impression, (halo_x, halo_y) = self._impression, self._impression.halo
        width = self._bits.area.width
        stop = min(self._boxes[1] * self.box[1], top + self._rows)
        film = np.zeros((stop - top + 2 * halo_y, width + 2 * halo_x), np.bool_)
        first, last = max(0, top - halo_y), min(self._bits.area.height, stop + halo_y)
        inside = film[first - top + halo_y : last - top + halo_y, halo_x : halo_x + width]
        inside[:] = self._bits.read(first, last)
        core = film[halo_y : halo_y + stop - top, halo_x : halo_x + width]
        boxes = slice(top // self.box[1], stop // self.box[1])
        self.film[boxes] = self._boxed(core, 1)
        washed = _between(self._washed, first, last)
        blacken_runs(inside, washed, np.ones(count_of(washed), np.bool_), row=first)
        printed, passed = impression.of(film, row=top)
        small = _between(self._small, top, stop)
        if small.row.size:
            self.shown[small.component[passes(small, passed, row=top)]] = True
        self.printed[boxes] = self._boxed(printed, impression.cells[0] * impression.cells[1])

    def _boxed(self, rows: NDArray[Any], full: int) -> Float32Array:
        """The mean of each box, ``full`` being 1."""
        across, down = self.box
        sums = box_sums(rows, across=across, down=down, most=full)
        return sums.astype(np.float32) / np.float32(across * down * full)


def _between(runs: SmallRuns, first: int, stop: int) -> SmallRuns:
    """The runs of rows ``first`` .. ``stop`` - 1, of runs in the order of their rows."""
    low, high = np.searchsorted(runs.row, (first, stop))
    return runs.picked(slice(int(low), int(high)))


def tones_of_film(
    film: Float32Array, printed: Float32Array, cell: float, tones: Sequence[float]
) -> list[tuple[float, float]]:
    """Pairs of film tone and print tone, in percent, near the tones that are asked for.

    Parameters
    ----------
    film, printed : (h, w) shares of ink 0..1, box by box
    cell : side of a screen's cell in boxes
    tones : in percent; one that fewer than four even places of the film have is left out

    Returns
    -------
    list
        the mean film tone of the places near a tone, and their mean print tone
    """
    half = max(1, ceil(_CELLS * cell / 2))
    rows, columns = film.shape[0] // (2 * half), film.shape[1] // (2 * half)
    if not rows or not columns:
        return []
    quarters = _means(film, half, rows, columns)
    even = quarters.max(axis=(1, 3)) - quarters.min(axis=(1, 3)) <= _EVEN
    on_film = 100 * quarters.mean(axis=(1, 3))[even]
    on_print = 100 * _means(printed, half, rows, columns).mean(axis=(1, 3))[even]
    pairs = []
    for tone in tones:
        near = np.abs(on_film - tone) <= _near(tone)
        if near.sum() >= _LEAST_PLACES:
            pairs.append((float(on_film[near].mean()), float(on_print[near].mean())))
    return pairs


def _means(picture: Float32Array, half: int, rows: int, columns: int) -> Float32Array:
    """(rows, 2, columns, 2): the mean of each quarter of each place."""
    kept = picture[: rows * 2 * half, : columns * 2 * half]
    means: Float32Array = kept.reshape(rows, 2, half, columns, 2, half).mean(axis=(2, 5))
    return means
