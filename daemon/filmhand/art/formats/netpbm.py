"""Netpbm files (PBM, PGM, PPM, PAM) and portable float maps, by their published descriptions.

Written as text or as bytes; fractions (PFM) lie from the bottom row to the top one.
"""

from __future__ import annotations

import re

from filmhand.values import dataclass

_MOST_HEAD = 65_536
_BETWEEN = rb"(?:\s|#[^\n]*\n)+"
_HEAD = re.compile(rb"P([1-6Ff])" + _BETWEEN + rb"(\d+)" + _BETWEEN + rb"(\d+)")
_MOST_VALUE = re.compile(_BETWEEN + rb"(\d{1,5})")
_SCALE = re.compile(rb"\s+([-+]?[\d.]+(?:[eE][-+]?\d+)?)")


@dataclass(frozen=True, slots=True)
class NetpbmHead:
    """What stands before the pixels: ``most`` is the largest value, ``at`` the first pixel's byte.

    ``kind`` is the digit or letter behind the P. Fractions have most 0, and 1 where they are
    written with the lowest byte first.
    """

    kind: str
    width: int
    height: int
    channels: int
    most: int
    at: int

    @property
    def needed(self) -> int:
        """How many bytes the file has at least; one a number where it is written as text."""
        row = self.width * self.channels
        if self.kind == "4":
            row = (self.width + 7) // 8
        elif self.kind in "Ff":
            row *= 4
        elif self.kind in "567" and self.most > 255:
            row *= 2
        return self.at + row * self.height


def netpbm_head(head: bytes) -> NetpbmHead | None:
    """The head, from the first bytes of a file; None where it breaks off or makes no sense."""
    head = head[:_MOST_HEAD]
    if head.startswith(b"P7"):
        return _pam_head(head)
    found = _HEAD.match(head)
    if not found:
        return None
    kind, width, height = found[1].decode(), int(found[2]), int(found[3])
    most, end = 1, found.end()
    if kind in "Ff":
        scale = _SCALE.match(head, end)
        if not scale:
            return None
        most, end = int(float(scale[1]) < 0), scale.end()
    elif kind not in "14":
        value = _MOST_VALUE.match(head, end)
        if not value:
            return None
        most, end = int(value[1]), value.end()
        if not 0 < most < 65536:
            return None
    return NetpbmHead(kind, width, height, 3 if kind in "36F" else 1, most, end + 1)


def _pam_head(head: bytes) -> NetpbmHead | None:
    lines, end, after = head.partition(b"ENDHDR\n")
    words = dict(re.findall(rb"^(WIDTH|HEIGHT|DEPTH|MAXVAL)\s+(\d+)", lines, re.MULTILINE))
    if len(words) < 4 or not end:
        return None
    width, height, channels, most = (
        int(words[key]) for key in (b"WIDTH", b"HEIGHT", b"DEPTH", b"MAXVAL")
    )
    if not (0 < most < 65536 and 1 <= channels <= 4):
        return None
    return NetpbmHead("7", width, height, channels, most, len(head) - len(after))
