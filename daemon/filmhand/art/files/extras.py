"""The libraries of filmhand[art], loaded only when a file needs one of them."""

from __future__ import annotations

import importlib
import importlib.util
from typing import Any

from filmhand.art.files.file_words import AdditionWord, FileRefusal
from filmhand.errors import Refused

ART_EXTRA = "pip install 'filmhand[art]'"
# What each library opens, by its import name.
OPENS = {
    "imagecodecs": AdditionWord.READS_JPEG_XL,
    "pikepdf": AdditionWord.READS_PDF_INKS,
    "pillow_heif": AdditionWord.READS_HEIC,
    "pypdfium2": AdditionWord.READS_PDF,
    "pyvips": AdditionWord.READS_DEEP,
    "resvg_py": AdditionWord.READS_SVG,
    "simplejpeg": AdditionWord.READS_JPEG_DAMAGE,
    "tifffile": AdditionWord.READS_RARE_TIFF,
}
LIBRARIES = tuple(OPENS)


def installed() -> list[str]:
    """Which of the libraries are there, by their import names; none is loaded."""
    return [name for name in LIBRARIES if importlib.util.find_spec(name) is not None]


def opened_and_closed() -> tuple[list[str], list[str]]:
    """What the libraries that are there open, and what lacks its library."""
    there = installed()
    opened = [what.say() for library, what in OPENS.items() if library in there]
    return opened, [what.say() for library, what in OPENS.items() if library not in there]


def load(module: str, *, name: str, what: AdditionWord) -> Any:
    """The module, or a refusal that names the extra.

    Parameters
    ----------
    module : str
        The import name of a library that filmhand[art] installs.
    name : str
        The customer's file name.
    what : AdditionWord
        What the file is, for the sentence.

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


def missing(*, name: str, what: AdditionWord) -> Refused:
    """The refusal of a kind whose library is not installed."""
    return FileRefusal.LACKS_ADDITION.refused(name=name, what=what.say(), command=ART_EXTRA)
