"""The hash by which files are known again."""

from __future__ import annotations

import hashlib
from io import BufferedReader
from typing import Literal, Protocol


class Readable(Protocol):
    """A path, or whatever else can be opened like one."""

    def open(self, mode: Literal["rb"], /) -> BufferedReader:
        """A file to read from; OSError if there is none."""


def sha256_of(path: Readable) -> str:
    """The SHA-256 of a file in hexadecimal, read in blocks; OSError if it cannot be read."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
