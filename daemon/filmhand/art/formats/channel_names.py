"""The channels beyond the colors of a layered file, as its image resources describe them.

Layout by the format's published specification: names stand as Unicode (resource 1045) or as short
texts (1006); 1077, or 1007 in older files, tells which are inks of their own and which selections.
"""

from __future__ import annotations

from typing import BinaryIO

from filmhand.values import dataclass

_SHORT_NAMES, _NAMES = 1006, 1045
_OLD_DISPLAY, _DISPLAY = 1007, 1077
# Bytes before the first channel's description, and of each, and where in it its kind stands.
_DISPLAYS = {_DISPLAY: (4, 13, 12), _OLD_DISPLAY: (0, 14, 12)}
_SPOT = 2
_MOST_BYTES = 65_536
_MOST_CHANNELS = 64


@dataclass(frozen=True, slots=True)
class FurtherChannel:
    """A channel beyond the colors.

    Attributes
    ----------
    name : as people gave it; empty where it has none
    is_ink : whether it is an ink of its own; True as well where the file does not say
    """

    name: str
    is_ink: bool


def further_channels(
    file: BinaryIO, resources: dict[int, tuple[int, int]]
) -> tuple[FurtherChannel, ...]:
    """The channels beyond the colors, in the order in which they are stored.

    Parameters
    ----------
    file : open for reading
    resources : where each resource's data lie, and how long they are
    """

    def data(number: int) -> bytes:
        at, length = resources.get(number, (0, 0))
        file.seek(at)
        return file.read(min(length, _MOST_BYTES))

    names = _unicode_names(data(_NAMES)) or _short_names(data(_SHORT_NAMES))
    kinds: list[int] = []
    for number, (first, each, at) in _DISPLAYS.items():
        table = data(number)
        kinds = kinds or [table[i + at] for i in range(first, len(table) - each + 1, each)]
    return tuple(
        FurtherChannel(name, place >= len(kinds) or kinds[place] == _SPOT)
        for place, name in enumerate(names[:_MOST_CHANNELS])
    )


def _unicode_names(data: bytes) -> list[str]:
    """Texts of two bytes a sign, each after its length in signs."""
    names, at = [], 0
    while at + 4 <= len(data):
        signs = int.from_bytes(data[at : at + 4], "big")
        text = data[at + 4 : at + 4 + 2 * signs]
        names.append(plain_name(text.decode("utf-16-be", "replace")))
        at += 4 + 2 * signs
    return names


def _short_names(data: bytes) -> list[str]:
    """Texts of one byte a sign, each after its length."""
    names, at = [], 0
    while at < len(data):
        text = data[at + 1 : at + 1 + data[at]]
        names.append(plain_name(text.decode("utf-8", "replace")))
        at += 1 + data[at]
    return names


def plain_name(text: str) -> str:
    """A name fit for a sentence: it comes from a stranger's file."""
    return "".join(sign for sign in text if sign.isprintable()).strip()[:60]
