"""The libraries of filmhand[calibrate], loaded only when a scan is read."""

from __future__ import annotations

import importlib
from typing import Any

from filmhand.reading.scan_words import ScanRefusal

_CALIBRATE_EXTRA = "pip install 'filmhand[calibrate]'"


def calibrate_library(module: str) -> Any:
    """The module of an import name, or a refusal that names the addition.

    Raises
    ------
    Refused
        not-art, where the library is not installed or cannot be loaded
    """
    try:
        return importlib.import_module(module)
    # A library of C code that does not fit the system fails with OSError.
    except (ImportError, OSError) as fault:
        raise ScanRefusal.LACKS_ADDITION.refused(command=_CALIBRATE_EXTRA) from fault
