"""Narrowest strokes and gaps: against scipy's openings, and on drawn strokes of known width."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.mesh.bitmap import strokes
from filmhand.mesh.bitmap.disc_opening import Disc
from filmhand.mesh.bitmap.strokes import InkShape, narrowest
from filmhand.units import Resolution

DPI = Resolution(600, 600)
PIXEL = 25400 / 600


def measured(bits, *, ink=True, resolution=DPI, up_to=24, near=12, allowed=0.005):
    """The narrowest stroke or gap; ``up_to`` and ``near`` in pixels of the coarser direction."""
    packed = np.packbits(bits, axis=1)
    pixel = max(resolution.pixel_um())
    shape = InkShape(
        lambda a, b: packed[a:b],
        bits.shape[::-1],
        resolution=resolution,
        ink=ink,
        near_um=near * pixel,
    )
    return narrowest(shape, up_to_um=up_to * pixel, allowed=allowed)


def matrix(disc):
    """The disc as scipy's structuring element."""
    right = max(first + length for first, length in disc.spans)
    found = np.zeros((len(disc.spans), right), bool)
    for row, (first, length) in enumerate(disc.spans):
        found[row, first : first + length] = True
    return found


def by_scipy(bits, *, ink, resolution, up_to, near, allowed):
    """The same measure from scipy's whole-picture operations: every disc, widest that keeps."""
    pixel = max(resolution.pixel_um())
    pad = 4 * up_to + near + 4
    inside = np.pad(np.ones(bits.shape, bool), pad)
    shape = np.pad(bits == ink, pad, constant_values=True)
    cross, square = ndimage.generate_binary_structure(2, 1), np.ones((3, 3), bool)
    counted = shape & inside
    if not ink:
        reach = near
        counted &= ndimage.maximum_filter(~shape & inside, 2 * reach + 1)
    best = 0
    for width in range(1, up_to + 1):
        across, down = (max(1, round(width * pixel / side)) for side in resolution.pixel_um())
        kept = ndimage.binary_opening(shape, matrix(Disc.of(across, down)))
        for step in range(max(across, down)):
            kept = ndimage.binary_dilation(kept, square if step % 2 else cross) & shape
        if (counted & ~kept).sum() > allowed * counted.sum():
            break
        best = width
    return best * pixel


@pytest.mark.parametrize("width", [1, 2, 3, 4, 7, 12, 25, 50])
@pytest.mark.parametrize("stretch", [(1, 1), (2, 1), (1, 2)])
def test_a_disc_is_as_wide_and_high_as_it_says_and_its_own_mirror_image(width, stretch):
    across, down = width * stretch[0], width * stretch[1]
    found = matrix(Disc.of(across, down))
    assert found.shape == (down, across)
    assert found.any(0).all()
    assert found.any(1).all()
    assert np.array_equal(found, found[::-1])
    assert np.array_equal(found, found[:, ::-1])


def test_a_disc_holds_the_pixels_whose_centers_lie_in_the_circle():
    for width in range(3, 40):
        place = np.arange(width) - (width - 1) / 2
        apart = np.hypot(place[:, None], place)
        found = matrix(Disc.of(width, width))
        assert not found[apart > width / 2].any()
        assert found[apart <= width / 2 - 0.1].all()


def art(seed, size=(150, 170)):
    """Blobs of many widths."""
    rng = np.random.default_rng(seed)
    coarse = ndimage.gaussian_filter(rng.random(size), 5)
    fine = ndimage.gaussian_filter(rng.random(size), 1.5)
    mixed = coarse / coarse.std() + 0.4 * fine / fine.std()
    return mixed > np.quantile(mixed, rng.uniform(0.3, 0.7))


@pytest.mark.parametrize("ink", [True, False])
@pytest.mark.parametrize("resolution", [(600, 600), (600, 1200), (1200, 600)])
@pytest.mark.parametrize("allowed", [0.005, 0.1, 0.3])
def test_the_measure_is_that_of_scipys_openings(ink, resolution, allowed):
    wishes = {
        "ink": ink,
        "resolution": Resolution(*resolution),
        "up_to": 12,
        "near": 6,
        "allowed": allowed,
    }
    widths = set()
    for seed in range(2):
        bits = art(seed)
        found = measured(bits, **wishes)
        assert found.width_um == pytest.approx(by_scipy(bits, **wishes))
        widths.add(found.width_um)
    assert max(widths) > 0


