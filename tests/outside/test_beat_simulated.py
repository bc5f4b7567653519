"""Beats of a drawn film on a drawn mesh: where the theory says, and as strong.

Round dots and square openings are drawn in pixels of 2400 to the inch and multiplied; NumPy's
fast Fourier transform tells what is in the product. Nothing of filmhand's own screens is used.
Product of gratings: I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer,
2009, ch. 2.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from filmhand.mesh.moire.bands import MeshThreads, moire_with_mesh, screen_vectors
from filmhand.mesh.moire.fourier_orders import TONES_OF_ORDERS, dot_strength, mesh_strength

pytestmark = pytest.mark.outside

PER_INCH, SIDE_IN, BLOCK = 2400, 1.5, 4
OPEN_WIDTH = 0.6
# A Hann window of this side tells apart frequencies that are two of its bins apart.
APART = 2 / SIDE_IN
# Found against told: frequency per inch, and modulation in points and in parts of itself. What is
# left is drawing in whole pixels and the skirts of other beats under the same window.
FREQUENCY, POINTS, PART = 0.15, 0.001, 0.05

SETTINGS = [
    (230, 55, 0),
    (230, 55, 15),
    (230, 55, 22.5),
    (230, 55, 45),
    (230, 45, 22.5),
    (156, 45, 7.5),
    (156, 45, 30),
    (110, 35, 0),
    (110, 35, 15),
    (110, 35, 45),
    (200, 50, 15),
    (200, 50, 45),
    (305, 65, 22.5),
    (305, 65, 61),
]


@cache
def drawn(threads: float, lpi: float, angle: float) -> tuple[np.ndarray, ...]:
    """Windowed films times mesh for each tone, box-averaged, divided by their mean."""
    count = int(SIDE_IN * PER_INCH)
    place = ((np.arange(count) + 0.5) / PER_INCH).astype(np.float32)
    x, y = place[None, :], -place[:, None]  # y up
    turn = np.radians(angle)
    u = lpi * (x * np.cos(turn) + y * np.sin(turn)) + 0.31
    v = lpi * (-x * np.sin(turn) + y * np.cos(turn)) + 0.17
    squared = (u - np.rint(u)) ** 2 + (v - np.rint(v)) ** 2
    # Threads take their exact share of each pixel: cut to whole ones, they would beat with the
    # pixels themselves. The dots lie askew enough.
    edges = np.arange(count + 1) / PER_INCH * threads
    open_so_far = np.floor(edges) * OPEN_WIDTH + np.minimum(edges % 1, OPEN_WIDTH)
    opening = (np.diff(open_so_far) / np.diff(edges)).astype(np.float32)
    weave = opening[:, None] * opening
    window = np.hanning(count // BLOCK + 1)[:-1]
    fields = []
    for tone in TONES_OF_ORDERS:
        field = np.where(squared <= tone / np.pi, weave, 0)
        small = field.reshape(count // BLOCK, BLOCK, count // BLOCK, BLOCK).mean(axis=(1, 3))
        fields.append((small / small.mean() - 1) * window[:, None] * window)
    return tuple(fields)


def modulations(x: np.ndarray, y: np.ndarray, fields: tuple[np.ndarray, ...]) -> np.ndarray:
    """Change of the mean ink at these frequencies (y up; per inch), at the worst tone: (y, x)."""
    place = (np.arange(len(fields[0])) + 0.5) * BLOCK / PER_INCH
    down = np.exp(2j * np.pi * np.outer(y, place))
    across = np.exp(-2j * np.pi * np.outer(place, x))
    whole = (len(place) / 2) ** 2  # the sum of the window
    return np.max([2 * np.abs(down @ field @ across) / whole for field in fields], axis=0)


def told_beats(threads: float, lpi: float, angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Every beat below 0.45 lpi: its vector (k, 2), and its modulation (k,)."""
    reach = np.arange(-25, 26)
    dots = np.stack(np.meshgrid(reach, reach), -1).reshape(-1, 2)
    mesh = np.stack(np.meshgrid(np.arange(-3, 4), np.arange(-3, 4)), -1).reshape(-1, 2)
    vectors = (dots @ screen_vectors(lpi, angle))[:, None] - mesh * threads
    near = np.hypot(vectors[..., 0], vectors[..., 1]) < 0.45 * lpi + 1 / SIDE_IN
    strength = 2 * np.outer(dot_strength(dots, lines=False), mesh_strength(mesh, OPEN_WIDTH))
    near &= (dots != 0).any(1)[:, None] & (mesh != 0).any(1)
    return vectors[near], strength[near]


@pytest.mark.parametrize(("threads", "lpi", "angle"), SETTINGS)
def test_the_strongest_beat_is_where_it_is_told_and_as_strong(threads, lpi, angle):
    fields = drawn(threads, lpi, angle)
    down = -np.fft.fftfreq(len(fields[0]), BLOCK / PER_INCH)
    across = np.fft.rfftfreq(len(fields[0]), BLOCK / PER_INCH)
    frequency = np.hypot(down[:, None], across)
    low = (frequency > APART) & (frequency < 0.45 * lpi)
    strongest = np.max([np.abs(np.fft.rfft2(field)) for field in fields], axis=0)
    # Only peaks: the skirt of a beat beyond the border is none.
    for rows, columns in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)):
        low &= strongest >= np.roll(strongest, (rows, columns), axis=(0, 1))
    row, column = np.unravel_index(np.where(low, strongest, 0).argmax(), strongest.shape)
    peak = np.array([across[column], down[row]])
    # Between the bins: the largest of a fine grid about the largest bin.
    steps = np.linspace(-1, 1, 13) / SIDE_IN
    x, y = peak[0] + steps, peak[1] + steps
    strengths = modulations(x, y, fields)
    row, column = np.unravel_index(strengths.argmax(), strengths.shape)
    found, modulation = np.array([x[column], y[row]]), strengths.max()

    vectors, told = told_beats(threads, lpi, angle)
    visible = np.hypot(*vectors.T) > APART
    assert modulation == pytest.approx(told[visible].max(), abs=POINTS, rel=PART)
    # Of beats that are nearly as strong either may be found, so the nearest that is told counts.
    rivals = vectors[visible & (told > (1 - PART) * told[visible].max() - POINTS)]
    apart = min(np.hypot(*(sign * rivals - found).T).min() for sign in (1, -1))
    assert apart < FREQUENCY


@pytest.mark.parametrize(("threads", "lpi", "angle"), SETTINGS)
def test_the_slowest_beat_is_as_strong_as_it_is_told(threads, lpi, angle):
    weave = MeshThreads(threads, OPEN_WIDTH, stretch=(0.0, 0.0))
    beat = moire_with_mesh(screen_vectors(lpi, angle), weave)
    bands = beat.worst
    vector = np.array(bands.dot_order) @ screen_vectors(lpi, angle)
    vector = vector - np.array(bands.mesh_order) * threads
    assert 25.4 / np.hypot(*vector) == pytest.approx(bands.worst_period_mm, rel=1e-6)
    assert beat.period_mm == pytest.approx(bands.worst_period_mm)
    found = modulations(vector[:1], vector[1:], drawn(threads, lpi, angle)).item()
    assert found == pytest.approx(bands.modulation, abs=POINTS, rel=PART)
