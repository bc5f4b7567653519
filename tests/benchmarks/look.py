"""How even our screens look, beside plainer ways of cutting the same tones.

On flats: the noise below half the screen's frequency, which the eye takes for mottle, and the
noise that is left after the eye's blur at 48 inches. On pictures: the error that is left after the
blur at 12, 24 and 48 inches, averaged over a few places on the sheet, since where dots fall on an
edge is luck of some tenths of a dB. Compared are, at the same ruling and angle,

- ours: the tile of filmhand.screen, round dots, none dropped; and the stochastic one, grain;
- rank supercell: our period and our dot grid, all pixels ranked by the spot value alone;
- single cell: the whole-pixel cell nearest to the ruling and the angle, so neither is met;
- error diffusion: no screen at all, and no dot that a stencil would hold; what a close look
  could give at best.

The blur is R. Näsänen, Visibility of halftone dot textures, IEEE Trans. Systems, Man and
Cybernetics 14(6), 1984, in the low-pass form of S. H. Kim and J. P. Allebach, Impact of HVS models
on model-based halftoning, IEEE Trans. Image Processing 11(3), 2002 (constants from memory).

Run it with a Python that has filmhand and its test tools installed::

    python tests/benchmarks/look.py
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from skimage import data

from filmhand.screen.grain import build_grain, find_grain
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, ThresholdTile, build_tile
from filmhand.units import Resolution

Bits = NDArray[np.bool_]
Tones = NDArray[np.float64]
Period = tuple[tuple[int, int], tuple[int, int]]

SCREENS = ((300, 45.0, 22.5), (600, 55.0, 22.5))
PICTURES = ("camera", "astronaut", "gravel")
DISTANCES_IN = (12, 24, 48)
# 0.02, 0.04 .. 0.98, as 16-bit tones, so that every way is asked for the same.
FLATS = np.rint(np.linspace(0.02, 0.98, 49) * FULL_TONE) / FULL_TONE
PICTURE_SIDE = 1200
# (row, column) of the sheet at which a picture's corner is laid.
PLACES = ((0, 0), (1001, 777), (404, 2020), (3333, 155))


class Cut(Protocol):
    """Cuts (height, width) float64 tone, 0 = bare .. 1 = solid, laid at a place of the sheet."""

    def __call__(self, tone: Tones, row: int = 0, column: int = 0) -> Bits:
        """(height, width), True = ink."""
        ...


@dataclass(frozen=True, slots=True)
class Course:
    """One period of a pattern: what is at (row, column) is also at (row + height, column + shift).

    Worked out here from the period vectors, so that the screens are not measured with the brick
    arithmetic that laid them.
    """

    length: int
    height: int
    shift: int

    @classmethod
    def of(cls, period: Period) -> Course:
        """The layout of a pattern that repeats by two vectors (x, y) of whole pixels, y up."""
        (a, b), (c, d) = period
        area = abs(a * d - b * c)
        height = int(np.gcd(b, d))
        length = area // height
        # A vector is in the lattice when it is a whole number of both period vectors.
        x = np.arange(length)
        along, across = x * d + height * c, x * b + height * a
        (shift,) = np.flatnonzero((along % area == 0) & (across % area == 0))
        return cls(length, height, int(shift))


@dataclass(frozen=True, slots=True)
class Way:
    """One way of cutting tones into ink.

    Attributes
    ----------
    name : what the tables call it
    course : how a flat repeats; None where it does not
    cut : tones -> ink
    """

    name: str
    course: Course | None
    cut: Cut

    def flat(self, tone: float) -> Bits:
        """One period of a flat tone."""
        assert self.course is not None
        return self.cut(np.full((self.course.height, self.course.length), tone))


def ours(dpi: int, lpi: float, angle: float) -> Way:
    """Round dots as filmhand cuts them, none dropped."""
    lattice = find_lattice(lpi, angle, Resolution(dpi, dpi))
    return _filmhand("ours", lattice.period, build_tile(lattice, "round"))


def our_grain(dpi: int, lpi: float) -> Way:
    """Scattered dots as filmhand cuts them, none dropped; they have no angle."""
    grain = find_grain(lpi, Resolution(dpi, dpi))
    # Sides that lean by a pixel, as the brick of a grain has them.
    period = ((grain.width, -1), (-1, -grain.height))
    return _filmhand("ours, grain", period, build_grain(grain))


def _filmhand(name: str, period: Period, tile: ThresholdTile) -> Way:
    def cut(tone: Tones, row: int = 0, column: int = 0) -> Bits:
        strip = np.rint(tone * FULL_TONE).astype(np.uint16)
        return Screener(tile, column=column, width=strip.shape[1]).cut(strip, row=row)

    return Way(name, Course.of(period), cut)


def rank_supercell(dpi: int, lpi: float, angle: float) -> Way:
    """Our dot grid and period, with the pixels in the order of the spot value alone."""
    lattice = find_lattice(lpi, angle, Resolution(dpi, dpi))
    return _ranked("rank supercell", lattice.period, lattice.order)


def single_cell(dpi: int, lpi: float, angle: float) -> Way:
    """The one cell of whole pixels that is nearest to the ruling and the angle.

    T. M. Holladay, An optimum algorithm for halftone generation for displays and hard copies,
    Proc. SID 21(2), 1980.
    """
    pitch, turn = dpi / lpi, np.radians(angle)
    a, b = round(pitch * np.cos(turn)), round(pitch * np.sin(turn))
    return _ranked("single cell", ((a, b), (-b, a)), ((1, 0), (0, 1)))


def _ranked(name: str, period: Period, order: Period) -> Way:
    """All pixels of a period ranked by CosineDot (ISO 32000-1:2008, table 128), ties by index."""
    course = Course.of(period)
    row, column = np.divmod(np.arange(course.length * course.height), course.length)
    dots = np.linalg.solve(np.array(order, np.float64), np.array(period, np.float64))
    u, v = np.linalg.solve(dots.T, np.stack([column + 0.5, -(row + 0.5)]))
    spot = np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v)
    ranks = np.empty(row.size, np.int64)
    ranks[np.argsort(-np.round(spot, 9), kind="stable")] = np.arange(row.size)
    ranks = ranks.reshape(course.height, course.length)

    def cut(tone: Tones, row: int = 0, column: int = 0) -> Bits:
        y, x = np.ogrid[row : row + tone.shape[0], column : column + tone.shape[1]]
        at = ranks[y % course.height, (x - y // course.height * course.shift) % course.length]
        return at < np.floor(tone * ranks.size + 0.5)

    return Way(name, course, cut)


def diffuse(tone: Tones, row: int = 0, column: int = 0) -> Bits:
    """Error diffusion of (..., height, width) tones.

    R. W. Floyd and L. Steinberg, An adaptive algorithm for spatial grayscale, Proc. SID 17(2),
    75-77, 1976. All pixels that wait for nothing of one another are taken at once: row y is two
    columns behind the row above. The place on the sheet makes no difference.
    """
    *_, height, width = tone.shape
    level = np.pad(tone, [(0, 0)] * (tone.ndim - 2) + [(0, 1), (1, 1)])
    bits = np.empty(tone.shape, np.bool_)
    rows = np.arange(height)
    for step in range(width + 2 * height - 2):
        y = rows[(step >= 2 * rows) & (step < 2 * rows + width)]
        x = step - 2 * y
        here = level[..., y, x + 1]
        bits[..., y, x] = here >= 0.5
        error = here - bits[..., y, x]
        for down, right, share in ((0, 1, 7), (1, -1, 3), (1, 0, 5), (1, 1, 1)):
            level[..., y + down, x + 1 + right] += error * (share / 16)
    return bits


def eye(frequency: Tones, *, dpi: float, distance: float) -> Tones:
    """Share of a ripple that the eye passes; cycles per pixel, inches, 100 cd/m2."""
    cycles_per_degree = frequency * dpi * distance * np.pi / 180
    return np.exp(-cycles_per_degree / (0.525 * np.log(100) + 3.91))


def repeat_spectrum(bits: Bits, course: Course) -> tuple[Tones, Tones]:
    """Frequencies (cycles per pixel) of a repeating pattern, and the variance at each, exactly.

    The slant of the period is undone in the frequency domain: a shift of a row is a turn of its
    transform, so after turning back, the rows repeat straight down.
    """
    k = np.fft.fftfreq(course.length, 1 / course.length)[None, :]
    y = np.arange(course.height)[:, None]
    slant = k * course.shift / (course.length * course.height)
    rows = np.fft.fft(bits - bits.mean(), axis=1) * np.exp(2j * np.pi * slant * y)
    power = np.abs(np.fft.fft(rows, axis=0) / bits.size) ** 2
    fy = np.fft.fftfreq(course.height)[:, None] - slant
    fy, fx = ((f + 0.5) % 1 - 0.5 for f in (fy, k / course.length))
    return np.hypot(fy, fx), power


def window_spectrum(bits: Bits) -> tuple[Tones, Tones]:
    """The same, estimated through a Hann window, of a pattern that does not repeat."""
    window = np.outer(*(np.hanning(side + 1)[:side] for side in bits.shape))
    level = window * (bits - np.average(bits, weights=window))
    power = np.abs(np.fft.fft2(level)) ** 2 / (bits.size * (window**2).sum())
    return np.hypot(*np.ix_(*(np.fft.fftfreq(side) for side in bits.shape))), power


@dataclass(frozen=True, slots=True)
class Evenness:
    """Noise of flats about their own mean, averaged over the tones; 1 = bare against solid.

    Attributes
    ----------
    low : rms below half the screen frequency
    seen : rms after the eye's blur at 48 inches
    tone : largest error of the mean itself, which the two above leave out
    """

    low: float
    seen: float
    tone: float

    @property
    def seen_db(self) -> float:
        """How far ``seen`` lies below 1."""
        return float(-20 * np.log10(self.seen))


def evenness(way: Way, dpi: int, lpi: float) -> Evenness:
    """Measures all flats of a way."""
    low, seen, tone = [], [], []
    if way.course is None:
        # The first rows and the edges are still settling.
        area = np.broadcast_to(FLATS[:, None, None], (FLATS.size, 640, 640))
        flats = list(diffuse(area)[:, 128:, 64:-64])
    for number, wanted in enumerate(FLATS):
        if way.course is None:
            bits = flats[number]
            frequency, power = window_spectrum(bits)
        else:
            bits = way.flat(wanted)
            frequency, power = repeat_spectrum(bits, way.course)
        low.append(np.sqrt(power[frequency < lpi / dpi / 2].sum()))
        seen.append(np.sqrt((power * eye(frequency, dpi=dpi, distance=48) ** 2).sum()))
        tone.append(abs(bits.mean() - wanted))
    return Evenness(float(np.mean(low)), float(np.mean(seen)), float(np.max(tone)))


def picture_tone(name: str) -> Tones:
    """An open picture that scikit-image carries as 1200 x 1200 tones, 0 = bare."""
    picture = getattr(data, name)().astype(np.float32)
    if picture.ndim == 3:
        picture = picture @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    size = (PICTURE_SIDE, PICTURE_SIDE)
    large = np.asarray(Image.fromarray(picture).resize(size, Image.Resampling.BICUBIC))
    return np.rint((1 - np.clip(large, 0, 255).astype(np.float64) / 255) * FULL_TONE) / FULL_TONE


def likeness(way: Way, tone: Tones, dpi: int, distances: Sequence[float]) -> Tones:
    """-10 log10 of the mean square of what the eye sees of (ink - tone), a distance each.

    The mean over the places on the sheet.
    """
    frequency = np.hypot(*np.ix_(*(np.fft.fftfreq(side) for side in tone.shape)))
    passes = [eye(frequency, dpi=dpi, distance=inches) ** 2 for inches in distances]
    found = []
    for row, column in PLACES if way.course else PLACES[:1]:
        error = way.cut(tone, row, column) - tone
        power = np.abs(np.fft.fft2(error) / tone.size) ** 2
        found.append([-10 * np.log10((power * share).sum()) for share in passes])
    return np.mean(found, axis=0)


def ways(dpi: int, lpi: float, angle: float) -> list[Way]:
    """All that are compared."""
    return [
        ours(dpi, lpi, angle),
        our_grain(dpi, lpi),
        rank_supercell(dpi, lpi, angle),
        single_cell(dpi, lpi, angle),
        Way("error diffusion", None, diffuse),
    ]


def main() -> None:
    """Print the tables, a screen each."""
    tones = {name: picture_tone(name) for name in PICTURES}
    for dpi, lpi, angle in SCREENS:
        compared = ways(dpi, lpi, angle)
        print(f"{dpi} dpi, {lpi:g} lpi, {angle:g} degrees")
        print(f"  {'flats':16}{'low rms':>10}{'seen 48 in':>12}{'tone off':>10}")
        for way in compared:
            found = evenness(way, dpi, lpi)
            print(f"  {way.name:16}{found.low:10.4f}{found.seen_db:9.1f} dB{found.tone:10.5f}")
        heads = "".join(f"{name:>20}" for name in tones)
        print(f"  {'pictures, dB at':16}{heads}")
        print(
            f"  {'  inches':16}" + "".join(f"{d:>{8 if d == 12 else 6}}" for d in DISTANCES_IN) * 3
        )
        for way in compared:
            cells = ""
            for tone in tones.values():
                first, *rest = likeness(way, tone, dpi, DISTANCES_IN)
                cells += f"{first:8.1f}" + "".join(f"{value:6.1f}" for value in rest)
            print(f"  {way.name:16}{cells}")
        print()


if __name__ == "__main__":
    main()
