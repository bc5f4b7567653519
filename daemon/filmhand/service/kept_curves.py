"""The press curves that a profile's folder keeps, and how they drifted."""

from __future__ import annotations

import contextlib
from dataclasses import asdict

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.profile.inks import ink_folders
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import (
    CURVES,
    LARGEST_CURVE,
    CurveError,
    curve_from_text,
    curve_text,
    is_of_reading,
    print_of_half,
)
from filmhand.profile.terms import GainCurve
from filmhand.service.service_words import ServiceWord
from filmhand.values import dataclass

_MOST = 1000  # the newest that are told of


@dataclass(frozen=True, slots=True)
class KeptCurve:
    """One curve of a folder.

    Attributes
    ----------
    name : its file below the profile's folder
    curve : what it says; None where it cannot be read
    fault : why not
    in_force : whether films of the profile are made by it
    """

    name: str
    curve: GainCurve | None
    fault: str = ""
    in_force: bool = False

    @property
    def ink(self) -> str:
        """The folder of the ink whose press it is of; empty for the profile's own."""
        return self.name.removeprefix(f"{CURVES}/").rpartition("/")[0]


def kept_curves(folders: Folders, profile: Profile) -> list[KeptCurve]:
    """All curves of a profile's folder, the oldest first, those of its inks after its own.

    None where nothing was read yet.

    OSError where the folder cannot be read.
    """
    gain = profile.tone.gain
    used = {name for name, _ in profile.curves} | {gain.name if isinstance(gain, GainCurve) else ""}
    kept = []
    for ink in ("", *ink_folders(profile.inks, profile.underbase)):
        place = folders.curves / ink if ink else folders.curves
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            names = sorted(filter(is_of_reading, place.names()))[-_MOST:]
            kept += [
                _read(place / name, "/".join(filter(None, (CURVES, ink, name))), used)
                for name in names
            ]
    return kept


def _read(file: Beneath, shown: str, used: set[str]) -> KeptCurve:
    try:
        text = curve_text(file.read_bytes(LARGEST_CURVE), name=shown)
        curve = curve_from_text(text, name=shown)
    except CurveError as error:
        return KeptCurve(shown, None, ServiceWord.NO_CURVE.say(name=shown, why=error))
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        return KeptCurve(shown, None, ServiceWord.NO_CURVE.say(name=shown, why=why))
    return KeptCurve(shown, curve, in_force=shown in used)


def curve_told(kept: KeptCurve) -> dict[str, object]:
    """One curve as ``filmhand curves --json`` shows it."""
    curve = kept.curve
    if curve is None:
        return {"name": kept.name, "fault": kept.fault, "in_force": kept.in_force}
    return {
        "name": kept.name,
        "fault": None,
        "in_force": kept.in_force,
        "date": curve.head.date or None,
        "print_at_50": round(print_of_half(curve), 1),
        "gain_at_50": round(print_of_half(curve) - 50, 1),
        "smallest_held_um": asdict(curve.head.held),
        "mesh": curve.head.mesh or None,
        "screen": curve.head.screen or None,
        "points": [list(pair) for pair in curve.points],
    }
