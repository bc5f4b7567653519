"""What `filmhand doctor` looks at where a profile's films go by readings of its own wedge."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from datetime import date
from itertools import chain

from filmhand.disk import file_names
from filmhand.disk.folders import Folders
from filmhand.errors import Refused
from filmhand.profile.ink_curves import InkCurves
from filmhand.profile.inks import ink_folders
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import CURVES, is_of_reading
from filmhand.profile.terms import GainCurve
from filmhand.service.doctor.doctor_words import DoctorWord, Level, Topic
from filmhand.service.doctor.folder_probe import Finding
from filmhand.service.kept_curves import kept_curves

_OLD = 365
"""Days after which a reading is told to be old. Common practice, no source: a press is read again
whenever anything about it changes, and within a year something has."""
_MOST_FOLDERS = 20  # that are told of


def examine_readings(
    name: str, profile: Profile, folders: Folders, *, today: date
) -> Iterator[Finding]:
    """Whether there is a reading, and the one in force may still hold; and what lies beside it.

    Nothing of a profile whose ``tone.gain`` asks for none. What is spoiled and newer than the
    curve in force was told with the profiles already.
    """
    own = _presses(profile)
    measured = [gain for one in own if (gain := _reading_of(one)) is not None]
    if not measured and not profile.waits_for_reading:
        return
    lacking = InkCurves.of(profile).lacking
    found = list(chain(_in_force(name, own, today), _kept(name, profile, folders)))
    if lacking:
        say = DoctorWord.INKS_NOT_READ.say(inks=", ".join(lacking))
        do = DoctorWord.READ_WEDGES_OF_INKS.say()
        found.insert(0, Finding(Level.NOTE, name, Topic.READINGS, say, do))
    yield from found
    if not found:
        names = ", ".join(gain.name for gain in measured)
        say = DoctorWord.READING_HOLDS.say(names=names)
        yield Finding(Level.OK, name, Topic.READINGS, say)


def _presses(profile: Profile) -> list[Profile]:
    """The profile, and the profile of each ink that has a reading of its own."""
    from filmhand.pipeline.separation.planning.profile_of_ink import profile_of_ink  # noqa: PLC0415

    found = [profile]
    for ink in ink_folders(profile.inks, profile.underbase):
        with contextlib.suppress(Refused):
            press = profile_of_ink(profile, ink)
            gain = _reading_of(press)
            if gain is not None and gain != profile.tone.gain:
                found.append(press)
    return found


def _reading_of(profile: Profile) -> GainCurve | None:
    gain = profile.tone.gain
    is_read = isinstance(gain, GainCurve) and gain.name.startswith(f"{CURVES}/")
    return gain if is_read else None  # type: ignore[return-value]


def _in_force(name: str, presses: list[Profile], today: date) -> Iterator[Finding]:
    """What is wrong with the readings that films go by."""
    from filmhand.pipeline.readings.measured_press import reading_warnings  # noqa: PLC0415

    for press in presses:
        if press.waits_for_reading and len(presses) > 1:
            continue  # inks have theirs
        for say in reading_warnings(press):
            if say not in press.passed_over:
                do = DoctorWord.READ_A_WEDGE.say()
                yield Finding(Level.NOTE, name, Topic.READINGS, say, do)
        gain = _reading_of(press)
        read_on = None if gain is None else _date_of(gain)
        if gain is not None and read_on is not None and (today - read_on).days > _OLD:
            say = DoctorWord.READING_IS_OLD.say(name=gain.name, date=f"{read_on:%Y-%m-%d}")
            yield Finding(Level.NOTE, name, Topic.READINGS, say, DoctorWord.READ_A_WEDGE.say())


def _date_of(gain: GainCurve) -> date | None:
    """The day of a reading, as its head or its name tells it."""
    for text in (gain.head.date, gain.name.rpartition("/")[2][:10]):
        with contextlib.suppress(ValueError):
            return date.fromisoformat(text)
    return None


def _kept(name: str, profile: Profile, folders: Folders) -> Iterator[Finding]:
    """What lies among the readings and is none, or none of an ink that the profile names."""
    with contextlib.suppress(OSError):  # the probe of the folder has told it
        for one in kept_curves(folders, profile):
            told = any(one.name in said for said in profile.passed_over)
            if one.fault and not told:
                do = DoctorWord.SPOILED_CURVE.say()
                yield Finding(Level.NOTE, name, Topic.READINGS, one.fault, do)
        known = {ink.casefold() for ink in ink_folders(profile.inks, profile.underbase)}
        places = [one for one in sorted(folders.curves.names()) if one.casefold() not in known]
        for place in [one for one in places if _has_readings(folders, one)][:_MOST_FOLDERS]:
            shown = file_names.shown(f"{CURVES}/{place}")
            say = DoctorWord.NO_SUCH_INK.say(folder=shown)
            do = DoctorWord.NAME_FOLDER_AFTER_INK.say(inks=", ".join(sorted(known)) or "-")
            yield Finding(Level.NOTE, name, Topic.READINGS, say, do)


def _has_readings(folders: Folders, place: str) -> bool:
    with contextlib.suppress(OSError, ValueError):
        return any(map(is_of_reading, (folders.curves / place).names()))
    return False
