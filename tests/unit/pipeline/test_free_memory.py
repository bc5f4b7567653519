"""What was freed between blocks in use goes back to the system."""

from __future__ import annotations

import subprocess
import sys

import pytest

from filmhand.pipeline import free_memory

# In a process of its own, whose memory nothing else moves.
FREED = """
import ctypes
from pathlib import Path
from filmhand.pipeline.free_memory import give_back_memory
calls = ctypes.CDLL(None)
calls.malloc.restype = ctypes.c_void_p
calls.free.argtypes = [ctypes.c_void_p]

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096

blocks = [calls.malloc(60_000) for _ in range(1000)]
for block in blocks:
    ctypes.memset(block, 1, 60_000)
for block in blocks[:-1]:
    calls.free(block)
before = resident()
give_back_memory()
print(before - resident())
"""


@pytest.mark.skipif(free_memory._malloc_trim() is None, reason="not glibc")
def test_freed_memory_is_given_back():
    freed = subprocess.run(
        [sys.executable, "-c", FREED], check=True, capture_output=True, text=True
    ).stdout
    assert int(freed) > 40_000_000


def test_a_library_without_the_call_is_left_alone(monkeypatch):
    monkeypatch.setattr(free_memory.ctypes, "CDLL", lambda name: object())
    free_memory._malloc_trim.cache_clear()
    try:
        free_memory.give_back_memory()
        assert free_memory._malloc_trim() is None
    finally:
        free_memory._malloc_trim.cache_clear()
