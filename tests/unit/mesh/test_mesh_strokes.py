"""Narrow strokes and gaps: openings against SciPy's, and drawn lines of known width."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage

from filmhand.mesh import strokes
from filmhand.mesh.strokes import Disc, narrowest
from filmhand.units import Resolution


def packed_reader(bits: np.ndarray):
    packed = np.packbits(bits, axis=1)
    return lambda a, b: packed[a:b]


def measured(bits: np.ndarray, dpi: int, *, ink: bool = True, up_to: float = 700) -> float:
    size = (bits.shape[1], bits.shape[0])
    return narrowest(
        packed_reader(bits), size, resolution=Resolution(dpi, dpi), ink=ink,
        up_to_um=up_to, near_um=300,
    ).width_um  # fmt: skip


def line(dpi: int, width_um: float, angle: float) -> np.ndarray:
    """A straight stroke across the middle of a one-inch square."""
    fine = 4
    side = dpi * fine
    image = Image.new("L", (side, side), 0)
    half = width_um / 25400 * side / 2
    along = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))]) * side * 0.4
    across = np.array([-along[1], along[0]]) / np.hypot(*along) * half
    middle = np.array([side / 2 + 1.3, side / 2 + 0.7])
    corners = [middle + along + across, middle + along - across]
    corners += [middle - along - across, middle - along + across]
    ImageDraw.Draw(image).polygon([tuple(c) for c in corners], fill=255)
    return np.asarray(image.resize((dpi, dpi), Image.Resampling.BOX)) > 127


@pytest.mark.parametrize("across", range(1, 9))
def test_opening_is_scipys(across: int) -> None:
    rng = np.random.default_rng(across)
    disc = Disc.of(across, across)
    element = np.zeros((len(disc.spans), across), bool)
    for row, (first, length) in enumerate(disc.spans):
        element[row, first : first + length] = True
    for _ in range(6):
        height, width = rng.integers(10, 80, 2)
        bits = ndimage.gaussian_filter(rng.random((height, width)), 1.5) > 0.5
        side = strokes._SIDE
        padded = np.zeros((height + 40, (width + 7) // 8 + 2 * side), np.uint8)
        padded[20:-20, side : side + (width + 7) // 8] = np.packbits(bits, axis=1)
        found = np.unpackbits(strokes._opened(padded, disc), axis=1)[20:-20, 8 * side :][:, :width]
        around = np.pad(bits, 20)
        wanted = ndimage.binary_opening(around, element)[20:-20, 20:-20]
        assert np.array_equal(found.astype(bool), wanted)


@pytest.mark.parametrize("dpi", [300, 600, 1200])
@pytest.mark.parametrize("width_um", [150, 200, 300])
@pytest.mark.parametrize("angle", [0, 10, 22.5, 45, 80])
def test_a_stroke_is_as_wide_as_it_was_drawn(dpi: int, width_um: float, angle: float) -> None:
    pixel = 25400 / dpi
    bits = line(dpi, width_um, angle)
    assert measured(bits, dpi) == pytest.approx(width_um, abs=1.01 * pixel)
    assert measured(~bits, dpi, ink=False) == pytest.approx(width_um, abs=1.01 * pixel)


def test_a_thin_stroke_on_a_thick_body_counts() -> None:
    bits = np.zeros((600, 600), bool)
    bits[200:300, 100:200] = True
    bits[250:252, 200:500] = True
    assert measured(bits, 600) == pytest.approx(2 * 25400 / 600)


def test_corners_and_tips_do_not_count() -> None:
    image = Image.new("1", (600, 600))
    ImageDraw.Draw(image).polygon([(50, 550), (300, 50), (550, 550)], fill=1)
    assert measured(np.asarray(image), 600, up_to=600) > 580


def test_a_shape_cut_by_the_border_is_not_narrow_for_it() -> None:
    bits = np.zeros((400, 400), bool)
    bits[:, :2] = True  # the last two columns of something wide
    bits[100:200, 100:200] = True
    assert measured(bits, 600) > 600


def test_nothing_depends_on_the_strips(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(5)
    bits = ndimage.gaussian_filter(rng.random((500, 300)), 3) > 0.5
    widths = []
    for strip in (512, 64, 7):
        monkeypatch.setattr(strokes, "_STRIP", strip)
        widths.append((measured(bits, 600), measured(bits, 600, ink=False)))
    assert len(set(widths)) == 1
