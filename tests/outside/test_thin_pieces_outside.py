"""Single thin strokes and gaps against scikit-image's skeleton and what was drawn.

Thinning to a skeleton (Z. Guo and R. W. Hall, Parallel thinning with two-subiteration algorithms,
Communications of the ACM 32, 1989) with the distance to the edge along it (SciPy) tells width and
length of every stroke with no opening at all. The length of its chain of pixels is that of Z.
Kulpa, Area and perimeter measurement of blobs in discrete binary pictures, Computer Graphics and
Image Processing 6, 1977 (0.948 a step along a row or column, 1.340 a diagonal one; from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
import skimage.data
from kinds_set import drawn_pages
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage
from skimage.morphology import thin

from filmhand.mesh.bitmap.strokes import InkShape
from filmhand.mesh.bitmap.thin_pieces import PieceLengths, thin_pieces
from filmhand.mesh.bitmap.thin_rules import ScreenOfRules, thin_rules
from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.table import read_mesh
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.units import Resolution

pytestmark = pytest.mark.outside

DPI = 600
PIXEL = 25400 / DPI
LIMIT = 113.1  # of strokes on mesh 43-80: 2.7 pixels


def shape_of(bits, *, ink, near_um=1000.0):
    packed = np.packbits(bits, axis=1)
    return InkShape(
        lambda a, b: packed[a:b],
        (bits.shape[1], bits.shape[0]),
        resolution=Resolution(DPI, DPI),
        ink=ink,
        near_um=near_um,
    )


def found(bits, *, ink=True, limit=LIMIT):
    return thin_pieces(shape_of(bits, ink=ink), limit, PieceLengths.of_line_art(limit))


def by_skeleton(shape, limit=LIMIT):
    """Lengths and mean widths, in um, of the stretches of the skeleton that are at most so wide."""
    drawn = np.pad(shape[ndimage.find_objects(shape.astype(np.uint8))[0]], 2)
    # From the middle of a pixel to the first beyond the edge, on both sides.
    width = (2 * ndimage.distance_transform_edt(drawn) - 1) * PIXEL
    label, count = ndimage.label(thin(drawn) & (width <= limit), np.ones((3, 3)))
    lengths = []
    for number, where in enumerate(ndimage.find_objects(label), 1):
        mine = np.pad(label[where] == number, 1)
        straight = (mine[1:] & mine[:-1]).sum() + (mine[:, 1:] & mine[:, :-1]).sum()
        corners = (mine[1:, 1:] & mine[:-1, :-1] & ~mine[1:, :-1] & ~mine[:-1, 1:]).sum()
        corners += (mine[1:, :-1] & mine[:-1, 1:] & ~mine[1:, 1:] & ~mine[:-1, :-1]).sum()
        wide = width[where][mine[1:-1, 1:-1]].mean()
        lengths.append(((0.948 * straight + 1.340 * corners) * PIXEL, wide))
    assert len(lengths) == count
    return lengths


def solid(size=(900, 1200)):
    """Bare, with a solid in the lower third."""
    bits = np.zeros(size, np.bool_)
    bits[size[0] * 2 // 3 :] = True
    bits[-5:] = False
    return bits


def line(degrees, *, width, length=700, middle=(580, 290), size=(900, 1200)):
    y, x = np.mgrid[: size[0], : size[1]]
    cosine, sine = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    x, y = x - middle[0] - 0.27, y - middle[1] - 0.31
    along, off = x * cosine - y * sine, x * sine + y * cosine
    return (np.abs(off) < width / 2) & (np.abs(along) < length / 2)


@pytest.mark.parametrize("degrees", [0, 4, 17, 22.5, 33, 45])
@pytest.mark.parametrize("width", [1.2, 1.9])
@pytest.mark.parametrize("ink", [True, False])
def test_a_hairline_beside_a_solid_is_found_as_long_and_wide_as_its_skeleton(degrees, width, ink):
    bits = solid() | line(degrees, width=width)
    pieces = found(bits if ink else ~bits, ink=ink)
    ((length, wide),) = [
        one for one in by_skeleton(line(degrees, width=width)) if one[0] > 5 * LIMIT
    ]
    assert pieces is not None and pieces.count == 1
    assert pieces.length_um == pytest.approx(700 * PIXEL, rel=0.06)
    assert pieces.length_um == pytest.approx(length, rel=0.1)
    assert pieces.narrowest_um == pytest.approx(wide, abs=PIXEL)
    (piece,) = pieces.longest
    # In the middle of it, or of what lies in one of the strips.
    assert np.hypot(piece.x_px - 580, piece.y_px - 290) < 30


@pytest.mark.parametrize("degrees", [0, 17, 45])
@pytest.mark.parametrize("width", [4.2, 6])
def test_what_is_wide_enough_is_left_alone(degrees, width):
    bits = solid() | line(degrees, width=width)
    assert found(bits) is found(~bits, ink=False) is None
    assert all(length < 2 * LIMIT for length, _ in by_skeleton(line(degrees, width=width)))


def test_curves_are_measured_along():
    y, x = np.mgrid[:900, :1200]
    ring = np.abs(np.hypot(x - 400.2, y - 290.3) - 240) < 1
    wave = np.abs(y - 290 - 90 * np.sin(x / 60)) < 1.2
    wave &= (x > 700) & (x < 1150)
    pieces = found(solid() | ring | wave)
    assert pieces is not None
    longest = sorted(length for length, _ in by_skeleton(ring))[-1]
    assert pieces.longest[0].length_um == pytest.approx(2 * np.pi * 240 * PIXEL, rel=0.04)
    assert pieces.longest[0].length_um == pytest.approx(longest, rel=0.1)


def test_dashes_count_together_and_few_do_not():
    bits = solid()
    bits[100:102, 50:1150] = np.arange(1100) % 20 < 10  # 55 dashes of 423 um: 23 mm
    assert all(length < 5 * LIMIT for length, _ in by_skeleton(bits[90:110, :300]))
    pieces = found(bits)
    assert pieces is not None and pieces.count == 55
    assert pieces.length_um == pytest.approx(55 * 10 * PIXEL, rel=0.1)  # ends are round to it
    bits[:, 250:] = solid()[:, 250:]
    assert found(bits) is None


def test_corners_points_and_dots_are_no_strokes():
    image = Image.new("1", (3000, 1600))
    draw = ImageDraw.Draw(image)
    for number in range(6):
        left = 60 + 480 * number
        draw.rectangle((left, 60, left + 300, 300), fill=1)
        # Stars of 5 to 10 points, and triangles of 10 to 60 degrees.
        points = 5 + number
        ends = [
            (
                left + 200 + radius * np.sin(np.pi * corner / points),
                620 - radius * np.cos(np.pi * corner / points),
            )
            for corner in range(2 * points)
            for radius in [220 if corner % 2 == 0 else 90]
        ]
        draw.polygon(ends, fill=1)
        half = np.tan(np.radians(5 + 5 * number)) * 400
        draw.polygon([(left, 1150), (left + 400, 1150 - half), (left + 400, 1150 + half)], fill=1)
    bits = np.array(image)
    y, x = np.mgrid[:1600, :3000]
    dots = np.hypot(x % 40 - 20, y % 40 - 20) < 1 + x / 300
    bits |= dots & (y > 1420)
    bits[:1420] |= np.zeros((1420, 3000), np.bool_)
    assert found(bits) is None
    assert found(~bits, ink=False) is None


@pytest.mark.parametrize("points", [14, 24, 60])
def test_ordinary_lettering_is_no_hairline(points):
    fonts = {}
    for name in ("DejaVuSans.ttf", "DejaVuSerif.ttf", "LiberationSerif-Regular.ttf"):
        try:
            fonts[name] = ImageFont.truetype(name, round(points / 72 * DPI))
        except OSError:
            continue
    fonts["built in"] = ImageFont.load_default(round(points / 72 * DPI))
    for font in fonts.values():
        image = Image.new("1", (2600, 900))
        draw = ImageDraw.Draw(image)
        draw.text((60, 60), "Kiosk AVMWN & fig. 147", 1, font)
        draw.rectangle((60, 700, 2500, 860), fill=1)
        bits = np.array(image)
        assert found(bits) is None
        assert found(bits, ink=False, limit=152.6) is None


def test_small_thin_lettering_beside_a_solid_is():
    image = Image.new("1", (2600, 900))
    draw = ImageDraw.Draw(image)
    draw.text((60, 60), "All rights reserved, printed in 1987", 1, ImageFont.load_default(22))
    draw.rectangle((60, 300, 2500, 860), fill=1)
    bits = np.array(image)
    pieces = found(bits)
    lost = [length for length, _ in by_skeleton(bits[50:100]) if length > 5 * LIMIT]
    assert pieces is not None
    assert pieces.count >= len(lost) / 2 > 2


def screened(gray, *, lpi=45, mesh="90-48", dot="round"):
    """The bits of a picture (0 black, 255 white), its shapes' limits, and its screen."""
    text = f"sheet: a4\ndpi: {DPI}\nlpi: {lpi}\ndot: {dot}\nthreshold: 50\nmesh: {mesh}\n"
    profile = read_profile(text + "margin: 5 mm\nangle: 22.5\n", name="p", file="p.yaml")
    screener = Screener(plan_screen(profile).tile(), column=0, width=gray.shape[1])
    tone = np.rint((255 - gray) / 255 * 65535).clip(0, 65535).astype(np.uint16)
    strips = [screener.cut(tone[row : row + 128], row=row) for row in range(0, len(tone), 128)]
    return np.vstack(strips), MeshLimits.of(read_mesh(mesh))


