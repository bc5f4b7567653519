"""Reads the square code of a wedge in a picture."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, UInt8Array
from filmhand.reading.addition import calibrate_library
from filmhand.sheet.wedge_identity import NoIdentity, WedgeIdentity
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True, eq=False)
class SeenCode:
    """A wedge's code in a picture.

    Attributes
    ----------
    identity : what it says
    corners : (4, 2) float64, pixels; the first is that of its own top left, the others go round
    """

    identity: WedgeIdentity
    corners: Float64Array


def seen_code(dark: UInt8Array) -> SeenCode | None:
    """The first code of a wedge in a picture, whichever way it lies; None without one.

    Parameters
    ----------
    dark : (H, W) uint8, the code is darker than what it lies on, or lighter

    Raises
    ------
    NoIdentity
        where the only one is of a wedge that a newer filmhand made
    """
    library = calibrate_library("zxingcpp")
    newer: NoIdentity | None = None
    for code in library.read_barcodes(
        np.ascontiguousarray(dark), formats=library.BarcodeFormat.QRCode
    ):
        try:
            identity = WedgeIdentity.from_text(code.text)
        except NoIdentity as fault:
            newer = fault if fault.newer else newer
            continue
        place = code.position
        corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
        return SeenCode(identity, np.array([(one.x, one.y) for one in corners], np.float64))
    if newer is not None:
        raise newer
    return None
