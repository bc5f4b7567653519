"""Clean originals, degraded on purpose and repaired: how far off each was before and after.

The pictures come with scikit-image, the drawings are our own (tests/unit/art/degraded.py); JPEG is
coded by libjpeg through Pillow, turning is Pillow's. Shared by the test and by the benchmark.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "art"))

from degraded import blurred, coded, drawing, on_paper, page_of_text, skimage_picture, soft_noise

from filmhand.art.repair.descreen import find_earlier_screen, without_screen
from filmhand.art.repair.deskew import find_skew, straightened
from filmhand.art.repair.jpeg_blocks import find_blocks, without_blocks
from filmhand.art.repair.line_cleaning import prepare_line
from filmhand.art.repair.paper_shading import evened, find_paper

SIX = ("camera", "astronaut", "coffee", "chelsea", "brick", "coins")
RULINGS = ((85, 45), (110, 75), (133, 15), (150, 45))
SCANNED_DPI = 300
PAPER, INK = 0.85, 0.03  # light of the paper and the ink of a print


@dataclass(frozen=True)
class Row:
    """One degradation, by one measure; ``better`` is before over after, or after less before."""

    repair: str
    what: str
    measure: str
    before: float
    after: float


def rms(codes, wanted) -> float:
    """Root of the mean square of the difference, in percent of tone."""
    return float(100 * np.sqrt(np.mean(((codes.astype(float) - wanted) / 65535) ** 2)))


def f_measure(ink, wanted) -> float:
    """Of precision and recall of the ink's pixels (van Rijsbergen's F, equal weights)."""
    return float(2 * (ink & wanted).sum() / (ink.sum() + wanted.sum()))


def through_jpeg(codes, quality):
    """(codes, steps of the table) of an 8-bit JPEG."""
    buffer = BytesIO()
    Image.fromarray((codes // 257).astype(np.uint8)).save(buffer, "JPEG", quality=quality)
    with Image.open(buffer) as image:
        table = tuple(image.quantization[0])
        return np.asarray(image).astype(np.uint16) * 257, table


def turned(gray, degrees):
    """Turned counter-clockwise on white, by Pillow's cubic filter."""
    image = Image.fromarray(gray.astype(np.float32))
    image = image.rotate(degrees, Image.Resampling.BICUBIC, fillcolor=1)
    return np.asarray(image).astype(float).clip(0, 1)


def screened_and_scanned(codes, lpi, angle, *, over=6, seed=3):
    """(scan, what it would be without dots): printed with round dots, scanned at 300 dpi.

    Thresholds are those of cos x + cos y by rank, so that tones print with their own area; the
    scanner averages over its pixels, blurs a little and adds noise.
    """
    height, width = codes.shape
    y, x = np.mgrid[0 : height * over, 0 : width * over].astype(np.float32) / over
    period, turn = SCANNED_DPI / lpi, np.radians(angle)
    u = (x * np.cos(turn) - y * np.sin(turn)) * (2 * np.pi / period)
    v = (x * np.sin(turn) + y * np.cos(turn)) * (2 * np.pi / period)
    spot = (np.cos(u) + np.cos(v)) / 4 + 0.5
    counts, _ = np.histogram(spot[::5, ::5], 4096, (0, 1))
    rank = (np.cumsum(counts) / counts.sum())[np.minimum((spot * 4096).astype(int), 4095)]
    ink = np.kron(codes / 65535, np.ones((over, over))) < rank
    bare = 1 - ink.reshape(height, over, width, over).mean(axis=(1, 3))
    scan = blurred(INK + (PAPER - INK) * bare, 0.5)
    scan += 0.01 * np.random.default_rng(seed).standard_normal(scan.shape)
    eight_bits = (np.round(scan.clip(0, 1) * 255) * 257).astype(np.uint16)
    return eight_bits, (INK + (PAPER - INK) * codes / 65535) * 65535


def strongest_peak(codes, period) -> float:
    """The largest amplitude at or above the screen's frequency, in percent of tone."""
    size = min(256, *codes.shape)
    taper = np.hanning(size)[:, None] * np.hanning(size)
    part = codes[:size, :size] / 65535
    spectrum = np.abs(np.fft.fft2((part - part.mean()) * taper)) * 2 / taper.sum()
    turns = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.fftfreq(size)[None, :])
    return float(100 * spectrum[turns > 0.9 / period].max())


def shaded_drawing(width=900, height=700):
    """Lines and soft shades, as a pencil leaves them; 1 is paper."""
    sheet = drawing(width, height, stroke=4, seed=2)
    rng = np.random.default_rng(2)
    y, x = np.mgrid[0:height, 0:width]
    for _ in range(4):
        cx, cy = rng.uniform(0.25, 0.75, 2) * (width, height)
        r = rng.uniform(60, 120)
        shade = 0.45 + 0.3 * (x - cx) / r + 0.05 * soft_noise(rng, sheet.shape, radius=1.5)
        inside = np.hypot(x - cx, y - cy) < r
        sheet = np.where(inside, np.minimum(sheet, shade.clip(0, 1)), sheet)
    return sheet


