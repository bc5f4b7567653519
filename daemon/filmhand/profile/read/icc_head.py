"""The head of an ICC profile: for what kind of device and which colors it is (ICC.1:2022, 7.2)."""

from __future__ import annotations

import hashlib
from pathlib import Path

from filmhand.profile.read.read_words import IccFault, IccKind

LARGEST_ICC = 16 * 2**20
"""Bytes of the largest ICC profile."""
_HEAD_BYTES = 128


def icc_fault(data: bytes) -> str | None:
    """What is wrong with a file that is to be an output profile of four inks; None for nothing."""
    if len(data) > LARGEST_ICC:
        return IccFault.TOO_LONG.say()
    if len(data) < _HEAD_BYTES or data[36:40] != b"acsp":
        return IccFault.NO_PROFILE.say()
    if int.from_bytes(data[:4], "big") > len(data):
        return IccFault.BREAKS_OFF.say()
    kind, colors = (data[at : at + 4].decode("latin-1").strip() for at in (12, 16))
    if kind != "prtr":
        return IccFault.OTHER_KIND.say(kind=_KINDS[kind].say() if kind in _KINDS else repr(kind))
    if colors != "CMYK":
        plain = "".join(sign for sign in colors if sign.isalnum())
        return IccFault.OTHER_COLORS.say(colors=plain or "?")
    return None


_KINDS = {
    "mntr": IccKind.DISPLAY,
    "scnr": IccKind.SCANNER,
    "link": IccKind.LINK,
    "spac": IccKind.SPACE,
    "abst": IccKind.ABSTRACT,
    "nmcl": IccKind.NAMED,
}


def icc_reference(path: Path, data: bytes) -> str:
    """What is kept of a profile: the hash of its bytes and where it lies."""
    return reference_to(path, hashlib.sha256(data).hexdigest())


def reference_to(path: Path, digest: str) -> str:
    """The same of one whose bytes have that hash, by which alone it is known."""
    return f"{digest} {path.absolute()}"
