"""Lengths, durations, resolutions and sheet sizes as people write them.

Every reader takes what YAML gives and raises :class:`ValueError` with a phrase that completes
"must be …", so that one sentence can name the key, what was found and what is allowed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import field
from fractions import Fraction
from math import floor

from filmhand.language import Sentence
from filmhand.values import dataclass

MM_PER_INCH = 25.4
_LENGTH_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": Fraction(254, 10),
    "pt": Fraction(254, 720),
}
_SECONDS = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0}
_BYTES = {"KiB": 2**10, "MiB": 2**20, "GiB": 2**30, "kB": 10**3, "MB": 10**6, "GB": 10**9}
_SMALLEST_FRAME_MM = 150.0
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"

# ISO 216 (A sizes) and ASME Y14.1 (letter, tabloid); tabloid is 11 x 17 in.
SHEETS_MM: dict[str, tuple[Fraction, Fraction]] = {
    "letter": (Fraction(2159, 10), Fraction(2794, 10)),
    "tabloid": (Fraction(2794, 10), Fraction(4318, 10)),
    "a4": (Fraction(210), Fraction(297)),
    "a3": (Fraction(297), Fraction(420)),
}

# Self-describing media names of PWG 5101.1, sizes in 1/100 mm.
MEDIA_NAMES = {
    (21590, 27940): "na_letter_8.5x11in",
    (21590, 35560): "na_legal_8.5x14in",
    (27940, 43180): "na_ledger_11x17in",
    (33020, 48260): "na_super-b_13x19in",
    (21000, 29700): "iso_a4_210x297mm",
    (29700, 42000): "iso_a3_297x420mm",
    (42000, 59400): "iso_a2_420x594mm",
}


class AllowedMeasure(Sentence):
    """What a measure may be: each completes ``… must be …``."""

    LENGTH = "a length with its unit, such as 0.25 in or 6 mm"
    SMALL_LENGTH = "a length with its unit, such as 80 um or 0.15 mm"
    DURATION = "a duration with its unit, such as 2 s or 10 min"
    MEMORY = "an amount of memory with its unit, such as 2 GiB or 512 MiB"
    SHEET = "a size such as 8.5 x 11 in or 210 x 297 mm, or letter, tabloid, a4 or a3"
    SHEET_SIDE = "a size with each side from 10 mm to 2000 mm"
    FRAME = "off, or the inside of the frame from 150 mm a side, such as 16 x 20 in"
    RESOLUTION = "a whole number from 72 to 4800, or two such as 600 x 1200"


@dataclass(frozen=True, slots=True)
class PixelsPerInch:
    """Device pixels that an inch of the finished film holds across (x) and down (y)."""

    x: float
    y: float

    def pixel_um(self) -> tuple[float, float]:
        """Width and height of one device pixel in micrometers."""
        return 25400 / self.x, 25400 / self.y

    def __str__(self) -> str:
        return f"{self.x:g}" if self.x == self.y else f"{self.x:g} x {self.y:g}"


@dataclass(frozen=True, slots=True)
class Resolution(PixelsPerInch):
    """What a printer is told and a file carries: whole device pixels per inch."""

    x: int
    y: int

    def scaled(self, across: float, down: float) -> PixelsPerInch:
        """The pixels per inch where the printer makes each inch so many inches long.

        >>> Resolution(600, 600).scaled(1.0, 0.96)
        PixelsPerInch(x=600.0, y=625.0)
        >>> Resolution(600, 600).scaled(1.0, 1.0)
        Resolution(x=600, y=600)
        """
        if (across, down) == (1.0, 1.0):
            return self
        return PixelsPerInch(self.x / across, self.y / down)


def finest_lpi(dpi: PixelsPerInch) -> float:
    """The finest ruling that a printer can draw: a dot is no smaller than four pixels a side.

    >>> finest_lpi(Resolution(600, 1200)), finest_lpi(Resolution(600, 600).scaled(1.01, 1.0))
    (150.0, 148.51)
    """
    return floor(min(dpi.x, dpi.y) * 25) / 100


@dataclass(frozen=True, slots=True)
class SheetSize:
    """A sheet in whole hundredths of a millimeter, so that pixel counts are integer arithmetic.

    ``in_inches`` tells that it was written so, as people who measure in inches do.
    """

    width_mm100: int
    height_mm100: int
    in_inches: bool = field(default=False, compare=False, repr=False)

    def pixels(self, dpi: Resolution) -> tuple[int, int]:
        """Whole device pixels: floor(hundredths x dpi / 2540).

        >>> SheetSize(21590, 27940).pixels(Resolution(300, 300))
        (2550, 3300)
        >>> SheetSize(21000, 29700).pixels(Resolution(600, 600))
        (4960, 7015)
        """
        return self.width_mm100 * dpi.x // 2540, self.height_mm100 * dpi.y // 2540

    @property
    def media_name(self) -> str:
        """The self-describing name of PWG 5101.1, a custom one where it has none of its own.

        >>> SheetSize(21000, 29700).media_name, SheetSize(20000, 40050).media_name
        ('iso_a4_210x297mm', 'custom_200x400.5mm_200x400.5mm')
        """
        size = f"{self.width_mm100 / 100:g}x{self.height_mm100 / 100:g}mm"
        sides = (self.width_mm100, self.height_mm100)
        return MEDIA_NAMES.get(sides, f"custom_{size}_{size}")

    @property
    def mm(self) -> tuple[float, float]:
        """Width and height in millimeters."""
        return self.width_mm100 / 100, self.height_mm100 / 100


def matched(pattern: str, value: object, allowed: str) -> re.Match[str]:
    """The match of all of a text, blanks at its ends left out; ValueError with ``allowed``."""
    found = re.fullmatch(rf"\s*{pattern}\s*", value) if isinstance(value, str) else None
    if not found:
        raise ValueError(allowed)
    return found


def read_length_mm(value: object) -> float:
    """A length with its unit, in millimeters.

    >>> read_length_mm("0.25 in")
    6.35
    """
    found = matched(rf"{_NUMBER}\s*(mm|cm|in|pt)", value, AllowedMeasure.LENGTH.say())
    return float(Fraction(found[1]) * _LENGTH_MM[found[2]])


def read_length_um(value: object) -> float:
    """A small length in um or mm, in micrometers.

    >>> read_length_um("80 um"), read_length_um("0.15 mm")
    (80.0, 150.0)
    """
    found = matched(rf"{_NUMBER}\s*(um|µm|μm|mm)", value, AllowedMeasure.SMALL_LENGTH.say())
    return float(Fraction(found[1]) * (1000 if found[2] == "mm" else 1))


def read_seconds(value: object) -> float:
    """A duration with its unit, in seconds.

    >>> read_seconds("10 min")
    600.0
    """
    found = matched(rf"{_NUMBER}\s*(ms|s|min|h)", value, AllowedMeasure.DURATION.say())
    return float(found[1]) * _SECONDS[found[2]]


def read_bytes(value: object) -> int:
    """An amount of memory with its unit, in bytes.

    >>> read_bytes("2 GiB")
    2147483648
    """
    found = matched(rf"{_NUMBER}\s*({'|'.join(_BYTES)})", value, AllowedMeasure.MEMORY.say())
    return int(Fraction(found[1]) * _BYTES[found[2]])


def read_sheet(value: object) -> SheetSize:
    """A sheet by name or as width x height with a unit.

    >>> read_sheet("8.5 x 11 in")
    SheetSize(width_mm100=21590, height_mm100=27940)
    """
    allowed = AllowedMeasure.SHEET.say()
    if not isinstance(value, str):
        raise ValueError(allowed)
    word = value.strip().lower()
    if word in SHEETS_MM:
        width, height = SHEETS_MM[word]
        in_inches = not word.startswith("a")
    else:
        found = re.fullmatch(
            rf"{_NUMBER}\s*(mm|cm|in|pt)?\s*[x×]\s*{_NUMBER}\s*(mm|cm|in|pt)", word
        )
        if not found:
            raise ValueError(allowed)
        width = Fraction(found[1]) * _LENGTH_MM[found[2] or found[4]]
        height = Fraction(found[3]) * _LENGTH_MM[found[4]]
        in_inches = found[4] in {"in", "pt"}
    sheet = SheetSize(round(width * 100), round(height * 100), in_inches)
    if not all(1000 <= side <= 200_000 for side in (sheet.width_mm100, sheet.height_mm100)):
        raise ValueError(AllowedMeasure.SHEET_SIDE.say())
    return sheet


def read_frame(value: object) -> SheetSize | None:
    """``off`` (None), or the inside of a screen's frame, width x height with a unit.

    >>> read_frame("16 x 20 in")
    SheetSize(width_mm100=40640, height_mm100=50800)
    """
    if value == "off" or value is False:
        return None
    try:
        frame = read_sheet(value)
    except ValueError:
        frame = None
    if frame is None or min(frame.mm) < _SMALLEST_FRAME_MM:
        raise ValueError(AllowedMeasure.FRAME.say())
    return frame


def read_resolution(value: object) -> Resolution:
    """Device resolution: one whole number, or two as ``600 x 1200`` (across x down).

    >>> read_resolution("600 x 1200")
    Resolution(x=600, y=1200)
    """
    allowed = AllowedMeasure.RESOLUTION.say()
    if isinstance(value, int) and not isinstance(value, bool):
        pair = (value, value)
    else:
        found = matched(r"(\d+)(?:\s*[x×]\s*(\d+))?", value, allowed)
        pair = (int(found[1]), int(found[2] or found[1]))
    if not all(72 <= side <= 4800 for side in pair):
        raise ValueError(allowed)
    return Resolution(*pair)


Cut = Callable[[float], int]
"""How a figure is cut to the places that are shown: round, or floor and ceil for a limit."""


def length_text(mm: float, sheet: SheetSize, *, decimals: int = 0, cut: Cut = round) -> str:
    """A length in the unit that the sheet is written in, with the other in brackets.

    >>> from math import floor
    >>> length_text(121.3, SheetSize(21590, 27940, in_inches=True), cut=floor)
    '4.77 in (121 mm)'
    >>> length_text(121.3, SheetSize(21000, 29700))
    '121 mm (4.78 in)'
    """
    return _both((mm,), sheet, decimals, cut)


def size_text(mm: Sequence[float], sheet: SheetSize, *, decimals: int = 0, cut: Cut = round) -> str:
    """A width and a height, or a place, as :func:`length_text`.

    >>> size_text((215.9, 279.4), SheetSize(21590, 27940, in_inches=True), decimals=1)
    '8.5 x 11 in (215.9 x 279.4 mm)'
    """
    return _both(mm, sheet, decimals, cut)


def _both(mm: Sequence[float], sheet: SheetSize, decimals: int, cut: Cut) -> str:
    metric = " x ".join(_shown(side, decimals, cut) for side in mm) + " mm"
    # A hundredth of an inch is a quarter of a millimeter.
    inches = " x ".join(_shown(side / MM_PER_INCH, 2, cut) for side in mm) + " in"
    return f"{inches} ({metric})" if sheet.in_inches else f"{metric} ({inches})"


def _shown(value: float, decimals: int, cut: Cut) -> str:
    scale = 10**decimals
    return (
        f"{cut(round(value * scale, 6)) / scale:.{decimals}f}".rstrip("0").rstrip(".")
        if decimals
        else str(cut(round(value, 6)))
    )


def plain_length(mm: float, sheet: SheetSize, *, cut: Cut = round) -> str:
    """A length as people write it in a profile or a name, in the unit that the sheet is written in.

    >>> from math import floor
    >>> plain_length(121.3, SheetSize(21590, 27940, in_inches=True), cut=floor)
    '4.77 in'
    """
    if sheet.in_inches:
        return f"{_shown(mm / MM_PER_INCH, 2, cut)} in"
    return f"{_shown(mm, 0, cut)} mm"
