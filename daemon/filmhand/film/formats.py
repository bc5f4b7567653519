"""The kinds of file a film is written as. Imports nothing, so that every room may use it."""

from __future__ import annotations

from enum import StrEnum


class Format(StrEnum):
    """A kind of film file; the words are those of a profile's ``write`` list."""

    PDF = "pdf"
    TIFF = "tiff"
    PNG = "png"
    PWG = "pwg"

    @property
    def suffix(self) -> str:
        """The file name's ending, with its dot.

        >>> Format.TIFF.suffix
        '.tif'
        """
        return SUFFIXES[self]


SUFFIXES: dict[Format, str] = {
    Format.PDF: ".pdf",
    Format.TIFF: ".tif",
    Format.PNG: ".png",
    Format.PWG: ".pwg",
}
