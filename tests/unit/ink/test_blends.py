"""Colors as blends of a few others."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.blends import blend_shares
from filmhand.tone import linear_to_srgb, srgb_to_linear

PALETTE = np.array([[0.8, 0.1, 0.1], [0.1, 0.2, 0.7], [1.0, 0.8, 0.1], [1.0, 1.0, 1.0]])
ANY = 0b1111


def sets(*bits):
    return np.array(bits, np.uint16)


@pytest.mark.parametrize("in_light", [False, True])
@pytest.mark.parametrize("weights", [[0.3, 0, 0.7, 0], [0, 0.5, 0, 0.5], [0, 0, 1, 0]])
def test_a_blend_of_two_is_found(weights, in_light):
    colors = srgb_to_linear(PALETTE) if in_light else PALETTE
    blend = np.array(weights) @ colors
    code = linear_to_srgb(blend) if in_light else blend
    shares, difference = blend_shares(code[None], PALETTE, sets(ANY), of=2, in_light=in_light)
    assert shares[0] == pytest.approx(weights, abs=1e-6)
    assert difference[0] < 1e-4


def test_a_blend_of_three_is_found_and_one_that_lies_outside_is_not():
    inside = np.array([0.2, 0.3, 0.5, 0]) @ PALETTE
    outside = np.array([0.6, 0.7, -0.3, 0]) @ PALETTE
    shares, difference = blend_shares(
        np.stack([inside, outside]), PALETTE, sets(0b0111, 0b0111), of=3, in_light=False
    )
    assert shares[0] == pytest.approx([0.2, 0.3, 0.5, 0])
    assert difference[0] < 1e-4
    assert shares[1].tolist() == [0, 0, 0, 0]
    assert np.isinf(difference[1])


def test_only_colors_of_the_set_take_part():
    code = (0.5 * PALETTE[0] + 0.5 * PALETTE[3])[None]
    shares, difference = blend_shares(code, PALETTE, sets(0b0110), of=2, in_light=False)
    assert shares[0, [0, 3]].tolist() == [0, 0]
    assert shares.sum() == pytest.approx(1)
    assert difference[0] > 10


def test_a_set_of_one_blends_nothing():
    shares, difference = blend_shares(PALETTE[:1], PALETTE, sets(0b0001), of=2, in_light=False)
    assert not shares.any()
    assert np.isinf(difference).all()


def test_beyond_an_end_it_is_the_end():
    side = PALETTE[1] - PALETTE[0]
    beyond = np.stack([PALETTE[0] - 0.1 * side, PALETTE[1] + 0.1 * side])
    shares, difference = blend_shares(beyond, PALETTE, sets(0b0011, 0b0011), of=2, in_light=False)
    assert shares.tolist() == [[1, 0, 0, 0], [0, 1, 0, 0]]
    assert np.isfinite(difference).all()
