"""Strokes and gaps against scipy.ndimage and against what was drawn."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.mesh.bitmap.disc_opening import Disc
from filmhand.mesh.bitmap.strokes import InkShape, narrowest
from filmhand.units import Resolution

pytestmark = pytest.mark.outside

SQUARE = Resolution(300, 300)
PIXEL = 25400 / 300


def footprint(across, down):
    """The pixels whose centers lie in the ellipse, by plain geometry; no code of ours."""
    y, x = np.mgrid[:down, :across]
    # A hair inside the full circle, as a pixel on the very edge would make odd spikes.
    shrink = 1 - 0.1 / max(across, down)
    inside = ((x + 0.5) / across - 0.5) ** 2 + ((y + 0.5) / down - 0.5) ** 2
    return inside <= (0.5 * shrink) ** 2 + 1e-12


def vanishing_share(bits, disc):
    """Share of the shape that an opening loses and no surviving part within reach forgives."""
    margin = 3 * max(disc.shape)
    # Beyond the sheet the shape goes on.
    wide = np.pad(bits, margin, constant_values=True)
    kept = ndimage.binary_opening(wide, disc)
    cross, square = ndimage.generate_binary_structure(2, 1), np.ones((3, 3), np.bool_)
    for step in range(max(disc.shape)):
        kept = ndimage.binary_dilation(kept, square if step % 2 else cross, mask=wide)
    inner = (slice(margin, -margin),) * 2
    return (wide & ~kept)[inner].sum() / max(1, bits.sum())


def width_of(bits, *, resolution=SQUARE, ink=True, up_to=1500.0, allowed=0.005):
    packed = np.packbits(bits, axis=1)
    shape = InkShape(
        lambda a, b: packed[a:b],
        (bits.shape[1], bits.shape[0]),
        resolution=resolution,
        ink=ink,
        near_um=up_to / 2,
    )
    return narrowest(shape, up_to_um=up_to, allowed=allowed)


def stroke(width, angle, side=301, length=None):
    """A straight stroke of a width in pixels through the middle of a sheet; round at its ends."""
    y, x = np.mgrid[:side, :side] - (side - 1) / 2
    cosine, sine = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    along, off = x * cosine - y * sine, x * sine + y * cosine
    reach = side if length is None else length / 2
    return np.hypot(np.maximum(np.abs(along) - reach, 0), off) < width / 2


def blots(seed):
    noise = np.random.default_rng(seed).random((240, 200))
    return ndimage.gaussian_filter(noise, 3) > 0.503


@pytest.mark.parametrize(("across", "down"), [(1, 1), (2, 2), (3, 3), (5, 5), (8, 8), (5, 10)])
def test_discs_are_circles(across, down):
    drawn = np.zeros((down, across), np.bool_)
    spans = Disc.of(across, down).spans
    skipped = (down - len(spans)) // 2
    for row, (first, length) in enumerate(spans):
        drawn[row + skipped, first : first + length] = True
    wanted = footprint(across, down)
    assert np.array_equal(drawn, wanted)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("ink", [True, False])
def test_the_width_is_that_of_scipys_openings(seed, ink):
    bits = blots(seed)
    shape = bits if ink else ~bits
    for allowed in (0.005, 0.05, 0.2):
        found = width_of(bits, ink=ink, allowed=allowed)
        pixels = round(found.width_um / PIXEL)
        assert found.width_um == pytest.approx(pixels * PIXEL)
        assert vanishing_share(shape, footprint(pixels, pixels)) <= allowed
        wider = footprint(pixels + 1, pixels + 1)
        assert found.at_least or vanishing_share(shape, wider) > allowed


@pytest.mark.parametrize("angle", [0, 7, 22.5, 45, 61, 90, 133])
@pytest.mark.parametrize("width", [3, 4.4, 6, 9.2, 13])
def test_a_stroke_is_as_wide_as_it_was_drawn(width, angle):
    bits = stroke(width, angle)
    assert width_of(bits).width_um / PIXEL == pytest.approx(width, abs=1.01)
    assert width_of(~bits, ink=False).width_um / PIXEL == pytest.approx(width, abs=1.01)


@pytest.mark.parametrize("angle", [0, 30, 90])
def test_widths_are_in_micrometers_on_unequal_pixels(angle):
    # 500 um at 300 x 600 dpi: the picture drawn on 600 x 600, every other column.
    bits = np.ascontiguousarray(stroke(500 / 25400 * 600, angle, side=601)[:, ::2])
    found = width_of(bits, resolution=Resolution(300, 600)).width_um
    assert found == pytest.approx(500, abs=25400 / 300)


def test_a_thin_stroke_on_a_thick_body_is_found():
    bits = np.zeros((400, 400), np.bool_)
    bits[50:350, 40:160] = True
    bits[199:202, 160:380] = True  # three pixels wide: 1.8 % of the ink
    assert width_of(bits).width_um / PIXEL == pytest.approx(3)


def test_less_than_half_a_percent_is_let_pass():
    bits = np.zeros((400, 400), np.bool_)
    bits[50:350, 40:240] = True
    bits[200, 240:380] = True  # 140 of 60140 pixels
    assert width_of(bits).at_least


@pytest.mark.parametrize("angle", [0, 20, 45])
def test_corners_do_not_count(angle):
    square = np.zeros((301, 301), np.bool_)
    square[90:210, 90:210] = True
    turned = ndimage.rotate(square.astype(float), angle, reshape=False, order=1) > 0.5
    assert width_of(turned).at_least


def test_tips_do_not_count():
    # Round ends, and the sharp point of a wedge that is wide elsewhere.
    assert width_of(stroke(12, 30, length=160)).width_um / PIXEL == pytest.approx(12, abs=1.01)
    y, x = np.mgrid[:300, :300]
    wedge = (y > 20) & (y < 280) & (np.abs(x - 150) < (y - 20) / 2)
    assert width_of(wedge).width_um / PIXEL >= 8


def test_a_gap_counts_near_ink_only():
    # A sheet of bare film has no gap; two bars close together have one.
    assert width_of(np.zeros((100, 100), np.bool_), ink=False).at_least
    bits = np.zeros((300, 300), np.bool_)
    bits[50:250, 100:140] = bits[50:250, 145:185] = True
    assert width_of(bits, ink=False).width_um / PIXEL == pytest.approx(5)


@pytest.mark.parametrize("rows", [17, 100, 511])
def test_the_height_of_the_strips_does_not_matter(monkeypatch, rows):
    bits = np.tile(blots(7), (3, 1))
    whole = [width_of(bits, ink=ink, allowed=0.05) for ink in (True, False)]
    monkeypatch.setattr("filmhand.mesh.bitmap.strokes._STRIP", rows)
    assert [width_of(bits, ink=ink, allowed=0.05) for ink in (True, False)] == whole


def test_discs_wider_than_64_pixels_reach_over_the_border():
    # A bar along the edge goes on beyond it, so it is not narrow; fine printers and coarse meshes
    # ask for discs of a hundred pixels.
    fine = Resolution(2880, 2880)
    bits = np.zeros((300, 400), np.bool_)
    bits[:, :4] = True
    assert width_of(bits, resolution=fine, up_to=100 * 25400 / 2880).at_least
