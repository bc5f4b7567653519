"""What an SVG drawing says before anything draws it: its size, and what it points to.

A streaming look with the standard library's XML reader (expat), which opens no other file and
stops entities that swell. The renderer would open files of this computer that a drawing names
as pictures, so drawings that do are refused here and never reach it.
"""

from __future__ import annotations

import base64
import binascii
import codecs
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import field
from urllib.parse import unquote_to_bytes
from xml.parsers import expat

from filmhand.art.crop_window import CropWindow
from filmhand.values import dataclass

SVG_SPACE = "http://www.w3.org/2000/svg"
_MOST_ELEMENTS = 2_000_000
_MOST_COPIES = 5_000_000
_DEEPEST = 200
_MOST_NESTED = 2
_SEPARATOR = " "
# Units of CSS 2.1 (4.3.2) in inches; a pixel is 1/96 in.
_UNITS = {
    "": 1 / 96,
    "px": 1 / 96,
    "in": 1.0,
    "mm": 1 / 25.4,
    "cm": 1 / 2.54,
    "pt": 1 / 72,
    "pc": 1 / 6,
    "q": 1 / 101.6,
}
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*(px|in|mm|cm|pt|pc|q|)\s*\Z", re.IGNORECASE)
_FAMILY = re.compile(r"font-family\s*:\s*([^;}!]+)", re.IGNORECASE)
_SHORTHAND = re.compile(
    r"(?<![\w-])font\s*:[^;}]*?[\d.]+\s*(?:px|pt|em|rem|mm|cm|in|pc|%)(?:\s*/\s*[^\s;}]+)?\s+([^;}!]+)",
    re.IGNORECASE,
)
# Those in quotes do not count.
TAG = re.compile(rb"(<[^\s/>\"']+)((?:[^\"'>]|\"[^\"]*\"|'[^']*')*>)")
"""The name of a tag, and the rest up to the bracket that closes it."""
# Elements whose href the renderer would open; elsewhere (links, scripts) it does not look.
_FETCHERS = frozenset({"image", "use", "feImage", "pattern", "linearGradient", "radialGradient"})
_PAINT_LAYERS = frozenset({"filter", "mask", "clipPath", "pattern"})
_MOVING = frozenset({"animate", "animateMotion", "animateTransform", "set"})
_TEXTS = frozenset({"text", "tspan", "textPath", "tref"})


class BrokenSvg(Exception):
    """The drawing is not well-formed, or says something about itself that cannot be."""


class SwollenSvg(Exception):
    """The drawing unfolds to more than anybody could have drawn."""


@dataclass(slots=True)
class SvgScan:
    """What a drawing says of itself.

    inches : width and height, None where it does not say
    root_at : the byte of the UTF-8 text at which the root element begins
    has_view_box : whether the root says which part of the plane it shows
    outside : what it points to in other files, as far as that would be drawn
    families : the values of font-family that its text may use
    has_text : whether there is text
    layers : elements that the renderer needs whole extra pictures for
    """

    inches: tuple[float, float] | None = None
    root_at: int = 0
    has_view_box: bool = False
    outside: list[str] = field(default_factory=list)
    families: set[str] = field(default_factory=set)
    has_text: bool = False
    pictures: int = 0
    layers: int = 0
    scripts: bool = False
    foreign: bool = False
    moving: bool = False


def scan_svg(text: str, *, nested: int = 0) -> SvgScan:
    """Reads the whole drawing once, and remembers little of it.

    Raises
    ------
    Broken
        It is not well-formed XML, or its root is not an SVG element.
    Swollen
        It has, or unfolds to, absurdly many elements.
    """
    reader = _Reader(nested)
    parser = expat.ParserCreate("utf-8", _SEPARATOR)  # whatever the text declares
    parser.buffer_text = True
    parser.StartElementHandler = reader.start
    reader.position = lambda: parser.CurrentByteIndex
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.text
    try:
        parser.Parse(text.encode(), True)
    except expat.ExpatError as fault:
        if "amplification" in str(fault):
            raise SwollenSvg from fault
        raise BrokenSvg(str(fault)) from fault
    # Lone surrogates cannot be encoded.
    except ValueError as fault:
        raise BrokenSvg(str(fault)) from fault
    reader.check_copies()
    return reader.found


