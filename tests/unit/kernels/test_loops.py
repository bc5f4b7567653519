"""Which loops run: the compiled ones where they could be built, NumPy's where that is wished."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

from filmhand.kernels import loops

SAY = "from filmhand.kernels.loops import compiled; print(compiled() is not None)"


def said_where(**environment):
    return subprocess.run(
        [sys.executable, "-c", SAY],
        env={**os.environ, **environment},
        check=True,
        capture_output=True,
        text=True,
    ).stdout.strip()


def test_a_machine_with_a_compiler_has_the_compiled_loops():
    header = Path(sysconfig.get_path("include"), "Python.h")
    if shutil.which(os.environ.get("CC", "cc")) is None or not header.exists():
        pytest.skip("no C compiler, or no headers of Python")
    assert said_where(FILMHAND_PLAIN="") == "True"


@pytest.mark.parametrize(("wish", "has"), [("1", "False"), ("yes", "False"), ("0", None)])
def test_the_environment_can_do_without(wish, has):
    assert said_where(FILMHAND_PLAIN=wish) == (has or said_where(FILMHAND_PLAIN=""))


def test_a_module_of_another_version_is_not_used(monkeypatch):
    monkeypatch.delenv(loops.PLAIN, raising=False)
    monkeypatch.setattr(loops, "VERSION", loops.VERSION + 1)
    loops.compiled.cache_clear()
    try:
        assert loops.compiled() is None
    finally:
        loops.compiled.cache_clear()


def test_a_module_that_lacks_a_loop_is_not_used(monkeypatch):
    monkeypatch.delenv(loops.PLAIN, raising=False)
    monkeypatch.setattr(loops, "_NAMES", [*loops._NAMES, "a_loop_of_tomorrow"])
    loops.compiled.cache_clear()
    try:
        assert loops.compiled() is None
    finally:
        loops.compiled.cache_clear()


def test_each_loop_is_told_where_it_is_called():
    module = loops.compiled()
    if module is None:
        pytest.skip("the loops are not compiled here")
    assert set(loops._NAMES) == {name for name in dir(module) if not name.startswith("_")} - {
        "VERSION"
    }
