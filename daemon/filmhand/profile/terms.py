"""The words and small values that a profile is made of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class Dot(StrEnum):
    """Kind of the screen's dots; ``spot`` is a function that the profile gives."""

    ROUND = "round"
    ELLIPSE = "ellipse"
    DIAMOND = "diamond"
    SQUARE = "square"
    LINE = "line"
    GRAIN = "grain"
    SPOT = "spot"


@dataclass(frozen=True, slots=True)
class DotShape:
    """Shape of the screen's dots.

    Attributes
    ----------
    kind : its word
    ratio : for ``ellipse``: height by width of the dots
    spot : for ``spot``: the function, see :mod:`filmhand.expression`
    """

    kind: Dot
    ratio: float | None = None
    spot: str | None = None

    def __str__(self) -> str:
        more = self.spot if self.ratio is None else f"{self.ratio:g}"
        return str(self.kind) if more is None else f"{self.kind} {more}"


class Treat(StrEnum):
    """Whether art is screened, cut at a threshold, both part by part, or judged for itself."""

    TONE = "tone"
    LINE = "line"
    MIXED = "mixed"
    AUTO = "auto"


class Place(StrEnum):
    """Where on the sheet the art lies."""

    CENTRE = "centre"
    TOP = "top"
    BOTTOM = "bottom"
    LEFT = "left"
    RIGHT = "right"
    TOP_LEFT = "top-left"
    TOP_RIGHT = "top-right"
    BOTTOM_LEFT = "bottom-left"
    BOTTOM_RIGHT = "bottom-right"


class Channel(StrEnum):
    """What of the art becomes tone."""

    LUMINANCE = "luminance"
    LIGHTNESS = "lightness"
    ALPHA = "alpha"
    RED = "red"
    GREEN = "green"
    BLUE = "blue"
    CYAN = "cyan"
    MAGENTA = "magenta"
    YELLOW = "yellow"
    BLACK = "black"


class Turn(StrEnum):
    """Whether art may be turned a quarter to print larger."""

    AUTO = "auto"
    NEVER = "never"


class Detail(StrEnum):
    """Whether line work inside a picture keeps its edges."""

    AUTO = "auto"
    OFF = "off"


class OnBeat(StrEnum):
    """What a visible beat with the mesh does."""

    WARN = "warn"
    REFUSE = "refuse"


@dataclass(frozen=True, slots=True)
class Margin:
    """What the printer cannot reach, in millimetres from each edge."""

    top: float
    right: float
    bottom: float
    left: float


@dataclass(frozen=True, slots=True)
class Fit:
    """How large the art prints; ``mm`` is the asked width or height, else None."""

    kind: Literal["page", "width", "height", "own"]
    mm: float | None = None


@dataclass(frozen=True, slots=True)
class GainCurve:
    """A measured press curve: pairs of film tone and print tone in percent.

    Film tones rise strictly from 0 to 100, print tones never fall; the ends are (0, 0) and
    (100, 100). ``name`` is the file it came from, or ``inline``.
    """

    points: tuple[tuple[float, float], ...]
    name: str = "inline"