def text_of(data: bytes) -> str:
    """The drawing as text, by its byte order mark or the encoding that it declares."""
    if data.startswith(codecs.BOM_UTF8):
        return data.decode("utf-8-sig")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16")
    declared = re.match(rb"\s*<\?xml[^>]*encoding=[\"']([\w.:-]+)[\"']", data[:300])
    try:
        return data.decode(declared[1].decode("ascii") if declared else "utf-8")
    except (LookupError, UnicodeDecodeError) as fault:
        raise BrokenSvg(str(fault)) from fault


def windowed(text: str, found: SvgScan, size: tuple[int, int], part: CropWindow) -> str:
    """A drawing of so many whole pixels that shows only a part of the drawing.

    The drawing is put into another whose view is that part.
    """
    across, down = part.right - part.left, part.bottom - part.top
    whole = size[0] / across, size[1] / down
    data = resized(text, found, whole).encode()
    view = f"{part.left * whole[0]:.6f} {part.top * whole[1]:.6f} {size[0]} {size[1]}"
    outer = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}" height="{size[1]}" '
        f'viewBox="{view}" preserveAspectRatio="none">'
    )
    before, inner = data[: found.root_at], data[found.root_at :]
    return (before + outer.encode() + inner + b"</svg>").decode()


def resized(text: str, found: SvgScan, size: tuple[float, float]) -> str:
    """The drawing with a root of so many whole pixels.

    The renderer rounds the size that a drawing says it has to whole pixels of 1/96 inch, and
    would so draw small drawings up to a percent too small.
    """
    data = text.encode()
    root = TAG.match(data, found.root_at)
    if root is None or found.inches is None:
        raise BrokenSvg("its root is not svg")
    name, rest = (part.decode() for part in root.groups())
    rest = re.sub(r"\s(?:width|height)\s*=\s*(?:\"[^\"]*\"|'[^']*')", "", rest)
    said = f' width="{size[0]:.10g}" height="{size[1]:.10g}"'
    if not found.has_view_box:
        across, down = (side * 96 for side in found.inches)
        said += f' viewBox="0 0 {across:.6f} {down:.6f}" preserveAspectRatio="none"'
        rest = re.sub(r"\spreserveAspectRatio\s*=\s*(?:\"[^\"]*\"|'[^']*')", "", rest)
    tag = (name + said + rest).encode()
    return (data[: found.root_at] + tag + data[root.end() :]).decode()


