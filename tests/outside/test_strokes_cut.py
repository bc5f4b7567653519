"""Strokes parted from paper as well as by the ways of scikit-image; see ``strokes_set.py``."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("skimage")

from strokes_set import CUTS, f_measure, pages

pytestmark = [pytest.mark.outside, pytest.mark.slow]
WAYS = ("tinted", "pencil", "shadow", "phone")


def test_strokes_are_found_at_least_as_well_as_by_sauvola() -> None:
    found: dict[tuple[str, str], list[float]] = {}
    for name, way, gray, truth in pages(WAYS):
        if name in ("receipt", "spiral", "cubes"):
            for cut in ("filmhand", "Otsu", "Sauvola"):
                found.setdefault((way, cut), []).append(f_measure(CUTS[cut](gray), truth))
    mean = {key: float(np.mean(values)) for key, values in found.items()}
    for way in WAYS:
        assert len(found[way, "filmhand"]) == 3
        assert mean[way, "filmhand"] >= mean[way, "Sauvola"], mean
    assert mean["shadow", "filmhand"] > mean["shadow", "Otsu"] + 20, mean
    assert min(mean[way, "filmhand"] for way in WAYS) > 92, mean


def test_the_score_itself() -> None:
    truth = np.zeros((4, 4), bool)
    truth[:2] = True
    assert f_measure(truth, truth) == 100
    half = truth.copy()
    half[0] = False
    assert f_measure(half, truth) == pytest.approx(200 * 1 * 0.5 / 1.5)
