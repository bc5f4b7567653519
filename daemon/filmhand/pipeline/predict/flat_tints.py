"""Flat tints of a screen, printed as predicted: the tone curve, and bands with the mesh."""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips
from filmhand.mesh.table import Mesh
from filmhand.profile.model import Press, Profile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import ThresholdTile
from filmhand.tone import FULL
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

TONES_OF_CURVE = (2, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80, 85, 90, 95, 98)
_CURVE_MM, _BANDS_MM = 12.0, 50.0
_BAND_TONES = (30, 50, 70)
_FINEST_DPI = 300  # bands are far slower
# Faster ones than these are the texture of the dots.
_SHORTEST_MM, _SHORTEST_CELLS = 1.5, 3.0
# Slower bands than this do not fit the patch often enough to be told from its unevenness.
_SLOWEST_SHARE = 0.5
# Tone points, up and down, that bands must have, and how much more than on the film itself.
_LEAST_CHANGE, _OVER_FILM = 0.2, 2.0


@dataclass(frozen=True, slots=True)
class FoundBands:
    """The strongest slow bands of a predicted flat.

    Attributes
    ----------
    period_mm : from band to band
    direction : degrees, counter-clockwise, along which the bands run, 0 <= direction < 180
    change : tone points by which the print is darker and lighter than its mean
    tone : the film's tone, in percent, at which they are strongest
    """

    period_mm: float
    direction: float
    change: float
    tone: float

    def record(self) -> dict[str, Any]:
        """The bands as reports show them."""
        return {
            "period_mm": round(self.period_mm, 2),
            "direction": round(self.direction, 1),
            "change_points": round(self.change, 2),
            "tone_pct": self.tone,
        }


def conditions_of(profile: Profile) -> PrintConditions | None:
    """What the profile says of mesh, light and ink; None without a mesh."""
    return None if profile.mesh is None else conditions_for(None, profile)


def conditions_for(mesh: Mesh | None, profile: Profile | None) -> PrintConditions:
    """The same for a mesh and a profile of which one may be missing; the mesh goes first.

    Raises
    ------
    ValueError
        neither names a mesh
    """
    mesh = mesh or (profile.mesh if profile is not None else None)
    if mesh is None:
        raise ValueError("neither the command nor the profile names a mesh")
    press = profile.press if profile is not None else Press()
    return PrintConditions(
        mesh=mesh,
        mesh_angle=press.mesh_angle,
        gap_um=press.film_gap,
        light_deg=press.light_angle,
        spread_um=press.ink_spread,
        passage_um=press.ink_passage,
    )


def curve_of(
    conditions: PrintConditions,
    tile: ThresholdTile,
    resolution: PixelsPerInch,
    tones: Sequence[float] = TONES_OF_CURVE,
) -> list[tuple[float, float]]:
    """Pairs of film tone and expected print tone, in percent, of a screen.

    A flat of each tone, 12 mm square, is printed as :class:`PrintedStrips` does; what is left of
    the luck of where dots meet threads is some tenths of a point.

    Parameters
    ----------
    tile : the threshold tile of the screen
    tones : film tones in percent
    """
    flats = _Flats(conditions, tile, resolution, _CURVE_MM)
    pairs = []
    for tone in tones:
        film, printed = flats.of(tone)
        pairs.append((100 * float(film.mean()), 100 * float(printed.mean())))
    return pairs


def bands_of(
    conditions: PrintConditions, tile: ThresholdTile, resolution: PixelsPerInch, lpi: float
) -> FoundBands | None:
    """The strongest slow bands of flats of 30, 50 and 70 %, or None where none would show.

    Notes
    -----
    Transform of a 50 mm flat under a Hann window; its largest peak between one over half the patch
    and what is too fast to be seen as bands (where the check of the beat begins to warn), placed
    between the bins by a parabola on the logarithm.
    """
    flats = _Flats(conditions, tile, resolution, _BANDS_MM)
    peaks = [_peak(*flats.of(tone), resolution, lpi, tone) for tone in _BAND_TONES]
    found = [peak for peak in peaks if peak is not None]
    return max(found, key=lambda bands: bands.change, default=None)


