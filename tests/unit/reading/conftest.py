"""One printed wedge for all tests that read scans."""

from __future__ import annotations

import pytest

from filmhand.profile.read.load import load_profile
from press.wedges import SEFAR, print_of

PROFILE = (
    "sheet: 3.2 x 4 in\ndpi: 300\nlpi: 30\ndot: round\nangle: 22.5\nthreshold: 50\nmesh: 43-80\n"
    "margin: 0.25 in\nwrite: png\n"
)


@pytest.fixture(scope="session")
def wedge_profile(tmp_path_factory):
    file = tmp_path_factory.mktemp("profile") / "shop.yaml"
    file.write_text(PROFILE)
    return load_profile(file)


@pytest.fixture(scope="session")
def printed_wedge(wedge_profile):
    return print_of(wedge_profile, SEFAR, 1)
