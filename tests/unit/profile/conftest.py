from __future__ import annotations

import pytest

from filmhand.errors import ProfileError
from filmhand.profile.read.load import read_profile

GOOD = """\
sheet: 8.5 x 11 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
"""


@pytest.fixture
def good():
    """The seven required keys, one a line."""
    return GOOD


@pytest.fixture
def read():
    def _read(text, **kwargs):
        return read_profile(text, name="p", file="p.yaml", **kwargs)

    return _read


@pytest.fixture
def faults(read):
    """Faults of a text as (line, column, key, message)."""

    def _faults(text, **kwargs):
        with pytest.raises(ProfileError) as caught:
            read(text, **kwargs)
        found = caught.value.faulty.faults
        assert list(found) == sorted(found, key=lambda f: (f.line, f.column))
        return [(f.line, f.column, f.key, f.message) for f in found]

    return _faults
