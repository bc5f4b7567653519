"""Dot shapes: one row a shape, with all that belongs to it.

A new shape is a new row of :class:`Dot` and its row in the guide's page ``dots``; profile, ticket,
wishes in a name, trial, screen and the guide's picture take everything from here.

A spot function takes arrays x and y, each -1 .. +1 with the dot's center at the origin, and gives a
value that is highest where black starts. Only the order of the values counts. The formulas are
those of ISO 32000-1:2008, 10.5.3, table 128 (the same as ISO 32000-2:2020, 10.6.3, table 126).

This module is read wherever a profile is, so it imports no array library: a function is handed the
library's namespace (``xp``) when it is called.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from types import ModuleType
from typing import Any

from filmhand.values import dataclass

Value = Callable[[ModuleType, Any, Any], Any]


def _round(xp: ModuleType, x: Any, y: Any) -> Any:
    # The standard's CosineDot. Its Round joins at the same tone, but goes over from dots to shadow
    # dots with a kink, which costs a few tenths of a decibel of evenness.
    return (xp.cos(xp.pi * x) + xp.cos(xp.pi * y)) / 2


def _ellipse(ratio: float) -> Value:
    """The standard's ellipse, whose ratio of height by width is 3 to 4, at any ratio below 1."""

    def value(xp: ModuleType, x: Any, y: Any) -> Any:
        ax, ay = xp.abs(x), xp.abs(y)
        w = (ax + ay / ratio - 1) * ratio / (1 - ratio)
        dot = 1 - (ax**2 + (ay / ratio) ** 2) / 4
        shadow_dot = ((1 - ax) ** 2 + ((1 - ay) / ratio) ** 2) / 4 - 1
        return xp.where(w < 0, dot, xp.where(w > 1, shadow_dot, 0.5 - w))

    return value


def _diamond(xp: ModuleType, x: Any, y: Any) -> Any:
    ax, ay = xp.abs(x), xp.abs(y)
    s = ax + ay
    dot = 1 - (ax**2 + ay**2)
    side = 1 - (0.85 * ax + ay)
    shadow_dot = (ax - 1) ** 2 + (ay - 1) ** 2 - 1
    return xp.where(s <= 0.75, dot, xp.where(s <= 1.23, side, shadow_dot))


def _rhomboid(xp: ModuleType, x: Any, y: Any) -> Any:
    # The standard's Rhomboid the other way up, as its ink starts at the corners of the cell.
    return 0.95 - (0.9 * xp.abs(x) + xp.abs(y))


def _square(xp: ModuleType, x: Any, y: Any) -> Any:
    return -xp.maximum(xp.abs(x), xp.abs(y))


def _on_its_tip(xp: ModuleType, x: Any, y: Any) -> Any:
    return -(xp.abs(x) + xp.abs(y))


def _line(xp: ModuleType, x: Any, y: Any) -> Any:
    # Along a line every place is equal; the faint pull toward the middle keeps the pieces of a
    # dropped line whole instead of growing from one end.
    return -xp.abs(y) - 1e-6 * xp.abs(x)


@dataclass(frozen=True, slots=True)
class DotFunction:
    """The order in which the places of a cell turn black.

    Attributes
    ----------
    value : the spot function
    shadow_dot_center : (x, y) in cell widths from the dot's center, the last place to turn black
    joins : tones (0..1) at which neighboring dots meet along the first and the second axis; None
        where nobody has worked them out
    shadow_dot_value : the order in which shadow dots grow, with their center at the origin; None
        where it is that of the dots, backwards
    dot_center : (x, y) in cell widths, where the dot starts; the origin for all standard shapes
    """

    value: Value
    shadow_dot_center: tuple[float, float] = (0.5, 0.5)
    joins: tuple[float, float] | None = None
    shadow_dot_value: Value | None = None
    dot_center: tuple[float, float] = (0.0, 0.0)


def ellipse(ratio: float) -> DotFunction:
    """Ellipses of a ratio of height by width below 1; they join in two steps."""
    return DotFunction(_ellipse(ratio), joins=(ratio / 2, 1 - ratio / 2))


