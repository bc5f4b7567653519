"""The parts of an SVG drawing that stand right inside its root, and the drawing with some alone.

A group there is what people call a layer. It is called by what the standards have for it: the text
that names it for people who cannot see it (``aria-label``, WAI-ARIA 1.2), its ``title`` (SVG 1.1,
5.4) and its ``id``.
"""

from __future__ import annotations

from collections.abc import Collection
from xml.parsers import expat

from filmhand.art.drawings.svg_scan import SVG_SPACE, TAG, BrokenSvg
from filmhand.values import dataclass

_SEPARATOR = " "
_DRAWS = frozenset(
    {"a", "circle", "ellipse", "foreignObject", "g", "image", "line", "path", "polygon"}
) | {"polyline", "rect", "svg", "switch", "text", "use"}
# What stands here is drawn only where something points to it (SVG 1.1, 5.3.2).
_ASIDE = b'<defs xmlns="http://www.w3.org/2000/svg">', b"</defs>"


@dataclass(frozen=True, slots=True)
class TopPart:
    """An element right inside the root that draws something.

    Attributes
    ----------
    names : of a group all that it is called, most telling first; of anything else none
    is_group : whether it is a group
    first, stop : where it begins and ends, in bytes of the UTF-8 text
    """

    names: tuple[str, ...]
    is_group: bool
    first: int
    stop: int


def top_parts(text: str) -> list[TopPart]:
    """What draws something right inside the root, in the order in which it is painted.

    None where that cannot be told apart, as where an entity stands for elements.

    Raises
    ------
    BrokenSvg
        Where the drawing is not well-formed.
    """
    data = text.encode()
    reader = _PartsReader(data)
    parser = expat.ParserCreate("utf-8", _SEPARATOR)
    parser.buffer_text = True
    parser.StartElementHandler = lambda full, said: reader.start(
        full, said, parser.CurrentByteIndex
    )
    parser.EndElementHandler = lambda _: reader.end(parser.CurrentByteIndex)
    parser.CharacterDataHandler = reader.text
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, ValueError) as fault:
        raise BrokenSvg(str(fault)) from fault
    return [] if reader.is_unsure else reader.found


def with_parts(text: str, parts: Collection[TopPart], kept: Collection[TopPart]) -> str:
    """The drawing with some of its parts alone; the others can still be pointed to."""
    data, kept = text.encode(), set(kept)
    pieces: list[bytes] = []
    at = 0
    for part in sorted(parts, key=lambda one: one.first):
        if part not in kept:
            inner = data[part.first : part.stop]
            pieces += [data[at : part.first], _ASIDE[0], inner, _ASIDE[1]]
            at = part.stop
    return b"".join([*pieces, data[at:]]).decode()


class _PartsReader:
    """The handlers of one reading."""

    def __init__(self, data: bytes) -> None:
        self.found: list[TopPart] = []
        self.is_unsure = False
        self._data = data
        self._depth = 0
        self._first = 0
        self._is_group = False
        self._names: dict[str, str] = {}
        self._in_title = False

    def start(self, full: str, said: dict[str, str], at: int) -> None:
        space, _, name = full.rpartition(_SEPARATOR)
        is_svg = space in ("", SVG_SPACE)
        if self._depth == 1:
            self._first = at if is_svg and name in _DRAWS else -1
            self._is_group = name == "g"
            self._names = {key: said[key] for key in ("aria-label", "id") if key in said}
        self._in_title = self._depth == 2 and is_svg and name == "title"
        self._depth += 1

    def text(self, data: str) -> None:
        if self._in_title:
            self._names["title"] = self._names.get("title", "") + data

    def end(self, at: int) -> None:
        self._depth -= 1
        self._in_title = False
        if self._depth != 1 or self._first < 0:
            return
        tag = TAG.match(self._data, self._first)
        if tag is None:
            self.is_unsure = True
            return
        stop = tag.end()
        if not tag[0].endswith(b"/>"):
            stop = self._data.find(b">", at) + 1
            self.is_unsure |= self._data[at : at + 2] != b"</" or not stop
        names = tuple(
            self._names[key] for key in ("aria-label", "title", "id") if key in self._names
        )
        self.found.append(
            TopPart(names if self._is_group else (), self._is_group, self._first, stop)
        )
