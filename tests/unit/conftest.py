"""The command line, run as people and scripts run it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture
def filmhand(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
        done = subprocess.run(
            [sys.executable, "-P", "-m", "filmhand", *map(str, words)],
            capture_output=True,
            text=True,
            cwd=tmp_path,
            timeout=120,
            check=False,
        )
        assert "Traceback" not in done.stderr
        return done

    return run
