"""What a wedge's machine-readable code says: enough to lay the wedge out again.

The text is short, in the letters that a QR code packs most closely (ISO/IEC 18004, alphanumeric
mode). It is read back from pictures of unknown origin, so all of it is checked.
"""

from __future__ import annotations

import re
from enum import StrEnum

from filmhand.sheet.wedge_layout import LARGEST_MM, LAYOUT_VERSION
from filmhand.units import PixelsPerInch, Resolution
from filmhand.values import dataclass

_LONGEST = 160
_NAME_LETTERS = 16


class WedgeKind(StrEnum):
    """What a film is for; the letter stands in its code."""

    PRINT = "W"
    EXPOSURE = "E"


class NoIdentity(ValueError):
    """A text that no wedge of ours carries; ``newer`` where it is one of a later filmhand."""

    def __init__(self, *, newer: bool = False) -> None:
        super().__init__()
        self.newer = newer


@dataclass(frozen=True, slots=True)
class WedgeIdentity:
    """Which wedge this is.

    Attributes
    ----------
    kind : tones and sizes, or steps of exposure
    name : the profile's, in capitals, cut short, with what has no letter in a code as ``.``
    short_hash : the first eight figures of the profile file's SHA-256
    lpi, angle, dot : the screen as made, two decimals; None without one. Scattered dots have no
        angle
    dpi : device pixels per inch of the file
    scale_pct : ``print.scale`` that was taken off, percent across and down
    mesh : threads per cm and thread in micrometers, such as ``43-80``; None for none
    size_mm : width and height of the wedge, tenths of a millimeter
    mirror, negative : how the film was made; on a negative film all of the wedge is turned about
    """

    kind: WedgeKind
    name: str
    short_hash: str
    lpi: float | None
    angle: float | None
    dot: str | None
    dpi: Resolution
    scale_pct: tuple[float, float]
    mesh: str | None
    size_mm: tuple[float, float]
    mirror: bool = False
    negative: bool = False

    @property
    def acetate_dpi(self) -> PixelsPerInch:
        """Device pixels per inch of the printed film."""
        across, down = self.scale_pct
        return self.dpi.scaled(across / 100, down / 100)

    def text(self) -> str:
        """All of it, as the code holds it."""
        sides = "".join(
            letter for letter, set_ in (("M", self.mirror), ("N", self.negative)) if set_
        )
        return ":".join(
            (
                f"F{self.kind}{LAYOUT_VERSION}",
                self.name,
                self.short_hash.upper(),
                _number(self.lpi),
                _number(self.angle),
                self.dot or "-",
                f"{self.dpi.x}X{self.dpi.y}",
                f"{_number(self.scale_pct[0])}X{_number(self.scale_pct[1])}",
                self.mesh or "-",
                f"{round(self.size_mm[0] * 10)}X{round(self.size_mm[1] * 10)}",
                sides or "-",
            )
        )

    @classmethod
    def from_text(cls, text: str) -> WedgeIdentity:
        """What a code says.

        Raises
        ------
        NoIdentity
            where it is no wedge's code, or one of a later layout
        """
        if len(text) > _LONGEST:
            raise NoIdentity
        head = re.match(r"F[WE](\d{1,3}):", text, re.ASCII)
        if head and int(head[1]) > LAYOUT_VERSION:
            raise NoIdentity(newer=True)
        found = _PATTERN.fullmatch(text)
        if not found:
            raise NoIdentity
        part = found.groupdict()
        identity = cls(
            kind=WedgeKind(part["kind"]),
            name=part["name"],
            short_hash=part["hash"].lower(),
            lpi=_read_number(part["lpi"]),
            angle=_read_number(part["angle"]),
            dot=None if part["dot"] == "-" else part["dot"],
            dpi=Resolution(int(part["dpi_x"]), int(part["dpi_y"])),
            scale_pct=(float(part["scale_x"]), float(part["scale_y"])),
            mesh=None if part["mesh"] == "-" else part["mesh"],
            size_mm=(int(part["width"]) / 10, int(part["height"]) / 10),
            mirror="M" in part["sides"],
            negative="N" in part["sides"],
        )
        if not identity._is_possible():
            raise NoIdentity
        return identity

    def _is_possible(self) -> bool:
        """Whether a profile could have given such numbers."""
        return (
            (self.lpi is None or 1 <= self.lpi <= 250)
            and (self.angle is None or 0 <= self.angle <= 360)
            and all(72 <= side <= 4800 for side in (self.dpi.x, self.dpi.y))
            and all(50 <= side <= 200 for side in self.scale_pct)
            and all(5 <= side <= max(LARGEST_MM) for side in self.size_mm)
        )


def code_name(name: str) -> str:
    """A profile's name in the letters of a code, cut short.

    >>> code_name("small-sheet"), code_name("Ñandú 2_long one indeed")
    ('SMALL-SHEET', '.AND. 2.LONG ONE')
    """
    return re.sub(r"[^A-Z0-9 .-]", ".", name.upper(), flags=re.ASCII)[:_NAME_LETTERS] or "."


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:.3f}".rstrip("0").rstrip(".")


def _read_number(text: str) -> float | None:
    return None if text == "-" else float(text)


_NUMBER = r"\d{1,4}(?:\.\d{1,3})?"
_PATTERN = re.compile(
    rf"F(?P<kind>[WE]){LAYOUT_VERSION}"
    rf":(?P<name>[A-Z0-9 .-]{{1,{_NAME_LETTERS}}}):(?P<hash>[0-9A-F]{{8}})"
    rf":(?P<lpi>{_NUMBER}|-):(?P<angle>{_NUMBER}|-):(?P<dot>[A-Z0-9 .-]{{1,{_NAME_LETTERS}}})"
    rf":(?P<dpi_x>\d{{2,4}})X(?P<dpi_y>\d{{2,4}}):(?P<scale_x>{_NUMBER})X(?P<scale_y>{_NUMBER})"
    rf":(?P<mesh>{_NUMBER}-{_NUMBER}|-):(?P<width>\d{{1,4}})X(?P<height>\d{{1,4}})"
    r":(?P<sides>M?N?|-)",
    re.ASCII,
)
