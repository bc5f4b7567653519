"""The comments at the head of a curve file: what it tells of itself, one ``# key: value`` a line.

Keys stand in English in every language, as those of a profile do, since they are read back. All of
them may be missing; what people wrote besides is passed over.
"""

from __future__ import annotations

import re
from dataclasses import fields

from filmhand.profile.terms import CurveHead, HeldSizes

_HELD = {
    "dot": "smallest dot held",
    "shadow_dot": "smallest shadow dot held",
    "stroke": "narrowest stroke held",
    "gap": "narrowest gap held",
}
_LONGEST = 200  # characters of one value
_MOST_LINES = 100
_LARGEST_UM = 5000.0  # no wedge has dots or strokes of 5 mm
_LINE = re.compile(r"#\s*([a-z ]{2,40}?)\s*:\s*(.*)")
_SIZE = re.compile(r"(\d{1,5}(?:\.\d{1,3})?)\s*(?:um|µm|μm)")


def curve_head(text: str) -> CurveHead:
    """What stands in the comments before the first pair of a curve file.

    >>> curve_head("# mesh: 110 (43-80)\\n# smallest dot held: 310 µm\\n10, 14\\n").held.dot
    310.0
    """
    told = _told(text)
    plain = {key.name: told.get(key.name, "") for key in fields(CurveHead) if key.name != "held"}
    sizes = {name: _size(told.get(words, "")) for name, words in _HELD.items()}
    return CurveHead(**plain, held=HeldSizes(**sizes))


def head_lines(head: CurveHead) -> list[str]:
    """The comments that :func:`curve_head` reads back, without those that would be empty."""
    lines = []
    for key in fields(CurveHead):
        value = getattr(head, key.name)
        if key.name != "held" and value:
            lines.append(f"# {key.name}: {one_line(value)}")
    for name, words in _HELD.items():
        size = getattr(head.held, name)
        if size is not None:
            lines.append(f"# {words}: {size:g} µm")
    return lines


def one_line(value: str) -> str:
    """A text as it may stand in one line of comments, without what cannot be printed."""
    shown = "".join(c if c.isprintable() else " " for c in value)
    return " ".join(shown.split())[:_LONGEST]


def _told(text: str) -> dict[str, str]:
    told: dict[str, str] = {}
    for line in text.removeprefix("\ufeff").splitlines()[:_MOST_LINES]:
        if line.strip() and not line.lstrip().startswith("#"):
            break
        found = _LINE.match(line.strip())
        if found:
            told.setdefault(found[1], one_line(found[2]))
    return told


def _size(value: str) -> float | None:
    found = _SIZE.fullmatch(value)
    size = float(found[1]) if found else 0.0
    return size if 0 < size <= _LARGEST_UM else None
