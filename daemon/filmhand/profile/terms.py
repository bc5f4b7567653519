"""The words and small values that a profile is made of."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from filmhand.values import dataclass


class Treat(StrEnum):
    """Whether art is screened, cut at a threshold, both part by part, or judged for itself."""

    TONE = "tone"
    LINE = "line"
    MIXED = "mixed"
    AUTO = "auto"


class Place(StrEnum):
    """Where on the sheet the art lies."""

    CENTER = "center"
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


class Automatic(StrEnum):
    """Whether something is done where the art needs it."""

    AUTO = "auto"
    OFF = "off"


class Aim(StrEnum):
    """What the print shall be: inked as the art's tones say, or as light as the art."""

    TONE = "tone"
    LUMINANCE = "luminance"


class OnScreened(StrEnum):
    """What is done with art that was screened before."""

    DESCREEN = "descreen"
    REFUSE = "refuse"
    OFF = "off"


class OnMoire(StrEnum):
    """What visible moire does."""

    WARN = "warn"
    REFUSE = "refuse"


@dataclass(frozen=True, slots=True)
class FailWarn:
    """Where a check fails and where it warns, in the check's unit."""

    fail: float
    warn: float


@dataclass(frozen=True, slots=True)
class MoireLimits:
    """How visible bands may be before they warn and fail, 0 to 1, seen from how far in mm."""

    warn: float = 0.02
    fail: float = 0.1
    distance_mm: float = 1000.0


@dataclass(frozen=True, slots=True)
class Margin:
    """What the printer cannot reach, in millimeters from each edge."""

    top: float
    right: float
    bottom: float
    left: float

    @property
    def mm100(self) -> tuple[int, int, int, int]:
        """Top, right, bottom and left in whole hundredths of a millimeter, as printers count."""
        edges = (self.top, self.right, self.bottom, self.left)
        top, right, bottom, left = (round(edge * 100) for edge in edges)
        return top, right, bottom, left


@dataclass(frozen=True, slots=True)
class Fit:
    """How large the art prints.

    ``mm`` is the asked width or height, for ``inside`` the width that it must not exceed with
    ``height_mm`` as its height; else they are None.
    """

    kind: Literal["page", "width", "height", "inside", "own"]
    mm: float | None = None
    height_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Side:
    """What is cut off one side of the art: a share (0..1) of it, or ``mm`` at its own size."""

    share: float = 0.0
    mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Crop:
    """What is cut off the four sides, and then to which (width, height) proportion."""

    left: Side = Side()
    top: Side = Side()
    right: Side = Side()
    bottom: Side = Side()
    to: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Repeat:
    """How often one art lies on a sheet, across and down; None for as often as fits."""

    columns: int | None = None
    rows: int | None = None


@dataclass(frozen=True, slots=True)
class HeldSizes:
    """The smallest sizes that a print was seen to hold, in micrometers; None where not seen."""

    dot: float | None = None
    shadow_dot: float | None = None
    stroke: float | None = None
    gap: float | None = None


@dataclass(frozen=True, slots=True)
class CurveHead:
    """What a curve file tells of itself in the comments at its head; empty where it does not.

    ``date`` is when it was read, ``profile``, ``mesh``, ``screen`` and ``dpi`` what the wedge was
    made by, ``ink`` and ``who`` what people wrote, ``scans`` the files that were read.
    """

    date: str = ""
    profile: str = ""
    mesh: str = ""
    screen: str = ""
    dpi: str = ""
    ink: str = ""
    who: str = ""
    scans: str = ""
    held: HeldSizes = HeldSizes()


@dataclass(frozen=True, slots=True)
class GainCurve:
    """A measured press curve: pairs of film tone and print tone in percent.

    Film tones rise strictly from 0 to 100, print tones never fall; the ends are (0, 0) and
    (100, 100). ``name`` is the file it came from, or ``inline``; ``sha256`` that of its text.
    """

    points: tuple[tuple[float, float], ...]
    name: str = "inline"
    sha256: str = ""
    head: CurveHead = CurveHead()
