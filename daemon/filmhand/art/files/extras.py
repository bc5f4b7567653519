"""The libraries of filmhand[art], loaded only when a file needs one of them."""

from __future__ import annotations

import importlib
import importlib.util
from typing import Any

from filmhand.errors import Reason, Refused

ART_EXTRA = "pip install 'filmhand[art]'"
# What each library opens, by its import name.
OPENS = {
    "imagecodecs": "JPEG XL",
    "pillow_heif": "HEIC",
    "pypdfium2": "PDF",
    "pyvips": "all bits of deep color",
    "resvg_py": "SVG",
    "simplejpeg": "word of wrong codes in a JPEG",
    "tifffile": "rare sorts of TIFF",
}
LIBRARIES = tuple(OPENS)


def installed() -> list[str]:
    """Which of the libraries are there, by their import names; none is loaded."""
    return [name for name in LIBRARIES if importlib.util.find_spec(name) is not None]


def opened_and_closed() -> tuple[list[str], list[str]]:
    """What the libraries that are there open, and what lacks its library."""
    there = installed()
    opened = [what for library, what in OPENS.items() if library in there]
    return opened, [what for library, what in OPENS.items() if library not in there]


def load(module: str, *, name: str, what: str) -> Any:
    """The module, or a refusal that names the extra.

    Parameters
    ----------
    module : str
        The import name of a library that filmhand[art] installs.
    name : str
        The customer's file name.
    what : str
        What the file is, for the sentence, such as "a PDF document".

    Raises
    ------
    Refused
        not-art, where the library is not installed or cannot be loaded.
    """
    try:
        return importlib.import_module(module)
    # A library of C code that does not fit the system fails with OSError.
    except (ImportError, OSError) as fault:
        raise missing(name=name, what=what) from fault


def missing(*, name: str, what: str) -> Refused:
    """The refusal of a kind whose library is not installed."""
    return Refused(
        Reason.NOT_ART,
        f"“{name}” is {what}, which needs an addition that is not installed.",
        f"Install the addition ({ART_EXTRA}), or save the art as PNG, TIFF or JPEG and drop that.",
    )
