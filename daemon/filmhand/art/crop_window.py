"""The part of the art that is kept: borders cut off by the sides, then to a proportion."""

from __future__ import annotations

from filmhand.art.art_words import CropRefusal, CropWord
from filmhand.errors import Quantity
from filmhand.profile.terms import Crop
from filmhand.units import MM_PER_INCH, SheetSize, size_text
from filmhand.values import dataclass

_LEAST_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class CropWindow:
    """What is kept of the art, as shares (0..1) of its width and height from the top left."""

    left: float = 0.0
    top: float = 0.0
    right: float = 1.0
    bottom: float = 1.0

    @property
    def is_whole(self) -> bool:
        """Whether nothing is cut off."""
        return self == CropWindow()

    def within(self, outer: CropWindow) -> CropWindow:
        """The same part of another window, as a part of what that is a part of."""
        width, height = outer.right - outer.left, outer.bottom - outer.top
        return CropWindow(
            outer.left + self.left * width,
            outer.top + self.top * height,
            outer.left + self.right * width,
            outer.top + self.bottom * height,
        )

    def pixels(self, width: int, height: int) -> tuple[int, int, int, int]:
        """Left, top, right and bottom in whole pixels of art of a size, at least one each way."""
        left, top = (
            min(round(share * side), side - 1)
            for share, side in ((self.left, width), (self.top, height))
        )
        right, bottom = round(self.right * width), round(self.bottom * height)
        return left, top, max(left + 1, right), max(top + 1, bottom)


WHOLE = CropWindow()


def cut_sides(crop: Crop, *, inches: tuple[float, float] | None, sheet: SheetSize) -> CropWindow:
    """What is left after the sides of ``crop``.

    Parameters
    ----------
    inches : the art's own width and height, None where the file says none
    sheet : in whose unit lengths are told

    Raises
    ------
    Refused
        where a length is to be cut off art that has no size of its own, or nothing is left
    """
    sides = (crop.left, crop.top, crop.right, crop.bottom)
    if inches is None and any(side.mm for side in sides):
        raise CropRefusal.NO_OWN_SIZE.refused(
            found=Quantity(None, "ppi"), needed=Quantity(CropWord.OWN_RESOLUTION.say(), "ppi")
        )
    across, down = inches or (1.0, 1.0)
    shares = [
        side.share + side.mm / MM_PER_INCH / whole
        for side, whole in zip(sides, (across, down, across, down), strict=True)
    ]
    kept = CropWindow(shares[0], shares[1], 1 - shares[2], 1 - shares[3])
    if min(kept.right - kept.left, kept.bottom - kept.top) < _LEAST_SHARE:
        mm = across * MM_PER_INCH, down * MM_PER_INCH
        raise CropRefusal.NOTHING_LEFT.refused(
            size=size_text(mm, sheet, decimals=1),
            found=Quantity(f"{mm[0]:.1f} x {mm[1]:.1f}", "mm"),
        )
    return kept


def cut_to_shape(shape: tuple[float, float], size: tuple[float, float]) -> CropWindow:
    """The largest middle part of a proportion (width, height) of art of a size."""
    wanted, has = shape[0] / shape[1], size[0] / size[1]
    if wanted < has:
        spare = (1 - wanted / has) / 2
        return CropWindow(left=spare, right=1 - spare)
    spare = (1 - has / wanted) / 2
    return CropWindow(top=spare, bottom=1 - spare)
