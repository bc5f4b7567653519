"""The part of the art that is kept: borders cut off by the sides, then to a proportion."""

from __future__ import annotations

from dataclasses import dataclass

from filmhand.errors import Quantity, Reason, Refused
from filmhand.profile.terms import Crop
from filmhand.units import MM_PER_INCH

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


def cut_sides(crop: Crop, *, inches: tuple[float, float] | None) -> CropWindow:
    """What is left after the sides of ``crop``.

    Parameters
    ----------
    inches : the art's own width and height, None where the file says none

    Raises
    ------
    Refused
        where a length is to be cut off art that has no size of its own, or nothing is left
    """
    sides = (crop.left, crop.top, crop.right, crop.bottom)
    if inches is None and any(side.mm for side in sides):
        raise Refused(
            Reason.TOO_SMALL,
            "A border in millimeters or inches is to be cut off this art, but the file does not "
            "say how many pixels it has to the inch.",
            "Save it again with its resolution set, or give the borders in percent in a ticket, "
            "such as art: {crop: {left: 10 %}}.",
            found=Quantity(None, "ppi"),
            needed=Quantity("its own resolution", "ppi"),
        )
    across, down = inches or (1.0, 1.0)
    shares = [
        side.share + side.mm / MM_PER_INCH / whole
        for side, whole in zip(sides, (across, down, across, down), strict=True)
    ]
    kept = CropWindow(shares[0], shares[1], 1 - shares[2], 1 - shares[3])
    if min(kept.right - kept.left, kept.bottom - kept.top) < _LEAST_SHARE:
        size = f"{across * MM_PER_INCH:.1f} x {down * MM_PER_INCH:.1f}"
        raise Refused(
            Reason.BLANK,
            f"The borders that art.crop cuts off leave nothing of this art, which is {size} mm "
            "at its own size.",
            "Cut off less, or give the borders in percent.",
            found=Quantity(size, "mm"),
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
