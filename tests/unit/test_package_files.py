"""Whatever lies in the package beside its modules is installed with it."""

from __future__ import annotations

import subprocess
import tomllib
from pathlib import Path

import filmhand

ROOT = Path(filmhand.__file__).parent
REPOSITORY = Path(__file__).parents[2]


def test_every_file_that_is_no_module_is_package_data() -> None:
    tools = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["tool"]
    patterns = tools["setuptools"]["package-data"]["filmhand"]
    installed = {path for pattern in patterns for path in ROOT.glob(pattern)}
    listed = subprocess.run(
        ["git", "ls-files", "-z", str(ROOT)], cwd=REPOSITORY, capture_output=True, check=False
    )
    there = {REPOSITORY / name for name in listed.stdout.decode().split("\0") if name}
    if not there:  # no checkout, as where the sources were unpacked
        there = {path for path in ROOT.rglob("*") if path.is_file() and path.suffix != ".pyc"}
    # What the loops in C are built of comes with the sources, and is of no use beside the program.
    built = {
        ROOT / Path(name).relative_to("daemon/filmhand")
        for loops in tools["setuptools"]["ext-modules"]
        for name in (*loops["sources"], *loops["depends"])
    }
    others = {path for path in there - built if path.suffix not in {".py", ".so"} and path.exists()}
    assert len(others) > 20
    assert sorted(others - installed) == []