class _Reader:
    """The handlers of one reading, with the little that must be remembered."""

    def __init__(self, nested: int) -> None:
        self.found = SvgScan()
        self.position: Callable[[], int] = lambda: 0
        self._nested = nested
        self._elements = 0
        self._names: list[str] = []
        # For each open element: its id, elements within, and what it copies by "use".
        self._open: list[tuple[str, int, Counter[str]]] = []
        self._kept: dict[str, tuple[int, Counter[str]]] = {}
        self._whole: tuple[int, Counter[str]] = (0, Counter())

    def start(self, full: str, attributes: dict[str, str]) -> None:
        space, _, name = full.rpartition(_SEPARATOR)
        self._elements += 1
        if self._elements > _MOST_ELEMENTS or len(self._names) >= _DEEPEST:
            raise SwollenSvg
        if not self._names:
            if name != "svg" or space not in ("", SVG_SPACE):
                raise BrokenSvg("its root is not svg")
            self.found.inches = _size(attributes)
            self.found.has_view_box = "viewBox" in attributes
            self.found.root_at = self.position()
        plain = {key.rpartition(_SEPARATOR)[2]: value for key, value in attributes.items()}
        self._names.append(name)
        self._open.append((plain.get("id", ""), 1, Counter()))
        self._look(name, plain)

    def _look(self, name: str, attributes: dict[str, str]) -> None:
        found = self.found
        found.has_text |= name in _TEXTS
        found.scripts |= name == "script" or any(key.startswith("on") for key in attributes)
        found.foreign |= name == "foreignObject"
        found.moving |= name in _MOVING
        found.layers += name in _PAINT_LAYERS or "opacity" in attributes
        found.pictures += name in ("image", "feImage")
        if "font-family" in attributes:
            found.families.add(attributes["font-family"])
        for key in ("style", "font"):
            self._styles(("font:" if key == "font" else "") + attributes.get(key, ""))
        if name in _FETCHERS or name.startswith("fe"):
            self._points_to(name, attributes.get("href", "").strip())

    def _points_to(self, name: str, target: str) -> None:
        if target.startswith("#"):
            if name == "use":
                self._open[-1][2][target[1:]] += 1
            return
        if not target:
            return
        if not target[:5].lower().startswith("data:"):
            self.found.outside.append(target)
            return
        kind, _, content = target[5:].partition(",")
        if "svg" not in kind.lower() and "<svg" not in target[:4000]:
            return
        if self._nested >= _MOST_NESTED:
            raise SwollenSvg
        inner = scan_svg(text_of(_unpacked(kind, content)), nested=self._nested + 1)
        self.found.outside += inner.outside
        self.found.families |= inner.families
        self.found.has_text |= inner.has_text
        self.found.layers += inner.layers

    def text(self, data: str) -> None:
        if self._names and self._names[-1] == "style":
            self._styles(data)

    def _styles(self, css: str) -> None:
        for pattern in (_FAMILY, _SHORTHAND):
            self.found.families.update(match.strip() for match in pattern.findall(css))
        self.found.layers += "opacity" in css or "filter" in css or "blend" in css

    def end(self, _: str) -> None:
        self._names.pop()
        own, count, copies = self._open.pop()
        if own:
            self._kept.setdefault(own, (count, copies))
        if not self._open:
            self._whole = count, copies
            return
        outer, more, others = self._open[-1]
        if len(others) < len(copies) and not own:
            others, copies = copies, others
        others.update(copies)
        self._open[-1] = outer, more + count, others

    def check_copies(self) -> None:
        """Raises Swollen where copies of copies unfold to more elements than a drawing has."""
        known: dict[str, int] = {}

        def unfolded(count: int, copies: Counter[str], depth: int) -> int:
            if depth > _DEEPEST:
                raise SwollenSvg
            total = count
            for target, times in copies.items():
                if target not in known:
                    known[target] = 0  # a ring of copies; the renderer leaves those out
                    if target in self._kept:
                        known[target] = unfolded(*self._kept[target], depth + 1)
                total += times * known[target]
                if total > _MOST_COPIES:
                    raise SwollenSvg
            return total

        unfolded(*self._whole, 0)


def _unpacked(kind: str, content: str) -> bytes:
    try:
        if kind.lower().rstrip().endswith("base64"):
            return base64.b64decode(unquote_to_bytes(content), validate=False)
    except (binascii.Error, ValueError) as fault:
        raise BrokenSvg(str(fault)) from fault
    return unquote_to_bytes(content)


def _size(attributes: dict[str, str]) -> tuple[float, float] | None:
    """Width and height in inches; what is missing or relative follows from viewBox."""
    width, height = (_inches(attributes.get(key, "")) for key in ("width", "height"))
    numbers = re.findall(_NUMBER, attributes.get("viewBox", ""))
    box = [float(number) for number in numbers] if len(numbers) == 4 else None
    if box is not None and not (box[2] > 0 and box[3] > 0):
        raise BrokenSvg("its viewBox has no size")
    if width is not None and height is not None:
        return width, height
    if box is None:
        return None
    if width is not None:
        return width, width * box[3] / box[2]
    if height is not None:
        return height * box[2] / box[3], height
    return box[2] / 96, box[3] / 96


def _inches(value: str) -> float | None:
    match = _LENGTH.match(value)
    return float(match[1]) * _UNITS[match[2].lower()] if match else None
