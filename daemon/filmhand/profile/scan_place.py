"""What the sub-folders of calibrate/ say of the scans that lie in them. Imports nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

OF_FILM = "film"
"""The sub-folder of calibrate/, or of an ink's in it, whose scans are of the film itself."""


class ScanPlace(NamedTuple):
    """Of which ink a scan is, as its folder is called, or empty; and whether of the film itself."""

    ink: str
    of_film: bool


def scan_place(sub: Sequence[str], inks: Sequence[str] = ()) -> ScanPlace:
    """What the sub-folder of a scan says; folders of other names say nothing.

    Parameters
    ----------
    inks : the folders of the inks that have readings of their own

    >>> scan_place(["Red", "film", "ana"], ["red", "blue"])
    ScanPlace(ink='red', of_film=True)
    >>> scan_place(["ana"], ["red"])
    ScanPlace(ink='', of_film=False)
    """
    first = sub[0].casefold() if sub else ""
    ink = next((one for one in inks if one.casefold() == first), "")
    rest = list(sub[1:]) if ink else list(sub)
    return ScanPlace(ink, bool(rest) and rest[0].casefold() == OF_FILM)
