"""Pages show the computer's own time: here it is that of Greenwich."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _in_greenwich(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()