class _Flats:
    """Square flats of one screen, as film and as print."""

    def __init__(
        self,
        conditions: PrintConditions,
        tile: ThresholdTile,
        resolution: PixelsPerInch,
        side_mm: float,
    ) -> None:
        self._width = round(side_mm / MM_PER_INCH * resolution.x)
        self._height = round(side_mm / MM_PER_INCH * resolution.y)
        self._impression = PrintedStrips(conditions, resolution, left=0, width=self._width)
        halo = self._impression.halo
        # The tile repeats, so the flat may begin anywhere on it.
        self._screener = Screener(tile, column=0, width=self._width + 2 * halo[0])

    def of(self, tone: float) -> tuple[BoolArray, Float64Array]:
        """(film, printed share by device pixel) of a flat tone in percent."""
        halo_x, halo_y = self._impression.halo
        strip = np.full(
            (self._height + 2 * halo_y, self._width + 2 * halo_x),
            round(tone / 100 * FULL),
            np.uint16,
        )
        film = self._screener.cut(strip, row=0)
        printed, _ = self._impression.of(film, row=0)
        cells = self._impression.cells
        inside = film[halo_y : halo_y + self._height, halo_x : halo_x + self._width]
        return inside, printed / (cells[0] * cells[1])


def _peak(
    film: BoolArray, printed: Float64Array, resolution: PixelsPerInch, lpi: float, tone: float
) -> FoundBands | None:
    coarse = tuple(max(1, int(dpi // _FINEST_DPI)) for dpi in (resolution.y, resolution.x))
    film_share, printed = (_averaged(picture, coarse) for picture in (film, printed))
    resolution = PixelsPerInch(resolution.x / coarse[1], resolution.y / coarse[0])
    power = _transform(printed)
    down = np.fft.fftfreq(printed.shape[0]) * resolution.y
    across = np.fft.rfftfreq(printed.shape[1]) * resolution.x
    radius = np.hypot(down[:, None], across)
    slowest = MM_PER_INCH / (_SLOWEST_SHARE * _BANDS_MM)
    shortest = max(_SHORTEST_MM, _SHORTEST_CELLS * MM_PER_INCH / lpi)
    allowed = (radius >= slowest) & (radius <= MM_PER_INCH / shortest)
    if not allowed.any():
        return None
    row, column = np.unravel_index(np.where(allowed, power, 0).argmax(), power.shape)
    change = float(power[row, column])
    if change * 100 < _LEAST_CHANGE or change < _OVER_FILM * _transform(film_share)[row, column]:
        return None
    y = down[row] + _offset(power[:, column], int(row)) * resolution.y / printed.shape[0]
    x = across[column] + _offset(power[row], int(column)) * resolution.x / printed.shape[1]
    # Bands run at right angles to their frequency; rows run downward.
    return FoundBands(
        MM_PER_INCH / float(np.hypot(x, y)),
        (degrees(np.arctan2(-y, x)) + 90) % 180,
        100 * change,
        tone,
    )


def _averaged(picture: NDArray[Any], by: tuple[int, ...]) -> Float64Array:
    """The mean of every block of ``by`` rows and columns; what is left over is cut off."""
    down, across = by
    rows, columns = picture.shape[0] // down, picture.shape[1] // across
    blocks = picture[: rows * down, : columns * across].reshape(rows, down, columns, across)
    means: Float64Array = blocks.mean(axis=(1, 3), dtype=np.float64)
    return means


def _transform(picture: NDArray[Any]) -> Float64Array:
    """Amplitudes of the waves in a picture, under a Hann window."""
    height, width = picture.shape
    window = np.hanning(height + 1)[:-1, None] * np.hanning(width + 1)[:-1]
    waves: Float64Array = np.abs(np.fft.rfft2((picture - picture.mean()) * window))
    scaled: Float64Array = waves * (2 / window.sum())
    return scaled


def _offset(line: Float64Array, place: int) -> float:
    """Where the peak of a parabola through three logarithms lies, in bins from the middle one."""
    if place in (0, len(line) - 1):
        return 0.0
    before, here, after = np.log(line[[place - 1, place, place + 1]] + 1e-300)
    bend = before - 2 * here + after
    return float(np.clip((before - after) / (2 * bend), -0.5, 0.5)) if bend < 0 else 0.0
