"""What was freed between blocks in use goes back to the system."""

from __future__ import annotations

import subprocess
import sys

import pytest

from filmhand.pipeline import free_memory

# In a process of its own, whose memory nothing else moves.
FREED = """
import ctypes
import sys
from pathlib import Path
from filmhand.pipeline.free_memory import give_back_memory
calls = ctypes.CDLL(None)
calls.malloc.restype = ctypes.c_void_p
calls.free.argtypes = [ctypes.c_void_p]

count = int(sys.argv[1])

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096

blocks = [calls.malloc(60_000) for _ in range(count)]
for block in blocks:
    ctypes.memset(block, 1, 60_000)
for block in blocks[:-1]:
    calls.free(block)
before = resident()
give_back_memory()
print(before - resident())
"""


@pytest.mark.skipif(None in free_memory._calls(), reason="not glibc, or an old one")
@pytest.mark.parametrize(("blocks", "least", "most"), [(1000, 40e6, 61e6), (200, -1e6, 1e6)])
def test_freed_memory_is_given_back_where_it_is_much(blocks, least, most):
    freed = subprocess.run(
        [sys.executable, "-c", FREED, str(blocks)], check=True, capture_output=True, text=True
    ).stdout
    assert least < int(freed) < most


def test_a_library_without_the_call_is_left_alone(monkeypatch):
    monkeypatch.setattr(free_memory.ctypes, "CDLL", lambda name: object())
    free_memory._calls.cache_clear()
    try:
        free_memory.give_back_memory()
        assert free_memory._calls() == (None, None)
    finally:
        free_memory._calls.cache_clear()
