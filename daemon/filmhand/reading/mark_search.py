"""Finds corner marks of a wedge in a picture: rings around discs, seen from anywhere."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi
from typing import Any

import numpy as np

from filmhand.arrays import UInt8Array
from filmhand.reading.addition import calibrate_library
from filmhand.sheet.wedge_places import CORE, RING_INSIDE
from filmhand.values import dataclass

# Of the picture's longer side: how far around a pixel the light is averaged that it is held
# against. A mark must be smaller, and the light about even over so much.
_WINDOWS = (1 / 5, 1 / 10, 1 / 25)
_DARKER = 8  # codes than that average, at the least
_SMALLEST_PX = 9.0
# Ink may run, and a soft picture rounds: how much the shares of a mark may differ from the drawn.
_INSIDE, _CORE = (0.55, 0.93), (0.3, 0.75)
_ELLIPSE = 0.14  # by what share the area of a mark may differ from an ellipse's
_OFF_CENTER = 0.08
_HOLE = 0.12  # of the disc's outline, at the least


@dataclass(frozen=True, slots=True)
class SeenMark:
    """A corner mark in a picture.

    Attributes
    ----------
    center : x and y, pixels; the middle of the top left pixel is 0, 0
    diameter : pixels, of the circle with the area of its ring
    holes : holes that were seen in its disc
    """

    center: tuple[float, float]
    diameter: float
    holes: int


def seen_marks(dark: UInt8Array) -> list[SeenMark]:
    """All that looks like a corner mark, each once, the most perfect first.

    Parameters
    ----------
    dark : (H, W) uint8, ink is darker than what it lies on
    """
    cv2 = calibrate_library("cv2")
    found: list[tuple[float, SeenMark]] = []
    for window in _WINDOWS:
        block = max(3, int(max(dark.shape) * window)) | 1
        binary = cv2.adaptiveThreshold(
            dark, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, block, _DARKER
        )
        for fault, mark in _rings(cv2, binary):
            near = [one for one in found if _same(one[1], mark)]
            if not near:
                found.append((fault, mark))
            elif fault < near[0][0]:
                found[found.index(near[0])] = (fault, mark)
    return [mark for _, mark in sorted(found, key=lambda one: one[0])]


def _same(one: SeenMark, other: SeenMark) -> bool:
    apart = np.hypot(one.center[0] - other.center[0], one.center[1] - other.center[1])
    return bool(apart < max(one.diameter, other.diameter) / 2)


def _rings(cv2: Any, binary: UInt8Array) -> Iterator[tuple[float, SeenMark]]:
    """Rings with a disc inside, and how far their shares are from those drawn."""
    contours, tree = cv2.findContours(binary, cv2.RETR_TREE, cv2.CHAIN_APPROX_NONE)
    if tree is None:
        return
    inner = tree[0][:, 2].tolist()
    beside = tree[0][:, 0].tolist()

    def within(place: int) -> list[int]:
        """What lies directly inside a contour, the largest first."""
        found, at = [], inner[place]
        while at >= 0:
            found.append(at)
            at = beside[at]
        return sorted(found, key=lambda one: -len(contours[one]))

    for place, ring in enumerate(contours):
        if len(ring) < pi * _SMALLEST_PX or inner[place] < 0:
            continue
        outer = _ellipse(cv2, ring)
        hole = within(place)[0]
        inside = _ellipse(cv2, contours[hole]) if outer else None
        discs = within(hole)
        core = _ellipse(cv2, contours[discs[0]]) if inside and discs else None
        if outer is None or inside is None or core is None:
            continue
        shares = inside[1] / outer[1], core[1] / outer[1]
        off = np.hypot(core[0][0] - outer[0][0], core[0][1] - outer[0][1]) / outer[1]
        if not (_fits(shares[0], _INSIDE) and _fits(shares[1], _CORE) and off < _OFF_CENTER):
            continue
        around = len(contours[discs[0]])
        holes = sum(len(contours[one]) > _HOLE * around for one in within(discs[0]))
        fault = abs(shares[0] - RING_INSIDE) + abs(shares[1] - CORE) + off
        yield float(fault), SeenMark(outer[0], outer[1], min(holes, 2))


def _fits(share: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] < share < bounds[1]


def _ellipse(cv2: Any, contour: Any) -> tuple[tuple[float, float], float] | None:
    """Center and diameter of the circle of the same area, of a contour that is an ellipse."""
    if len(contour) < 8:
        return None
    area = cv2.contourArea(contour)
    (x, y), axes, _ = cv2.fitEllipse(contour)
    fitted = pi / 4 * axes[0] * axes[1]
    # The contour runs through the middles of the outermost pixels, so it lacks half a pixel.
    if area <= 0 or not 1 - _ELLIPSE < area / max(fitted, 1e-9) < 1 + _ELLIPSE:
        return None
    if min(axes) < 0.3 * max(axes):
        return None
    return (float(x), float(y)), float(2 * np.sqrt(area / pi))
