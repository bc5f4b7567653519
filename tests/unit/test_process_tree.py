"""What a command costs is counted with all that it starts."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

if sys.platform != "linux":
    pytest.skip("reads /proc", allow_module_level=True)

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"
# A child of a child that works, holds memory and is left behind by those that started it.
BUSY = """
import os, sys, time
if os.fork() == 0:
    if os.fork() == 0:
        held, start = bytearray(b"1") * (64 << 20), time.process_time()
        while time.process_time() - start < {seconds}:
            pass
    os._exit(0)
os.wait()
"""


def spent(seconds: float, *, watched: bool) -> list[float]:
    """Wall, processor and memory, measured by a process of its own."""
    measure = (
        "import sys, process_tree\n"
        f"one = process_tree.spend([sys.executable, '-c', {BUSY.format(seconds=seconds)!r}],"
        f" watched={watched})\n"
        "print(one.wall, one.processor, one.memory)"
    )
    ran = subprocess.run(
        [sys.executable, "-c", measure], cwd=BENCHMARKS, check=True, capture_output=True, text=True
    )
    return [float(word) for word in ran.stdout.split()]


def test_what_is_left_behind_counts() -> None:
    _, processor, memory = spent(0.5, watched=True)
    assert processor >= 0.5
    assert memory >= 64


def test_memory_is_told_only_where_it_was_watched() -> None:
    assert spent(0.0, watched=False)[2] == 0


def test_a_command_that_fails_says_why() -> None:
    measure = "import sys, process_tree\nprocess_tree.spend([sys.executable, '-c', 'no_such_name'])"
    ran = subprocess.run(
        [sys.executable, "-c", measure], cwd=BENCHMARKS, check=False, capture_output=True, text=True
    )
    assert ran.returncode == 1
    assert "no_such_name" in ran.stderr
