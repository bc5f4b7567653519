"""The kinds of file a film is written as: one row a kind.

A new kind is a new row here and the module that it names, in which a :class:`Codec` of its name,
such as ``PDF_CODEC``, writes and verifies it. This module imports none of them, so that every room
may use it.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any, BinaryIO, Protocol

from filmhand.rows import RowEnum
from filmhand.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

    from filmhand.film.bits import BitSheet
    from filmhand.film.strips import FilePlan, FilmStrip


class BrokenFilm(Exception):
    """A film file is damaged, or does not hold what was meant; its text says what the file does."""


class Writer(Protocol):
    """Turns strips into one file: `encode` in any thread, `add` in the strips' order."""

    def __init__(self, file: BinaryIO, plan: FilePlan) -> None: ...

    def encode(self, strip: FilmStrip) -> Any:
        """What `add` needs of a strip."""

    def add(self, payload: Any) -> None:
        """Put the next strip into the file."""

    def finish(self) -> None:
        """Make the file whole."""


class Verifier(Protocol):
    """Decodes a film file and raises BrokenFilm where it is not what was meant."""

    def __call__(self, file: BinaryIO, bits: BitSheet, plan: FilePlan, *, threads: int) -> None:
        """Compare the file with the bits and the plan."""


@dataclass(frozen=True, slots=True)
class Codec:
    """The two halves of a kind of film file."""

    writer: type[Writer]
    verify: Verifier


class Format(RowEnum):
    """A kind of film file; the words are those of a profile's ``write`` list.

    >>> Format.TIFF, Format.TIFF.suffix
    (<Format.TIFF: 'tiff'>, '.tif')

    Attributes
    ----------
    suffix : the file name's ending, with its dot
    codec_module : where in this room its codec is
    use : the guide's words for when to choose it
    """

    suffix: str
    codec_module: str
    use: str

    PDF = "pdf", ".pdf", "pdf_reader", "for any printer: asks not to be scaled"
    TIFF = "tiff", ".tif", "tiff", "for programs that take pictures, and for keeping"
    PNG = "png", ".png", "png", "to look at, and for programs that read nothing else"
    PWG = "pwg", ".pwg", "pwg", "for printers that take PWG Raster: no driver in between"

    def codec(self) -> Codec:
        """Its writer and verifier; ImportError or AttributeError for a row without them."""
        module = importlib.import_module(f"filmhand.film.{self.codec_module}")
        codec: Codec = getattr(module, f"{self.name}_CODEC")
        return codec


def load_codecs(kinds: Iterable[Format]) -> None:
    """Load the modules of some formats before they are needed."""
    for kind in kinds:
        kind.codec()