def paper_rows() -> Iterator[Row]:
    """Line art by the ink that is right, against a plain cut at half; a shaded drawing by tone."""
    clean = drawing(1000, 800, seed=1)
    fates = {
        "light": ("shadow down to 30 %", {"paper": 0.6, "ink": 0.05, "darkest": 0.3}),
        "paper": ("paper of 25 % light", {"paper": 0.25, "ink": 0.03, "grain": 0.03}),
        "faded": ("pencil, 45 % darker than its paper", {"paper": 0.85, "ink": 0.47}),
    }
    for repair, (what, fate) in fates.items():
        art = coded(on_paper(clean, noise=0.008, blur=0.8, **fate))
        ink = prepare_line(art, drawn=False).share > 32767
        wanted = clean < 0.5
        before = f_measure(art < 32768, wanted)
        yield Row(repair, what, "F of the ink", before, f_measure(ink, wanted))
    sheet = shaded_drawing()
    art = coded(on_paper(sheet, paper=0.6, ink=0.0, darkest=0.5, noise=0.006, blur=0.6))
    paper = find_paper(art)
    assert paper is not None
    after, _ = evened(art, paper, light=True, tint=True)
    what = "shaded drawing, gray paper, shadow"
    yield Row("light, paper", what, "tone, rms %", rms(art, coded(sheet)), rms(after, coded(sheet)))


def block_rows(qualities=(10, 25, 40)) -> Iterator[Row]:
    """Six open pictures through JPEG."""
    for quality in qualities:
        steps, tones = [], []
        for name in SIX:
            clean = skimage_picture(name)
            art, table = through_jpeg(clean, quality)
            found = find_blocks(art, table)
            assert found is not None, (name, quality)
            after = without_blocks(art, table, found)
            left = find_blocks(after, table)
            # Below its limit the finder says nothing, so what is left is measured here.
            steps.append((_excess(art), _excess(after)))
            tones.append((rms(art, clean), rms(after, clean)))
            assert left is None or left.blockiness < found.blockiness
        for measure, pairs in (("steps between squares, excess %", steps), ("tone, rms %", tones)):
            before, after = np.mean(pairs, axis=0)
            yield Row("blocks", f"six pictures, JPEG quality {quality}", measure, before, after)


def _excess(codes) -> float:
    """By how much the mean step between squares of 8 exceeds that within, in percent."""
    found = []
    for picture in (codes, codes.T):
        step = np.abs(np.diff(picture.astype(int), axis=1)).clip(max=12 * 257)
        at = step[:, 7::8].mean()
        within = np.mean([step[:, i::8].mean() for i in range(7)])
        found.append(100 * (at / within - 1))
    return float(np.mean(found))


def skew_rows(angles=(1.0, -4.0)) -> Iterator[Row]:
    """A page photographed crooked, in uneven light."""
    clean = np.pad(page_of_text(800, 1000), 60, constant_values=1)
    for angle in angles:
        art = coded(on_paper(turned(clean, angle), paper=0.7, ink=0.05, darkest=0.6, noise=0.008))
        found = find_skew(art)
        assert found is not None, angle
        straight = straightened(art, found.angle)
        assert straight is not None, angle
        again = find_skew(straight)
        left = abs(found.angle - angle) if again is None else abs(again.angle)
        yield Row("skew", f"page turned by {angle:g} degrees", "degrees", abs(angle), left)
        ink = [prepare_line(page, drawn=False).share > 32767 for page in (art, straight)]
        before, after = (f_measure(each, clean < 0.5) for each in ink)
        yield Row("skew", f"page turned by {angle:g} degrees", "F of the ink", before, after)


def screen_rows(rulings=RULINGS) -> Iterator[Row]:
    """An open picture printed and scanned."""
    picture = skimage_picture("astronaut")
    clean = np.ascontiguousarray(picture[20:340, 100:420])
    for lpi, angle in rulings:
        scan, wanted = screened_and_scanned(clean, lpi, angle)
        found = find_earlier_screen(scan)
        assert found is not None, (lpi, angle)
        assert abs(found.period * lpi / SCANNED_DPI - 1) < 0.02, (lpi, angle, found)
        after = without_screen(scan, found)
        what = f"print of {lpi} lpi at {angle} degrees, 300 dpi"
        peaks = [strongest_peak(codes, found.period) for codes in (scan, after)]
        yield Row("screened", what, "strongest peak, %", *peaks)
        yield Row("screened", what, "tone, rms %", rms(scan, wanted), rms(after, wanted))


@lru_cache
def all_rows() -> tuple[Row, ...]:
    """Every case, the slowest last."""
    return (*paper_rows(), *block_rows(), *skew_rows(), *screen_rows())
