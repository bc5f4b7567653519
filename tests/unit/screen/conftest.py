from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE


def _flat(tile, tone, *, width=400, height=400, row=0, column=0):
    code = round(tone * FULL_TONE)
    strip = np.full((height, width), code, np.uint16)
    return Screener(tile, column=column, width=width).cut(strip, row=row)


def _areas(bits):
    """Pixels of every 4-connected component that the border does not cut, by scipy."""
    labels, count = ndimage.label(bits)
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    cut = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    areas[cut] = 0
    areas[0] = 0
    return areas[areas > 0]


@pytest.fixture(scope="session")
def flat():
    """flat(tile, tone, width=, height=, row=, column=): a screened flat tone, True = ink."""
    return _flat


@pytest.fixture(scope="session")
def areas():
    """areas(bits): sizes of the whole components, by scipy.ndimage."""
    return _areas
