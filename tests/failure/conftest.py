"""What the tests that break things share."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _nobody_waits_for_the_disk(request: pytest.FixtureRequest) -> Iterator[None]:
    """Only a power cut would take what was not flushed; tests/unit/disk looks that all of it is.

    A share that fails on demand does so when it is flushed, too.
    """
    with pytest.MonkeyPatch.context() as patch:
        if "share" not in request.fixturenames:
            patch.setattr(os, "fsync", lambda descriptor: None)
        yield