@dataclass(frozen=True, slots=True)
class DotRow:
    """All that belongs to one dot shape.

    Attributes
    ----------
    word : what a profile calls it
    meets : the guide's words for the tones at which neighbors meet
    use : the guide's words for what it is good for
    function : how it grows; None for scattered dots and for a function that the profile gives
    also : other words for it that are read
    with_ratio : makes the function of a ratio that may follow the word, where one may
    lines : its cells hang together as lines from the first tone on
    scattered : its dots lie on no lattice
    """

    word: str
    meets: str
    use: str
    function: DotFunction | None = None
    also: tuple[str, ...] = ()
    with_ratio: Callable[[float], DotFunction] | None = None
    lines: bool = False
    scattered: bool = False


class Dot(StrEnum):
    """Kind of the screen's dots; ``SPOT`` is a function that the profile gives."""

    row: DotRow

    def __new__(cls, row: DotRow) -> Dot:
        """A member that is its word and carries its row."""
        member = str.__new__(cls, row.word)
        member._value_ = row.word
        member.row = row
        return member

    ROUND = DotRow(
        "round",
        "50 %",
        "nearly everything: round dots in the lights, round shadow dots in the shadows",
        DotFunction(_round, joins=(0.5, 0.5)),
    )
    ELLIPSE = DotRow(
        "ellipse",
        "37.5 % and 62.5 %",
        "faces and soft ramps: dots join one way first, the other way later",
        ellipse(0.75),
        with_ratio=ellipse,
    )
    DIAMOND = DotRow(
        "diamond",
        "42.5 % and 57.5 %",
        "as ellipse, with less of a grain one way",
        DotFunction(_diamond, joins=(0.425, 0.575)),
    )
    # 0.9 |x| + |y| < 0.9 is 1.8 of the cell's 4 units of area, and < 1 is 2.2 within the cell.
    RHOMBOID = DotRow(
        "rhomboid",
        "45 % and 55 %",
        "as diamond with sharp corners: dots join in chains, almost at one tone",
        DotFunction(_rhomboid, joins=(0.45, 0.55)),
    )
    # Backwards, the square's shadows would be a net of hairlines that no stencil holds. Shadow dots
    # stand on their tips, as that is how they fit best between squares that have grown already.
    SQUARE = DotRow(
        "square",
        "a little over 50 %",
        "crisp and graphic; the jump in the middle shows",
        DotFunction(_square, joins=(0.5, 0.5), shadow_dot_value=_on_its_tip),
    )
    LINE = DotRow(
        "line",
        "from the start along the line",
        "a look of its own; the angle is that of the lines",
        DotFunction(_line, shadow_dot_center=(0.0, 0.5), joins=(0.0, 1.0)),
        lines=True,
    )
    GRAIN = DotRow(
        "grain",
        "no one tone",
        "mesh that shows moire at every angle, and ruled or woven subjects",
        also=("stochastic",),
        scattered=True,
    )
    SPOT = DotRow("spot", "where its function says", "a dot of your own, see below")

    @property
    def own(self) -> bool:
        """Whether the profile gives the function itself."""
        return self.row.function is None and not self.row.scattered

    @classmethod
    def words(cls) -> dict[str, Dot]:
        """Every word that names a shape by itself, other words for it included."""
        return {word: dot for dot in cls if not dot.own for word in (dot.row.word, *dot.row.also)}


@dataclass(frozen=True, slots=True)
class DotShape:
    """Shape of the screen's dots.

    Attributes
    ----------
    kind : its row
    ratio : height by width of the dots, for shapes that take one
    spot : the function's text where the profile gives its own, see :mod:`filmhand.expression`
    """

    kind: Dot
    ratio: float | None = None
    spot: str | None = None

    def __str__(self) -> str:
        more = self.spot if self.ratio is None else f"{self.ratio:g}"
        return str(self.kind) if more is None else f"{self.kind} {more}"
