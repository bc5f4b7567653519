"""On how small a copy each look at art is taken, whatever the art's size."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.analysis import paper_estimate
from filmhand.art.analysis.paper_estimate import reduced_light
from filmhand.art.repair import deskew, line_cleaning, paper_shading
from filmhand.tone import srgb_to_linear

SIDES = {paper_shading: (720, 64), deskew: (1000, 64), line_cleaning: (720, 16)}


class Looked(Exception):
    """With the factor of the copy."""


def factor_of(module, shape, monkeypatch):
    def look(coded, factor):
        raise Looked(factor)

    looks = deskew if module is deskew else paper_estimate
    monkeypatch.setattr(looks, "reduced_light", look)
    coded = np.zeros(shape, np.uint16)
    try:
        if module is paper_shading:
            paper_shading.find_paper(coded)
        elif module is deskew:
            deskew.find_skew(coded)
        else:
            line_cleaning.prepare_line(coded, drawn=False)
    except Looked as looked:
        return looked.args[0]
    return None


@pytest.mark.parametrize("module", SIDES, ids=lambda module: module.__name__.rpartition(".")[2])
def test_the_copy_has_at_most_so_many_pixels_a_side_and_is_no_smaller_than_it_need_be(
    module, monkeypatch
):
    most, least = SIDES[module]
    for side, factor in ((most, 1), (most + 1, 2), (2 * most, 2), (2 * most + 1, 3)):
        for shape in ((side, 4 * least), (4 * least, side)):
            assert factor_of(module, shape, monkeypatch) == factor
    assert factor_of(module, (least, least), monkeypatch) == 1
    assert factor_of(module, (least - 1, most), monkeypatch) is None
    assert factor_of(module, (2 * least - 1, 2 * most), monkeypatch) is None
    assert factor_of(module, (2 * least, 2 * most), monkeypatch) == 2


@pytest.mark.parametrize(("shape", "factor"), [((13, 17), 4), ((13, 17), 1), ((900, 701), 3)])
def test_light_is_averaged_and_not_its_codes(shape, factor):
    codes = np.random.default_rng(1).integers(0, 65536, shape).astype(np.uint16)
    light = srgb_to_linear(codes / 65535)
    height, width = shape[0] // factor, shape[1] // factor
    cut = light[: height * factor, : width * factor]
    wanted = cut.reshape(height, factor, width, factor).mean(axis=(1, 3))
    assert reduced_light(codes, factor) == pytest.approx(wanted, abs=1e-5)
