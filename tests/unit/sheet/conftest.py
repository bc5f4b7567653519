from __future__ import annotations

import pytest

from filmhand.profile.load import read_profile

REQUIRED = {
    "sheet": "8.5 x 11 in",
    "dpi": "300",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",
    "margin": "0.25 in",
}


@pytest.fixture
def profile():
    """profile(key=value, ...): the required seven keys, changed and added to."""

    def make(**keys):
        text = "".join(f"{key}: {value}\n" for key, value in (REQUIRED | keys).items())
        return read_profile(text, name="small-sheet", file="small-sheet.yaml")

    return make
