"""How far a film is its art: the measure on small maps whose answer is known beforehand."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.analysis.likeness import darkness, likeness_of

# L* of sRGB grays, from the formulas of IEC 61966-2-1 and CIE 15: code 128 has 53.585.
L_OF_128 = 53.585


def likeness(asked, film, **wishes):
    asked, film = (np.asarray(one, np.float32) for one in (asked, film))
    return likeness_of(asked, film, **{"least_cells": 4, "least_line": 20} | wishes)


def with_shapes(*shapes, size=(60, 80)):
    """A bare map with rectangles (rows, columns, tone)."""
    field = np.zeros(size, np.float32)
    for rows, columns, tone in shapes:
        field[slice(*rows), slice(*columns)] = tone
    return field


DARK = ((5, 25), (5, 30), 1.0)
PALE = ((35, 55), (40, 70), 0.3)


def test_darkness_is_what_is_left_of_lightness() -> None:
    tone = np.array([0, 1 - 128 / 255, 1], np.float32)
    assert darkness(tone) == pytest.approx([0, 100 - L_OF_128, 100], abs=0.01)


def test_the_same_map_is_all_there() -> None:
    art = np.random.default_rng(1).random((40, 50), np.float32)
    found = likeness(art, art)
    assert found.correlation == pytest.approx(1)
    assert (found.lost, found.added, found.gone) == (0, 0, ())


def test_correlation_is_pearsons() -> None:
    rng = np.random.default_rng(2)
    # Blocks of five cells, so that seeing them from afar hardly changes their middles.
    one, other = (np.kron(rng.random((9, 9)), np.ones((30, 30))) for _ in range(2))
    wanted = np.corrcoef(darkness(one).ravel(), darkness(other).ravel())[0, 1]
    assert likeness(one, other).correlation == pytest.approx(wanted, abs=0.03)


def test_a_pale_shape_that_is_not_there_is_gone_with_its_weight() -> None:
    art, film = with_shapes(DARK, PALE), with_shapes(DARK)
    found = likeness(art, film)
    (shape,) = found.gone
    assert abs(shape.left - 40) <= 2 and abs(shape.right - 70) <= 2
    assert abs(shape.top - 35) <= 2 and abs(shape.bottom - 55) <= 2
    pale = 600 * float(darkness(np.float32(0.3)))
    share = pale / (pale + 500 * 100)
    assert shape.weight == pytest.approx(share, rel=0.1)
    assert found.lost == pytest.approx(share, rel=0.1) and found.added == 0
    assert likeness(film, art).gone == () and likeness(film, art).added > 0.2


def test_shapes_are_told_by_weight_and_small_ones_not_at_all() -> None:
    small = ((50, 52), (5, 7), 0.5)
    art = with_shapes(DARK, PALE, ((35, 45), (5, 15), 0.3), small)
    found = likeness(art, with_shapes(DARK), least_cells=40)
    assert [shape.left > 30 for shape in found.gone] == [True, False]
    assert found.gone[0].weight > found.gone[1].weight


def test_what_nobody_sees_is_not_missed() -> None:
    faint = ((35, 55), (40, 70), 0.02)
    found = likeness(with_shapes(DARK, faint), with_shapes(DARK))
    assert found.gone == () and found.lost == 0


def test_a_hairline_is_missed_when_it_is_long() -> None:
    long, short = ((40, 41), (10, 60), 0.35), ((40, 41), (10, 22), 0.35)
    film = with_shapes(DARK)
    assert len(likeness(with_shapes(DARK, long), film, least_cells=200).gone) == 1
    assert likeness(with_shapes(DARK, short), film, least_cells=200).gone == ()


def test_smudges_of_paper_are_not_missed_but_pale_strokes_are() -> None:
    smudge = ((35, 55), (40, 70), 0.25)
    art, film = with_shapes(DARK, smudge), with_shapes(DARK)
    assert likeness(art, film).gone and not likeness(art, film, on_paper=True).gone
    stroke = ((35, 55), (40, 70), 0.6)
    assert likeness(with_shapes(DARK, stroke), film, on_paper=True).gone


def test_what_is_bare_on_purpose_does_not_count() -> None:
    beyond = with_shapes(((30, 60), (35, 75), 1)) > 0
    found = likeness(with_shapes(DARK, PALE), with_shapes(DARK), beyond=beyond)
    assert (found.lost, found.gone) == (0, ())


def test_flats_have_no_pattern_to_differ_in() -> None:
    half, full = np.full((20, 20), 0.5), np.ones((20, 20))
    assert likeness(half, half).correlation == 1
    assert likeness(half, full).added > 0.5
    assert likeness(with_shapes(DARK), np.zeros((60, 80))).correlation == 0
