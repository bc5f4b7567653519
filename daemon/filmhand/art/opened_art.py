"""Art as every later step sees it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field

from filmhand.arrays import UInt8Array, UInt16Array
from filmhand.values import dataclass


@dataclass(slots=True)
class DrawnColors:
    """Art in color on nothing, drawn while its strips are asked for, and once.

    shape : rows and columns
    ppi, format, notes : as of :class:`Art`
    strips : from top to bottom, (h, W, 4) uint8 R, G, B and opacity; colors are sRGB, and not
        weakened by the opacity
    """

    shape: tuple[int, int]
    ppi: tuple[float, float] | None
    format: str
    notes: list[str]
    strips: Iterable[UInt8Array]


@dataclass(slots=True)
class Art:
    """Art as every later step sees it: upright, gray, on white.

    coded : (H, W) uint16, C-contiguous: the sRGB code (0 black, 65535 white) of each pixel's
        relative luminance, color-managed and laid over white; 8-bit gray g is exactly 257 g.
    ppi : own resolution across and down, None where the file gives none worth believing.
    format : what the content is ("JPEG" …), whatever the name says.
    drawn : True for computer-drawn art with exact flats, False for scans and photographs.
    notes : plain sentences: what was decided, assumed or left out.
    ground : CIELAB a* and b* of its lighter half, None for gray art or where it is not known.
    screenless : True where ``coded``, as it is, was looked through for dots of an earlier screen
        and has none.
    luma_steps : of a JPEG, the 64 steps of its table for lightness row by row, turned with the art
        (ITU-T T.81, A.3.4); None for everything else.
    """

    coded: UInt16Array
    ppi: tuple[float, float] | None
    format: str
    drawn: bool
    notes: list[str] = field(default_factory=list)
    luma_steps: tuple[int, ...] | None = None
    ground: tuple[float, float] | None = None
    screenless: bool = False

    def change(self, coded: UInt16Array) -> None:
        """Put another picture, (H, W) uint16, in the place of the art's, not yet looked through."""
        self.coded = coded
        self.screenless = False

    @property
    def width_px(self) -> int:
        """Columns."""
        return int(self.coded.shape[1])

    @property
    def height_px(self) -> int:
        """Rows."""
        return int(self.coded.shape[0])
