"""Which inks of a profile go by press curves of their own, and which by none at all."""

from __future__ import annotations

from filmhand.profile.inks import ink_folders
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import curve_of_ink
from filmhand.profile.terms import GainCurve
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class InkCurves:
    """The inks that may have readings of their own, by what their folders are called.

    Attributes
    ----------
    read : each ink with a reading, and its curve
    lacking : where others have one, those whose films are made for a press that adds nothing,
        since neither they nor the profile were read
    """

    read: tuple[tuple[str, GainCurve], ...]
    lacking: tuple[str, ...]

    @classmethod
    def of(cls, profile: Profile) -> InkCurves:
        """Those of a profile; none where its ``tone.gain`` asks for no readings."""
        found = {
            ink: curve_of_ink(profile.curves, ink)
            for ink in ink_folders(profile.inks, profile.underbase)
        }
        read = tuple((ink, curve) for ink, curve in found.items() if curve is not None)
        waits = bool(read) and profile.waits_for_reading
        return cls(read, tuple(ink for ink in found if found[ink] is None) if waits else ())
