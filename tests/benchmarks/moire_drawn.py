"""Bands as they are told, beside bands that are drawn and looked at.

    python tests/benchmarks/moire_drawn.py

For each of 48 set-ups the film of three flat tones, as the screen makes it, is laid pixel by pixel
on threads that are drawn pixel by pixel, stretched as told, and multiplied; NumPy's fast Fourier
transform, times the contrast sensitivity (R. Näsänen, 1984; written out here once more), tells
which bands are seen most. Threads are plain square openings, and no ink flows. The drawn patch is
1.5 inches wide, so bands are told for art of half an inch. Product of gratings: I. Amidror, The
Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009, ch. 2.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from ordinary_setups import PAIRS, profile_text

from filmhand.mesh.moire.bands import Bands
from filmhand.pipeline.render.screen_moire import tile_moire
from filmhand.pipeline.render.screen_plan import ScreenPlan, plan_screen
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, ThresholdTile

PER_INCH, SIDE_IN, BLOCK = 2400, 1.5, 4
ART_MM, DISTANCE_MM = 12.7, 1000.0
TONES = (0.3, 0.5, 0.7)
SET_UPS = (
    *((mesh, lpi, angle, 600, "round") for mesh, lpi in PAIRS for angle in (22.5, 45.0)),
    ("43-80", 25, 45.0, 300, "round"),
    ("43-80", 25, 15.0, 300, "round"),
    ("62-64", 35, 7.5, 300, "ellipse"),
    ("90-48", 45, 0.0, 1200, "round"),
    ("90-48", 55, 15.0, 1200, "diamond"),
    ("90-48", 55, 52.5, 600, "square"),
    ("77-55", 45, 61.0, 600, "ellipse"),
    ("120-34", 65, 30.0, 1200, "round"),
    ("55-64", 30, 82.5, 600, "diamond"),
    ("49-55", 30, 45.0, 600, "ellipse"),
    ("62-64", 40, 0.0, 600, "square"),
    ("120-34", 55, 45.0, 1200, "ellipse"),
)
"""Mesh, ruling, angle, resolution and shape of the dots."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The bands that are seen most: from band to band, their strength, and their visibility."""

    period_mm: float
    strength: float
    visibility: float


def told_and_drawn(mesh: str, lpi: float, angle: float, dpi: int, dot: str) -> tuple[Bands, Seen]:
    """What the program tells of a set-up, and what a drawing of it shows."""
    text = profile_text(mesh, lpi, angle, dpi, dot)
    profile = read_profile(text, name="drawn", file="drawn.yaml")
    plan = plan_screen(profile)
    tile = plan.tile()
    moire = tile_moire(profile, plan, tile, ART_MM)
    assert moire is not None
    bands = moire.bands[0]
    fields, bare = zip(*_printed(profile, plan, tile, bands.stretch), strict=True)
    return bands, _most_visible(fields, bare, 0.75 * plan.grid.lpi)


def _printed(
    profile: Profile, plan: ScreenPlan, tile: ThresholdTile, stretch: float
) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Film times mesh for each tone, and the film alone.

    In squares of a few drawn pixels, relative to the mean, under a Hann window.
    """
    assert profile.mesh is not None
    dpi = plan.grid.resolution.x
    side, larger = round(SIDE_IN * dpi), PER_INCH // dpi
    screener = Screener(tile, column=0, width=side)
    # Threads take their exact share of each pixel: cut to whole ones, they would make bands with
    # the pixels themselves.
    edges = np.arange(side * larger + 1) / PER_INCH * profile.mesh.threads_per_inch * (1 - stretch)
    width = profile.mesh.opening_um / profile.mesh.pitch_um
    opened = np.floor(edges) * width + np.minimum(edges % 1, width)
    opening = (np.diff(opened) / np.diff(edges)).astype(np.float32)
    count = side * larger // BLOCK
    for tone in TONES:
        flat = np.full((side, side), round(tone * FULL_TONE), np.uint16)
        film = screener.cut(flat, row=0).repeat(larger, axis=0).repeat(larger, axis=1)
        ink = film * opening
        ink *= opening[:, None]
        yield _relative(ink, count), _relative(film, count)


def _relative(picture: np.ndarray, count: int) -> np.ndarray:
    small = picture.reshape(count, BLOCK, count, BLOCK).mean(axis=(1, 3), dtype=np.float64)
    window = np.hanning(count + 1)[:-1]
    weighed: np.ndarray = (small / small.mean() - 1) * window[:, None] * window
    return weighed


def _most_visible(fields: Sequence[np.ndarray], bare: Sequence[np.ndarray], highest: float) -> Seen:
    """The most visible wave below a frequency, at the worst of the tones.

    What is slower than the art has room for is left out, and so are the skirts of the mean, and
    what the film has by itself, without a mesh.
    """
    step = BLOCK / PER_INCH
    down = np.fft.fftfreq(len(fields[0]), step)
    across = np.fft.rfftfreq(len(fields[0]), step)
    frequency = np.hypot(down[:, None], across)
    allowed = (frequency >= 25.4 / ART_MM * 0.9) & (frequency < highest)
    power, own = (
        np.max([np.abs(np.fft.rfft2(field)) for field in some], axis=0) for some in (fields, bare)
    )
    allowed &= power > 2 * own
    row, column = np.unravel_index(
        np.where(allowed, power * _seen(frequency), 0).argmax(), power.shape
    )
    # Between the bins: the largest of a fine grid about the largest bin.
    fine = np.linspace(-1, 1, 13) / SIDE_IN
    y, x = down[row] + fine, across[column] + fine
    place = np.arange(len(fields[0])) * step
    rows, columns = (
        np.exp(-2j * np.pi * np.outer(y, place)),
        np.exp(-2j * np.pi * np.outer(place, x)),
    )
    # The sum of the window, and both sides of a wave.
    whole = (len(place) / 2) ** 2 / 2
    strength = np.max([np.abs(rows @ field @ columns) for field in fields], axis=0) / whole
    near = np.hypot(y[:, None], x)
    visible = np.where(near >= 25.4 / ART_MM * 0.999, strength * _seen(near), 0)
    best = np.unravel_index(visible.argmax(), visible.shape)
    return Seen(25.4 / near[best], float(strength[best]), float(visible[best]))


def _seen(per_inch: np.ndarray) -> np.ndarray:
    """The contrast sensitivity relative to its largest, at 100 candela a square meter."""
    cycles = per_inch / 25.4 * DISTANCE_MM * np.pi / 180
    share: np.ndarray = np.exp(-cycles / (0.525 * np.log(100) + 3.91))
    return share


def main() -> int:
    """Print all set-ups."""
    print("mesh    lpi  angle   dpi  dot        told mm     %  visible   drawn mm     %  visible")
    off = []
    for set_up in SET_UPS:
        told, drawn = told_and_drawn(*set_up)
        mesh, lpi, angle, dpi, dot = set_up
        print(
            f"{mesh:7} {lpi:3}  {angle:5} {dpi:5}  {dot:8} {told.period_mm:8.2f} "
            f"{100 * told.strength:6.2f} {told.visibility:8.4f} {drawn.period_mm:10.2f} "
            f"{100 * drawn.strength:6.2f} {drawn.visibility:8.4f}",
            flush=True,
        )
        off.append(drawn.visibility - told.visibility)
    rms, most = np.sqrt(np.mean(np.square(off))), np.abs(off).max()
    print(f"{len(off)} set-ups: visibility differs by {rms:.4f} (rms), at most by {most:.4f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
