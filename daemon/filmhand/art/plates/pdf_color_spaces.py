"""Color spaces of a PDF led to the gray of one plate (ISO 32000-1, 8.6).

Spaces of inks keep their components and get another function, from how much of the one ink there is
to gray; process colors become such a space, and what has none of the ink is white whatever it is.
"""

from __future__ import annotations

from enum import Enum
from typing import Any

from filmhand.art.plates.art_plates import PROCESS_INKS
from filmhand.values import dataclass

OTHER_COLORS = "\0"
"""In place of a name: the plate of what is drawn in colors of light, which are on no other."""
BLACK_PLATE = PROCESS_INKS[3]
_ALL = "All"
_MEAN_OF_THREE = "add add 3 div"
_DEEPEST = 8
_LIGHTS = ("/DeviceRGB", "/CalRGB", "/Lab")
_GRAYS = ("/DeviceGray", "/CalGray")


class SpaceKind(Enum):
    """What the components of a color space are."""

    GRAY = "gray"
    LIGHT = "light"
    PROCESS = "process"
    INKS = "inks"
    PATTERN = "pattern"


@dataclass(frozen=True, slots=True)
class ColorSpace:
    """A color space.

    Attributes
    ----------
    kind : what its components are
    inks : on which plates they are
    on_all : whether all that it paints is on every plate
    gray : the space that leads to the gray of the plate
    """

    kind: SpaceKind
    inks: tuple[str, ...]
    gray: Any
    on_all: bool = False


class PlateSpaces:
    """Makes the spaces of one plate.

    Parameters
    ----------
    library : pikepdf
    document : opened by it
    ink : the name of the plate
    """

    def __init__(self, library: Any, document: Any, ink: str) -> None:
        self._library = library
        self._document = document
        self._ink = ink
        self._known: dict[bytes, ColorSpace] = {}

    def of(self, space: Any) -> ColorSpace:
        """The space, told apart.

        Raises ValueError for one of a kind that the standard does not have, or that is nested
        without end.
        """
        key = space.unparse()
        if key not in self._known:
            self._known[key] = self._told_apart(space, 0)
        return self._known[key]

    def _told_apart(self, space: Any, depth: int) -> ColorSpace:
        family = str(space[0]) if isinstance(space, self._library.Array) else str(space)
        if depth > _DEEPEST:
            raise ValueError("color spaces within each other")
        of_device = {"/DeviceCMYK": self._process} | dict.fromkeys(_GRAYS, self._gray)
        if family in of_device:
            return of_device[family]()
        if family in _LIGHTS:
            return self._light(is_lab=family == "/Lab")
        if family == "/ICCBased":
            of_count = {1: self._gray, 3: self._light, 4: self._process}
            return of_count[int(space[1]["/N"])]()
        if family in ("/Separation", "/DeviceN"):
            names = [space[1]] if family == "/Separation" else space[1]
            return self._inks(space, tuple(str(name)[1:] for name in names))
        if family in ("/Indexed", "/Pattern"):
            return self._around(space, family, depth)
        raise ValueError(f"a color space {family}")

    def _gray(self) -> ColorSpace:
        name = self._library.Name.DeviceGray
        gray = name if self._ink == BLACK_PLATE else self._made((BLACK_PLATE,), None)
        return ColorSpace(SpaceKind.GRAY, (BLACK_PLATE,), gray)

    def _light(self, *, is_lab: bool = False) -> ColorSpace:
        program = "pop pop pop 1"
        if self._ink == OTHER_COLORS:
            program = "pop pop pop 0" if is_lab else _MEAN_OF_THREE
        return ColorSpace(SpaceKind.LIGHT, (OTHER_COLORS,), self._programmed(3, program))

    def _process(self) -> ColorSpace:
        return ColorSpace(SpaceKind.PROCESS, PROCESS_INKS, self._made(PROCESS_INKS, self._ink))

    def _inks(self, space: Any, names: tuple[str, ...]) -> ColorSpace:
        on_all = _ALL in names
        wanted = _ALL if on_all and self._ink != OTHER_COLORS else self._ink
        if names == ("None",):
            return ColorSpace(SpaceKind.INKS, (), space)  # paints nothing
        return ColorSpace(SpaceKind.INKS, names, self._made(names, wanted), on_all)

    def _around(self, space: Any, family: str, depth: int) -> ColorSpace:
        """A palette of another space, or the colors of patterns without colors."""
        library = self._library
        if not isinstance(space, library.Array) or len(space) < 2:
            return ColorSpace(SpaceKind.PATTERN, (), space, on_all=True)
        base = self._told_apart(space[1], depth + 1)
        gray = library.Array([space[0], base.gray, *list(space)[2:]])
        if family == "/Pattern":
            return ColorSpace(SpaceKind.PATTERN, base.inks, gray, on_all=True)
        return ColorSpace(base.kind, base.inks, gray, base.on_all)

    def _made(self, names: tuple[str, ...], ink: str | None) -> Any:
        """A space of such components that shows how much there is of one, or white."""
        count = len(names)
        program = "pop " * count
        if ink in names:
            place = count - 1 - names.index(ink)
            return self._programmed(count, f"{place} index 1 exch sub {count + 1} 1 roll {program}")
        return self._programmed(count, program + "1")

    def _programmed(self, count: int, program: str) -> Any:
        """A space of so many components, from 0 to 1, whose gray a program gives (7.10.5)."""
        library = self._library
        function = self._document.make_stream(
            f"{{ {program} }}".encode(), FunctionType=4, Domain=[0, 1] * count, Range=[0, 1]
        )
        # No renderer has inks of its own, but some take names that they know for process inks.
        own = library.Array([library.Name(f"/Ink{place}") for place in range(count)])
        return library.Array([library.Name.DeviceN, own, library.Name.DeviceGray, function])
