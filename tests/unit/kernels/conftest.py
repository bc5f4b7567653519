"""What tests of the loops in C need to do without them."""

from __future__ import annotations

import pytest

from filmhand.kernels.loops import compiled
from filmhand.kernels.plain import PLAIN


@pytest.fixture
def without_loops(monkeypatch):
    """Called, NumPy and the libraries do all until the end of the test."""

    def begin():
        monkeypatch.setenv(PLAIN, "1")
        compiled.cache_clear()

    yield begin
    monkeypatch.undo()
    compiled.cache_clear()
