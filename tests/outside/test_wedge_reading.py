"""Reading wedges, held against published values and against libraries that it does not use."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.color import rgb2ycbcr
from skimage.transform import ProjectiveTransform

from filmhand.pipeline.printer_films.wedge_film import wedge_identity
from filmhand.profile.read.load import load_profile
from filmhand.reading.code_search import seen_code
from filmhand.reading.read_wedge import darkest_channel
from filmhand.reading.tones import area_by_murray_davies, luma
from filmhand.reading.wedge_search import find_wedge, moved
from filmhand.tone import srgb_to_linear
from press.scans import Scanner, corners_seen
from press.wedges import AS_FILM, print_of

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def profile(tmp_path_factory):
    file = tmp_path_factory.mktemp("profile") / "shop.yaml"
    file.write_text(
        "sheet: 3.2 x 4 in\ndpi: 300\nlpi: 30\ndot: round\nthreshold: 50\nmesh: 43-80\n"
        "margin: 0.25 in\n"
    )
    return load_profile(file)


@pytest.fixture(scope="module")
def wedge(profile):
    return print_of(profile, AS_FILM)


SEEN = Scanner(ppi=200, turn=14, tilt=(0.15, -0.1), margin_mm=8)


@pytest.fixture(scope="module")
def dark(wedge):
    return darkest_channel(wedge.scanned(SEEN).astype(np.uint16) * 257)


@pytest.mark.parametrize(
    ("solid", "tint", "area"),
    [
        # Of densities over paper; a discussion of 2004 prints the first two for a 50 % dot.
        (3.0, 0.3006, 0.5),
        (1.33, 0.2812, 0.5),
        # D = log10(1 / (1 - a (1 - 10^-Ds))), turned about by hand.
        (1.40, 0.30, 0.5195),
    ],
)
def test_murray_davies_gives_the_published_areas(solid, tint, area):
    assert area_by_murray_davies(10**-tint, 10**-solid) == pytest.approx(area, abs=1e-4)


def test_luma_is_that_of_jpeg():
    codes = np.random.default_rng(1).random((50, 3))
    # scikit-image scales luma to 16 .. 235, as ITU-R BT.601 does.
    expected = (rgb2ycbcr(codes[None])[0, :, 0] - 16) / 219
    assert luma(srgb_to_linear(codes)) == pytest.approx(expected, abs=1e-3)


def test_places_are_those_of_another_librarys_homography(profile, wedge, dark):
    found = find_wedge(dark, wedge_identity(profile))
    width, height = found.layout.size_mm
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    seen, _ = corners_seen((width, height), SEEN)
    # There a pixel's own edge is 0, here its middle.
    other = ProjectiveTransform.from_estimate(corners, seen - 0.5)
    places = np.random.default_rng(2).random((200, 2)) * (width, height)
    off = moved(found.matrix, places) - other(places)
    assert np.hypot(*off.T).max() * 25.4 / SEEN.ppi < 0.15  # millimeters


def test_another_library_reads_the_same_code(dark):
    text, *_ = cv2.QRCodeDetector().detectAndDecode(dark)
    assert text and seen_code(dark).identity.text() == text
