"""What figures were measured with, in words, and the state that it is brought to before."""

from __future__ import annotations

import compileall
import contextlib
import os
import platform
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

_LIBRARIES = {"numpy": "NumPy", "pillow": "Pillow", "pyvips-binary": "libvips"}


def machine_words() -> str:
    """Cores, processor, Python, libraries, which inner loops ran, and how busy it is now.

    To be asked for before the measuring begins, so that the load is that of other work.
    """
    cores = len(os.sched_getaffinity(0))
    parts = [f"{cores} cores of {_processor()}", f"Python {platform.python_version()}"]
    for package, name in _LIBRARIES.items():
        with contextlib.suppress(PackageNotFoundError):
            parts.append(f"{name} {version(package)}")
    parts.append("inner loops compiled" if _compiled() else "inner loops in NumPy")
    parts.append(f"load average of other work at the start {os.getloadavg()[0]:.1f}")
    return ", ".join(parts)


def compile_modules() -> None:
    """Compile filmhand's modules beside their sources, as an installation does.

    Each start would compile all of them anew where they are read from a copy of the repository and
    Python may not keep what it compiles (PYTHONDONTWRITEBYTECODE).
    """
    package = find_spec("filmhand")
    if package is not None and package.origin is not None:
        compileall.compile_dir(Path(package.origin).parent, quiet=2)


def _compiled() -> bool:
    """Asked in a process of its own, so that whoever measures memory holds none of it."""
    code = "import sys; from filmhand.kernels.loops import compiled; sys.exit(compiled() is None)"
    return subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def _processor() -> str:
    for line in Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            return line.partition(":")[2].strip()
    return platform.machine()
