"""What several checks against the outside share."""

from __future__ import annotations

import warnings

import pytest


@pytest.fixture(scope="session")
def colour_science():
    """The library of colorimetry; without matplotlib it warns as it is loaded."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour
