"""A page of a PDF with the ink of one plate as gray, and all that has none of it as white.

So a renderer that knows no plates draws one. White knocks out what is below, as inks do, but for
what overprints (ISO 32000-1, 8.6.7): that is left out where it has none of the ink.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field, replace
from decimal import Decimal
from typing import Any

from filmhand.art.plates.art_plates import PROCESS_INKS
from filmhand.art.plates.pdf_color_spaces import (
    BLACK_PLATE,
    OTHER_COLORS,
    ColorSpace,
    PlateSpaces,
    SpaceKind,
)
from filmhand.values import dataclass

_DEEPEST = 12
_PLAIN = {"g": SpaceKind.GRAY, "rg": SpaceKind.LIGHT, "k": SpaceKind.PROCESS}
# Names that the spaces of the device get in the resources, once they are others.
_RENAMED = {"/DeviceGray": "/PlateGray", "/DeviceRGB": "/PlateRGB", "/DeviceCMYK": "/PlateCMYK"}
_DEFAULTS = ("/DefaultGray", "/DefaultRGB", "/DefaultCMYK")
_ORIGINAL = "/FilmhandOriginal"  # where a picture keeps its own space
# Operators of paths, and what stays of them without their fill, their stroke, and both.
_PATHS = {
    "f": ("n", "f", "n"),
    "F": ("n", "f", "n"),
    "f*": ("n", "f*", "n"),
    "S": ("S", "n", "n"),
    "s": ("s", "n", "n"),
    "B": ("S", "f", "n"),
    "B*": ("S", "f*", "n"),
    "b": ("s", "h f", "n"),
    "b*": ("s", "h f*", "n"),
}
_SHOWS = {"Tj", "TJ", "'", '"'}
# Modes of text that is filled, stroked or both, and what stays of them, as above (9.3.6).
_TEXTS = {0: (3, 0, 3), 1: (1, 3, 3), 2: (1, 0, 3)}

_Step = tuple[list[Any], str]


@dataclass(frozen=True, slots=True)
class _Paint:
    """The current color: its space, where it is known, and the inks that it has some of."""

    space: ColorSpace | None = None
    some: frozenset[str] = frozenset({BLACK_PLATE})

    def is_on(self, ink: str, *, only_some: bool) -> bool:
        """Whether the color touches a plate, where it overprints the others.

        only_some : whether process inks of which there is none leave their plates as they are
        """
        if self.space is not None and self.space.kind is SpaceKind.INKS:
            return self.space.on_all or ink in self.space.inks
        if self.space is not None and self.space.kind is SpaceKind.PATTERN:
            return True
        if only_some and self.space is not None and self.space.kind is SpaceKind.PROCESS:
            return ink in self.some
        # Gray and light are printed with all process inks.
        return ink in (*PROCESS_INKS, OTHER_COLORS)


@dataclass(slots=True)
class _State:
    """What of the graphics state decides what is left out."""

    fill: _Paint = field(default_factory=_Paint)
    stroke: _Paint = field(default_factory=_Paint)
    fill_over: bool = False
    stroke_over: bool = False
    only_some: bool = False
    text_mode: int = 0


class PageRecoloring:
    """Leads the colors of pages to the gray of one plate, in place.

    Parameters
    ----------
    library : pikepdf
    document : opened by it
    ink : the name of the plate

    Attributes
    ----------
    found : the names of the plates on pages that were gone through, as they were met; that of black
        for gray alone
    has_inks : whether any color was one of inks
    """

    def __init__(self, library: Any, document: Any, ink: str) -> None:
        self._library = library
        self._document = document
        self._ink = ink
        self._spaces = PlateSpaces(library, document, ink)
        self._done: set[tuple[int, int]] = set()
        self.found: dict[str, None] = {}
        self.has_inks = False

    def recolor(self, page: Any) -> None:
        """Change a page and all that it draws.

        Raises
        ------
        ValueError
            For colors that the standard does not have.
        """
        library = self._library
        resources = page.obj.get("/Resources")
        if resources is None:
            resources = page.obj["/Resources"] = library.Dictionary()
        page.obj["/Contents"] = self._document.make_stream(
            self._content(page, resources, _State(), 0, starts=True)
        )
        for note in page.obj.get("/Annots", library.Array()):
            look = note.get("/AP", library.Dictionary()).get("/N")
            if isinstance(look, library.Stream):
                self._form(look, resources, _State(), 0)

    def _content(
        self, holder: Any, resources: Any, state: _State, depth: int, *, starts: bool = False
    ) -> bytes:
        """A content stream rewritten; ``starts`` where it begins with the first color, black."""
        if depth > _DEEPEST:
            raise ValueError("forms within each other")
        library = self._library
        spaces = _part(library, resources, "/ColorSpace")
        for name in _DEFAULTS:
            if name in spaces:
                del spaces[name]
        steps = list(self._rewritten(holder, resources, state, depth))
        if starts and self._ink != BLACK_PLATE:
            steps = [([1], "g"), ([1], "G"), *steps]
        made: bytes = library.unparse_content_stream(
            [(operands, library.Operator(operator)) for operands, operator in steps]
        )
        return made

    def _rewritten(self, holder: Any, resources: Any, state: _State, depth: int) -> Iterator[_Step]:
        stack: list[_State] = []
        for instruction in self._library.parse_content_stream(holder):
            operands, operator = list(instruction.operands), str(instruction.operator)
            if operator == "INLINE IMAGE":
                operands, operator = [self._as_object(instruction.iimage, resources)], "Do"
            if operator == "q":
                stack.append(replace(state))
            elif operator == "Q" and stack:
                state = stack.pop()
            if operator.lower() in _PLAIN:
                yield self._plain_color(operands, operator, state)
            elif operator in ("cs", "CS"):
                yield from self._chosen_space(operands, operator, resources, state)
            elif operator in ("Do", "sh"):
                if self._is_kept(operands[0], operator, resources, state, depth):
                    yield operands, operator
            else:
                self._note(operands, operator, resources, state, depth)
                yield from self._painted(operands, operator, state)

    def _note(
        self, operands: list[Any], operator: str, resources: Any, state: _State, depth: int
    ) -> None:
        """Follow what changes the state, and change what it names."""
        if operator == "gs":
            self._graphics_state(_named(resources, "/ExtGState", operands[0]), state)
        elif operator == "Tr":
            state.text_mode = int(operands[0])
        elif operator == "Tf":
            self._font(_named(resources, "/Font", operands[0]), resources, depth)
        elif operator in ("sc", "SC", "scn", "SCN"):
            self._color(operands, operator, resources, state, depth)

    def _graphics_state(self, found: Any, state: _State) -> None:
        if found is None:
            return
        if "/OP" in found:
            state.stroke_over = state.fill_over = bool(found["/OP"])
        if "/op" in found:
            state.fill_over = bool(found["/op"])
        if "/OPM" in found:
            state.only_some = int(found["/OPM"]) == 1

    def _met(self, space: ColorSpace, some: frozenset[str]) -> None:
        """Note the plates that a color is on."""
        if space.kind in (SpaceKind.PROCESS, SpaceKind.INKS):
            self.has_inks = True
            names = [name for name in space.inks if name not in ("All", "None")]
        else:
            names = [name for name in space.inks if name in some]
        self.found.update(dict.fromkeys(names))

    def _plain_color(self, operands: list[Any], operator: str, state: _State) -> _Step:
        """A color of the device, as gray."""
        values = [float(value) for value in operands]
        kind = _PLAIN[operator.lower()]
        gray, some = 1.0, frozenset[str]()
        if kind is SpaceKind.GRAY:
            space = self._device("/DeviceGray")
            some = frozenset({BLACK_PLATE} if values[0] < 1 else ())
            gray = values[0] if self._ink == BLACK_PLATE else 1.0
        elif kind is SpaceKind.PROCESS:
            space = self._device("/DeviceCMYK")
            amounts = dict(zip(PROCESS_INKS, values, strict=True))
            some = frozenset(name for name, amount in amounts.items() if amount > 0)
            gray = 1 - amounts.get(self._ink, 0.0)
        else:
            space = self._device("/DeviceRGB")
            some = frozenset({OTHER_COLORS} if min(values) < 1 else ())
            gray = sum(values) / 3 if self._ink == OTHER_COLORS else 1.0
        self._met(space, some)
        self._put(_Paint(space, some), operator, state)
        return [Decimal(f"{min(max(gray, 0), 1):.6f}")], "g" if operator.islower() else "G"

    def _put(self, paint: _Paint, operator: str, state: _State) -> None:
        if operator.islower():
            state.fill = paint
        else:
            state.stroke = paint

    def _chosen_space(
        self, operands: list[Any], operator: str, resources: Any, state: _State
    ) -> Iterator[_Step]:
        """Choose a space, and the color that it begins with, which not all libraries know."""
        space, own = self._of_resources(str(operands[0]), resources)
        operands = [self._library.Name(own)]
        first = frozenset(
            {BLACK_PLATE} if space.kind in (SpaceKind.GRAY, SpaceKind.PROCESS) else ()
        )
        self._met(space, first)
        self._put(_Paint(space, first), operator, state)
        yield operands, operator
        if space.kind is SpaceKind.PROCESS:
            yield [0, 0, 0, 1], "scn" if operator.islower() else "SCN"
        elif space.kind is SpaceKind.INKS and space.gray[0] == "/DeviceN":
            yield [1] * len(space.inks), "scn" if operator.islower() else "SCN"

    def _color(
        self, operands: list[Any], operator: str, resources: Any, state: _State, depth: int
    ) -> None:
        """Note what a color of the space that was chosen is on."""
        library = self._library
        space = (state.fill if operator.islower() else state.stroke).space
        if operands and isinstance(operands[-1], library.Name):
            self._pattern(_named(resources, "/Pattern", operands[-1]), resources, depth)
            operands = operands[:-1]
        if space is None:
            space = self._device("/DeviceGray")
        some = frozenset(space.inks)
        if len(operands) == len(space.inks):
            least = 1.0 if space.kind in (SpaceKind.GRAY, SpaceKind.LIGHT) else 0.0
            some = frozenset(
                name
                for name, value in zip(space.inks, operands, strict=True)
                if float(value) != least
            )
        self._met(space, some)
        self._put(_Paint(space, some), operator, state)

    def _device(self, name: str) -> ColorSpace:
        return self._spaces.of(self._library.Name(name))

    def _of_resources(self, name: str, resources: Any) -> tuple[ColorSpace, str]:
        """A space by its name, and the name of its gray."""
        spaces = _part(self._library, resources, "/ColorSpace")
        if name in _RENAMED:
            space, own = self._device(name), _RENAMED[name]
        elif name == "/Pattern" or name not in spaces:
            return self._device("/Pattern"), name
        else:
            space, own = self._spaces.of(spaces[name]), name + "Plate"
        spaces[own] = space.gray
        return space, own

    def _replaced(self, holder: Any) -> ColorSpace:
        """The space that a picture or a shading has, and its gray put in its place."""
        if _ORIGINAL not in holder:
            holder[_ORIGINAL] = holder["/ColorSpace"]
        space = self._spaces.of(holder[_ORIGINAL])
        holder["/ColorSpace"] = space.gray
        self._met(space, frozenset(space.inks))
        return space

    def _left_out(self, paint: _Paint, over: bool, state: _State) -> bool:
        return over and not paint.is_on(self._ink, only_some=state.only_some)

    def _painted(self, operands: list[Any], operator: str, state: _State) -> Iterator[_Step]:
        """Paths and text, without what overprints and has none of the ink."""
        if operator in _PATHS or operator in _SHOWS:
            fills, strokes = operator not in ("S", "s"), operator[0] in "SsBb"
            first = (fills and state.fill.space is None) or (strokes and state.stroke.space is None)
            if first:  # which is black
                self.found[BLACK_PLATE] = None
        no_fill = self._left_out(state.fill, state.fill_over, state)
        no_stroke = self._left_out(state.stroke, state.stroke_over, state)
        if no_fill or no_stroke:
            way = 2 if no_fill and no_stroke else 0 if no_fill else 1
            if operator in _PATHS:
                for part in _PATHS[operator][way].split():
                    yield [], part
                return
            if operator in _SHOWS and state.text_mode in _TEXTS:
                yield [_TEXTS[state.text_mode][way]], "Tr"
                yield operands, operator
                yield [state.text_mode], "Tr"
                return
        yield operands, operator

    def _is_kept(self, name: Any, operator: str, resources: Any, state: _State, depth: int) -> bool:
        """Change a shading, picture or form that is drawn; False where it is left out."""
        kind = "/Shading" if operator == "sh" else "/XObject"
        found = _named(resources, kind, name)
        if found is None:
            return True
        if found.get("/Subtype") == "/Form":
            self._form(found, resources, state, depth)
            return True
        if found.get("/ImageMask", False):
            return not self._left_out(state.fill, state.fill_over, state)
        if "/ColorSpace" not in found:  # of JPEG 2000, which brings colors of its own
            found["/ColorSpace"] = self._library.Name.DeviceRGB
        return not self._left_out(_Paint(self._replaced(found)), state.fill_over, state)

    def _form(self, form: Any, resources: Any, state: _State, depth: int) -> None:
        """Change a form, which goes on with the state that it is drawn in."""
        if form.objgen in self._done:
            return
        self._done.add(form.objgen)
        own = form.get("/Resources", resources)
        form.write(self._content(form, own, replace(state), depth + 1))

    def _pattern(self, found: Any, resources: Any, depth: int) -> None:
        if found is None:
            return
        if "/Shading" in found:
            self._replaced(found["/Shading"])
        elif isinstance(found, self._library.Stream) and found.objgen not in self._done:
            self._done.add(found.objgen)
            own = found.get("/Resources", resources)
            # Those without colors of their own are painted in one that is given.
            colored = found.get("/PaintType") == 1
            found.write(self._content(found, own, _State(), depth + 1, starts=colored))

    def _font(self, found: Any, resources: Any, depth: int) -> None:
        """Change letters that are drawings."""
        if found is None or found.get("/Subtype") != "/Type3":
            return
        own = found.get("/Resources", resources)
        for letter in dict(found.get("/CharProcs", {})).values():
            if letter.objgen not in self._done:
                self._done.add(letter.objgen)
                letter.write(self._content(letter, own, _State(), depth + 1))

    def _as_object(self, picture: Any, resources: Any) -> Any:
        """The name of a picture that was part of the content, now an object of its own."""
        library = self._library
        described = {key: picture.obj[key] for key in picture.obj}
        made = self._document.make_stream(picture.read_raw_bytes(), described)
        made["/Type"], made["/Subtype"] = library.Name.XObject, library.Name.Image
        space = made.get("/ColorSpace")
        if isinstance(space, library.Name) and str(space) not in _RENAMED:
            spaces = _part(library, resources, "/ColorSpace")
            if str(space) in spaces:
                made["/ColorSpace"] = spaces[str(space)]
        objects = _part(library, resources, "/XObject")
        name = f"/PlatePicture{len(objects)}"
        objects[name] = made
        return library.Name(name)


def _named(resources: Any, kind: str, name: Any) -> Any:
    """What resources have by a name, None where they do not."""
    found = resources.get(kind)
    return None if found is None else found.get(str(name))


def _part(library: Any, resources: Any, kind: str) -> Any:
    """A part of resources, which is made where there is none."""
    if kind not in resources:
        resources[kind] = library.Dictionary()
    return resources[kind]