def rules_in(gray, *, ink, dot="round", lpi=45, mesh="90-48"):
    bits, limits = screened(gray, lpi=lpi, mesh=mesh, dot=dot)
    limit = limits.stroke.fail_um if ink else limits.gap.fail_um
    shape = shape_of(bits, ink=ink, near_um=2 * limit)
    return thin_rules(shape, limit, ScreenOfRules(lpi, 22.5 if dot == "line" else None))


@pytest.mark.parametrize("degrees", [0, 30, 67.5])
@pytest.mark.parametrize("tone", [10, 20, 35])
@pytest.mark.parametrize("ink", [True, False])
def test_a_hairline_inside_a_tone_is_found_along_its_whole_length(degrees, tone, ink):
    rule = line(degrees, width=1, length=1100, middle=(700, 700), size=(1400, 1400))
    paper, mark = (255 * (1 - tone / 100), 0) if ink else (255 * tone / 100, 255)
    plain = np.full(rule.shape, paper)
    assert rules_in(plain, ink=ink) is None
    rules = rules_in(np.where(rule, float(mark), plain), ink=ink)
    assert rules is not None
    assert rules.length_um == pytest.approx(1100 * PIXEL, rel=0.25)
    assert rules.narrowest_um <= 1.2 * PIXEL
    for piece in rules.longest:
        off = (piece.x_px - 700) * np.sin(np.radians(degrees))
        off += (piece.y_px - 700) * np.cos(np.radians(degrees))
        assert abs(off) < 3


@pytest.mark.parametrize("dot", ["round", "line"])
@pytest.mark.parametrize("name", ["camera", "astronaut", "coffee", "brick", "grass"])
def test_photographs_have_no_rules(name, dot):
    picture = Image.fromarray(getattr(skimage.data, name)()).convert("L")
    gray = np.asarray(picture.resize((1500, 1500), Image.Resampling.LANCZOS)).astype(float)
    for ink in (True, False):
        assert rules_in(gray, ink=ink, dot=dot) is None
        assert rules_in(gray, ink=ink, dot=dot, lpi=25, mesh="43-80") is None


def test_drawn_pages_of_text_and_drawings_seldom_warn():
    """Of the drawn pages of text, at the size of a sheet, none has a hairline that is lost."""
    warned = []
    for name, make in drawn_pages("text")[:3]:
        page = make(np.random.default_rng(5)).convert("L")
        page = page.resize((3600, round(3600 * page.height / page.width)), Image.Resampling.BICUBIC)
        bits = np.asarray(page) < 128
        if found(bits) or found(bits, ink=False, limit=152.6):
            warned.append(name)
    assert len(warned) <= 1, warned