def test_the_height_of_the_strips_does_not_matter(monkeypatch):
    bits = np.vstack([art(seed) for seed in range(5)])
    wishes = {"up_to": 12, "near": 6, "allowed": 0.1}
    wanted = {ink: measured(bits, ink=ink, **wishes) for ink in (True, False)}
    for strip in (33, 100, 10_000):
        monkeypatch.setattr(strokes, "_STRIP", strip)
        for ink in (True, False):
            assert measured(bits, ink=ink, **wishes) == wanted[ink]


def stroke(width, degrees, side=400, length=300):
    """A bar of this width through the middle of the page, pixels whose centers lie in it."""
    place = np.arange(side) - (side - 1) / 2 + 0.13
    turn = np.radians(degrees)
    along = place[None, :] * np.cos(turn) - place[:, None] * np.sin(turn)
    across = place[None, :] * np.sin(turn) + place[:, None] * np.cos(turn)
    return (np.abs(across) <= width / 2) & (np.abs(along) <= length / 2)


@pytest.mark.parametrize("degrees", [0, 10, 22.5, 30, 45, 71, 90])
@pytest.mark.parametrize("width", [3, 5.5, 8, 13, 20])
def test_a_drawn_stroke_measures_its_width_within_a_pixel(degrees, width):
    bits = stroke(width, degrees)
    found = measured(bits)
    assert found.width_um / PIXEL == pytest.approx(width, abs=1)
    assert not found.at_least
    gap = measured(~bits, ink=False)
    assert gap.width_um / PIXEL == pytest.approx(width, abs=1)


def test_a_stroke_measures_the_same_in_micrometers_at_unequal_resolutions():
    wide = Resolution(600, 1200)
    upright = np.zeros((600, 300), bool)
    upright[60:540, 100:110] = True  # 10 of 600 to the inch
    level = np.zeros((600, 300), bool)
    level[200:220, 30:270] = True  # 20 of 1200 to the inch
    for bits in (upright, level):
        assert measured(bits, resolution=wide).width_um == pytest.approx(10 * PIXEL, abs=PIXEL)


def test_a_thin_stroke_on_a_thick_body_is_found():
    bits = np.zeros((400, 400), bool)
    bits[50:250, 50:250] = True
    bits[100:104, 250:380] = True  # 520 of 40520 pixels
    found = measured(bits)
    assert found.width_um == pytest.approx(4 * PIXEL, abs=PIXEL)
    slit = measured(~bits, ink=False)
    assert slit.width_um == pytest.approx(4 * PIXEL, abs=PIXEL)


def test_less_than_the_allowed_share_does_not_count():
    bits = np.zeros((400, 400), bool)
    bits[50:350, 50:350] = True
    bits[100:103, 350:390] = True  # 120 of 90120 pixels are 0.13 %
    assert measured(bits).at_least
    assert measured(bits, allowed=0.0005).width_um == pytest.approx(3 * PIXEL, abs=PIXEL)


def test_corners_and_tips_are_not_narrow():
    y, x = np.mgrid[:400, :400]
    square = (abs(x - 200) < 100) & (abs(y - 200) < 100)
    diamond = abs(x - 200) + abs(y - 200) < 140
    triangle = (y > 50) & (y < 350) & (abs(x - 200) < (y - 50) * np.tan(np.radians(22.5)))
    for bits in (square, diamond, triangle):
        assert measured(bits).at_least
        assert measured(~bits, ink=False).at_least


def test_shapes_cut_by_the_border_are_not_narrow_for_it():
    bits = np.zeros((200, 203), bool)
    bits[:, :3] = True  # what is seen of something wide
    bits[:2] = True
    bits[-2:, 60:90] = True
    assert measured(bits).at_least
    bits = ~bits
    assert measured(bits, ink=False).at_least


def test_gaps_count_only_near_ink():
    # A gap beside a long stroke, in a page that is nearly all bare: the page does not dilute it.
    bits = np.zeros((600, 600), bool)
    bits[100:120, 100:200] = True
    bits[124:144, 100:200] = True  # 4 rows between the two
    found = measured(bits, ink=False)
    assert found.width_um == pytest.approx(4 * PIXEL, abs=PIXEL)
    assert not found.at_least


def test_without_ink_nothing_is_narrow():
    bits = np.zeros((50, 60), bool)
    for ink in (True, False):
        found = measured(bits, ink=ink)
        assert found.at_least
        assert found.width_um == pytest.approx(24 * PIXEL)


def test_the_border_is_forgiven_for_the_widest_disc_of_a_fine_film():
    # At 2400 dpi the coarsest mesh of the table has discs of over 100 pixels.
    bits = np.zeros((500, 700), bool)
    bits[:, 20:] = True  # a bare edge 20 pixels wide, which goes on beyond the art
    found = measured(bits, ink=False, resolution=Resolution(2400, 2400), up_to=105, near=52)
    assert found.at_least
