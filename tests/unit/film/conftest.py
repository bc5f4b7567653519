from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.film.bits import BitSheet

MakeSheet = Callable[[NDArray[np.bool_]], BitSheet]


@pytest.fixture(scope="session")
def film_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("films")


@pytest.fixture(scope="session")
def make_sheet(film_folder: Path) -> MakeSheet:
    """Makes a sheet from (height, width) bool pixels, True = ink."""
    numbers = itertools.count()

    def make(pixels: NDArray[np.bool_]) -> BitSheet:
        height, width = pixels.shape
        path = film_folder / f"sheet{next(numbers) % 8}.bits"
        sheet = BitSheet.create(path, width=width, height=height)
        sheet.write(0, np.packbits(pixels, axis=1))
        return sheet

    return make
