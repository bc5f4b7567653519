"""Empty borders: found on clean drawings and on scans, and never cut into a subject."""

from __future__ import annotations

import numpy as np
import pytest
from degraded import (
    as_codes,
    coded,
    drawing,
    on_paper,
    photo_on_page,
    skimage_picture,
    tone_samples,
)

from filmhand.art.analysis.subject import find_subject

PHOTOGRAPHS = ("camera", "astronaut", "coffee", "chelsea", "coins", "brick", "grass", "rocket")


def inked(clean):
    """(left, top, right, bottom) of what is darker than half."""
    rows, columns = (np.flatnonzero((clean < 0.5).any(axis=axis)) for axis in (1, 0))
    return columns[0], rows[0], columns[-1] + 1, rows[-1] + 1


def with_border(clean, left, top, right, bottom):
    return np.pad(clean, ((top, bottom), (left, right)), constant_values=1.0)


def assert_close_around(found, wanted, *, within):
    """The box holds all of the wanted one, and at most ``within`` pixels more at each side."""
    assert found is not None
    for number, sign in enumerate((-1, -1, 1, 1)):
        more = sign * (found[number] - wanted[number])
        assert 0 <= more <= within, (found, wanted)


SCANS = {
    "white": {"paper": 1.0, "ink": 0.0},
    "tinted": {"paper": 0.7, "ink": 0.1},
    "scan": {"paper": 0.8, "ink": 0.08, "grain": 0.01, "noise": 0.01, "blur": 0.8},
    "uneven scan": {"paper": 0.9, "ink": 0.1, "darkest": 0.75, "noise": 0.01, "blur": 0.8},
}


@pytest.mark.parametrize("kind", SCANS)
@pytest.mark.parametrize("border", [(300, 120, 40, 500), (0, 200, 0, 200)])
def test_a_drawing_is_found_within_its_borders(kind, border):
    clean = with_border(drawing(700, 560), *border)
    found = find_subject(coded(on_paper(clean, **SCANS[kind])))
    # One per cent of the longer side stays at each side, and blocks are two pixels wide.
    assert_close_around(found, inked(clean), within=16)


def test_specks_of_dust_do_not_count_and_many_do():
    clean = with_border(drawing(700, 560), 300, 300, 300, 300)
    wanted = inked(clean)
    chance = np.random.default_rng(5)
    dusty = clean.copy()
    for x, y in chance.integers(20, 260, (10, 2)):
        dusty[y : y + 3, x : x + 3] = 0.2
    assert_close_around(find_subject(coded(dusty)), wanted, within=16)
    starry = clean.copy()
    for x, y in chance.integers(20, 1100, (400, 2)):
        starry[y : y + 3, x : x + 3] = 0.2
    found = find_subject(coded(starry))
    assert found is None or (found[0] < 40 and found[1] < 40)


def test_a_thin_line_far_out_is_kept():
    clean = with_border(drawing(700, 560), 900, 900, 900, 900)
    clean[200:2100, 150] = 0.0  # one pixel of a picture that is looked at in blocks of three
    found = find_subject(coded(clean))
    assert found is not None
    assert found[0] <= 150 and found[1] <= 200


@pytest.mark.parametrize("name", PHOTOGRAPHS)
def test_nothing_is_cut_off_open_photographs(name):
    picture = skimage_picture(name)  # scikit-image's sample pictures
    if picture is None:
        pytest.skip("scikit-image's picture is not here")
    assert find_subject(picture) is None


@pytest.mark.parametrize("name", PHOTOGRAPHS)
@pytest.mark.parametrize("tint", [1.0, 0.8])
def test_a_photograph_on_paper_keeps_all_of_itself(name, tint):
    picture = skimage_picture(name)
    if picture is None:
        pytest.skip("scikit-image's picture is not here")
    height, width = picture.shape
    page = np.full((height + 130, width + 220), round(65535 * tint), np.uint16)
    page[90 : 90 + height, 70 : 70 + width] = picture
    found = find_subject(page)
    # Where the photograph's own edge is as light as the page, they are one.
    assert found is not None
    edges = (picture[:, 0], picture[0], picture[:, -1], picture[-1])
    clear = [np.mean(np.abs(edge / 65535 - tint) > 0.05) > 0.02 for edge in edges]
    wanted = (70, 90, 70 + width, 90 + height)
    for number, sign in enumerate((-1, -1, 1, 1)):
        if clear[number]:
            assert 0 <= sign * (found[number] - wanted[number]) <= 16


def test_a_small_photograph_is_found_on_its_page():
    found = find_subject(as_codes(photo_on_page()))
    assert_close_around(found, (150, 200, 550, 500), within=6)


@pytest.mark.parametrize("name", ["ramp", "radial", "blank", "noise", "clouds"])
def test_what_has_no_border_is_left_whole(name):
    assert find_subject(tone_samples()[name]) is None


def test_a_dark_ground_and_tiny_art_are_left_whole():
    clean = with_border(drawing(700, 560), 200, 200, 200, 200)
    assert find_subject(coded(1 - clean)) is None
    assert find_subject(np.full((5, 5), 65535, np.uint16)) is None


@pytest.mark.parametrize("size", [(2000, 3), (3, 2000), (1, 1), (1017, 1013)])
def test_any_shape_can_be_looked_at(size):
    picture = np.full(size, 65535, np.uint16)
    picture[size[0] // 2 :, size[1] // 2 :] = 0
    find_subject(picture)
