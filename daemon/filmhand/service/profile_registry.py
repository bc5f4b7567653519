"""The profiles of a station as they are now: read again by themselves, the old kept over faults."""

from __future__ import annotations

import contextlib
import shlex
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import OUTPUTS, Folders, resolved
from filmhand.errors import EnvironmentTrouble, FaultyFile
from filmhand.profile.model import Profile
from filmhand.profile.read.curve import (
    CURVES,
    LARGEST_CURVE,
    CurveError,
    CurveText,
    is_of_reading,
    newest_usable,
)
from filmhand.profile.read.load import load_profiles
from filmhand.profile.read.read_words import CurveFault
from filmhand.service.service_words import ServiceWord

_MARKED = 20  # of the newest readings, that are watched for changes
_AGAIN = 10.0  # seconds after which what could not be read is looked at again, changed or not
_Signature = tuple[tuple[str, int, int, int], ...]


class _CurvesSeen(NamedTuple):
    """A folder of readings, and what marked the newest one when it was read."""

    folders: Folders
    marks: _Signature


class ProfileRegistry:
    """The profiles of one folder; `faults` holds one plain line for each thing that is wrong.

    `owners` are the folders that profiles worked in before, with their names: where two want the
    same one, it stays with the profile that has it, and the newcomer is the fault.
    """

    def __init__(
        self,
        folder: Path,
        station: Path,
        owners: Mapping[str, Path] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._owners = dict(owners or {})
        self.folder = folder
        self.profiles: dict[str, Profile] = {}
        self.faults: list[str] = []
        self.faulty: dict[str, FaultyFile] = {}  # by profile
        self._station = station
        self._read: _Signature | None = None
        self._seen: _Signature | None = None
        self.uncertain: set[str] = set()  # profiles whose readings nobody could look for yet
        self._measured: dict[str, _CurvesSeen] = {}  # of the profiles that go by their readings
        self._clock = clock
        self._unsure = False  # a reading could not be read, and perhaps can be by now
        self._again_at = float("inf")

    def changed(self) -> bool:
        """True if the folder differs from what was read, and has been so for two looks.

        Also if something could not be read a while ago: an error of disk or share that has passed
        leaves no mark on any file.
        """
        if self._clock() >= self._again_at:
            return True
        now = self._signature()
        still, self._seen = now == self._seen, now
        return still and now != self._read

    @property
    def differs(self) -> bool:
        """True if the last look found the folder other than it was read."""
        return self._seen != self._read

    def read(self) -> bool:
        """Read all profiles; a faulty one keeps its old form. True if anything differs now."""
        self._again_at, self._unsure = self._clock() + _AGAIN, False
        try:
            return self._read_all()
        finally:
            if not (self.faulty or self._unsure):
                self._again_at = float("inf")

    def _read_all(self) -> bool:
        before = dict(self.profiles), list(self.faults)
        uncertain = set(self.uncertain)
        signature = _signature(self.folder)
        self._read = self._seen = signature
        if signature is None and self.profiles:
            self.faults = [ServiceWord.PROFILES_UNREADABLE.say(folder=self.folder)]
            return before[1] != self.faults
        try:
            self._measured, self.uncertain = {}, set()
            right, faulty = load_profiles(self.folder, measured=self._newest_curve)
        except (EnvironmentTrouble, OSError) as error:
            self.faults, self._unsure = [str(error)], True
            self.uncertain |= uncertain
            return before[1] != self.faults
        if signature is not None:
            marks = (mark for _, seen in sorted(self._measured.items()) for mark in seen.marks)
            self._read = self._seen = (*signature, *marks)
        self.faulty = {Path(one.file).stem: one for one in faulty}
        faults = [line for one in faulty for line in one.lines()]
        for one in faulty:
            old = self.profiles.get(Path(one.file).stem)
            if old is not None and old.name not in right:
                right[old.name] = old
                # Its curve has not been looked for since.
                self.uncertain |= uncertain & {old.name}
                faults.append(ServiceWord.STAYS_AS_BEFORE.say(file=one.file, name=old.name))
        self.profiles, clashes = self._without_clashes(right)
        faults += [said for profile in right.values() for said in profile.passed_over]
        self.faults = faults + clashes
        return before != (self.profiles, self.faults) or uncertain != self.uncertain

    def _newest_curve(self, name: str, elsewhere: Path | None, /, *ink: str) -> CurveText | None:
        """The newest reading of a profile, or of one of its inks.

        CurveError where it is none that can be read.
        """
        root = elsewhere if elsewhere is not None else self._station / name
        folders = Folders(root, elsewhere=elsewhere is not None)
        curves = folders.curves.joinpath(*ink)
        self._measured[name] = _CurvesSeen(folders, self._newest_mark(name, folders))
        before = self._curve_before(name, *ink)
        try:
            found = newest_usable(
                curves.names(),
                lambda one: (curves / one).read_bytes(LARGEST_CURVE),
                ink="".join(ink),
                before=before,
            )
        except (FileNotFoundError, NotADirectoryError):
            # A share that went away took no reading with it: it is in force when the share is back.
            if not self._is_away(folders):
                return None
            if before is None:
                self.uncertain.add(name)
            return before
        except OSError as error:
            why = error.strerror or error
            raise CurveError(CurveFault.CANNOT_READ.say(name=curves, why=why)) from None
        self._unsure |= found is not None and found.unsure
        return found

    def _is_away(self, folders: Folders) -> bool:
        """True if the folder's share, or the station's, is not there."""
        return not folders.present() and (folders.elsewhere or not self._station.is_dir())

    def _curve_before(self, name: str, *ink: str) -> CurveText | None:
        """The reading that the profile, or its ink, went by until now."""
        old = self.profiles.get(name)
        texts = () if old is None else old.curves
        above = "/".join((CURVES, *ink))
        return next((CurveText(*one) for one in texts if one[0].rpartition("/")[0] == above), None)

    def _signature(self) -> _Signature | None:
        """What changes with the profiles, or with the readings that some of them go by."""
        found = _signature(self.folder)
        if found is None:
            return None
        known = sorted(self._measured.items())
        return (
            *found,
            *(mark for name, seen in known for mark in self._newest_mark(name, seen.folders)),
        )

    def _newest_mark(self, name: str, folders: Folders) -> _Signature:
        """What changes when a profile has other readings, one was edited, or a share came back."""
        marks: list[tuple[str, int, int, int]] = []
        with contextlib.suppress(OSError):
            inside = folders.curves.names()
            inks = [folders.curves / one for one in inside if not is_of_reading(one)]
            for curves in (folders.curves, *(one for one in inks if "." not in one.name)):
                with contextlib.suppress(OSError):
                    marks += _marks_in(curves, name)
        if self._is_away(folders):
            marks.append((f"{name}/", 0, 0, 0))
        return tuple(marks)

    def absence(self) -> tuple[str, str]:
        """What is said where there is no profile, and what to do then."""
        file = file_names.shown(str(self.folder / "shirts.yaml"))
        none = ServiceWord.NO_PROFILE.say(folder=file_names.shown(str(self.folder)))
        return none, ServiceWord.MAKE_PROFILE.say(file=shlex.quote(file))

    def root_of(self, profile: Profile) -> Path:
        """The folder of a profile: its own `folder:`, or the one named after it."""
        return profile.folder if profile.folder is not None else self._station / profile.name

    def folders_of(self, profile: Profile) -> Folders:
        """The places in the folder of a profile."""
        return Folders(self.root_of(profile), elsewhere=profile.folder is not None)

    def _by_right(self, profiles: Mapping[str, Profile]) -> dict[str, Path]:
        """The real folders by name: those first that run, then that ran before, then that have
        the profile's name, as hosts without memory must agree; then outer ones."""
        roots = {name: resolved(self.root_of(profile)) for name, profile in profiles.items()}

        def right(name: str) -> tuple[bool, bool, bool, int, str]:
            running = self.profiles.get(name)
            runs = running is not None and resolved(self.root_of(running)) == roots[name]
            ran = name in self._owners and resolved(self._owners[name]) == roots[name]
            named = roots[name] == resolved(self._station / name)
            return not runs, not ran, not named, len(roots[name].parts), name

        return {name: roots[name] for name in sorted(roots, key=right)}

    def _without_clashes(
        self, profiles: dict[str, Profile]
    ) -> tuple[dict[str, Profile], list[str]]:
        """Each folder has one profile, and none lies inside another's, or films would be art."""
        kept: dict[str, Path] = {}
        faults = []
        for name, root in self._by_right(profiles).items():
            found = next(_clashes(root, kept), None)
            if found is None:
                kept[name] = root
            else:
                row, kind, other = found
                file, folder = self.folder / f"{name}.yaml", file_names.shown(str(root))
                told = row.say(file=file, folder=folder, kind=kind, other=other, name=name)
                faults.append(told)
        return {name: profiles[name] for name in sorted(kept)}, sorted(faults)


def _clashes(root: Path, kept: Mapping[str, Path]) -> Iterator[tuple[ServiceWord, str, str]]:
    """How a folder and those of other profiles are in each other's way: row, kind and profile."""
    for other, theirs in kept.items():
        if root == theirs:
            yield ServiceWord.FOLDER_IS_TAKEN, "", other
        for kind in ("drop", ".filmhand", *OUTPUTS):
            if root.is_relative_to(theirs / kind):
                yield ServiceWord.FOLDER_LIES_INSIDE, kind, other
            if theirs.is_relative_to(root / kind):
                yield ServiceWord.FOLDER_HOLDS, kind, other


def _marks_in(curves: Beneath, profile: str) -> _Signature:
    """What changes with the newest readings of one folder. OSError where it is none."""
    names = sorted(filter(is_of_reading, curves.names()))[-_MARKED:]
    return tuple(
        (f"{profile}/{curves.name}/{one}", stat.st_mtime_ns, stat.st_size, stat.st_ino)
        for one, stat in zip(names, curves.stats(names), strict=True)
        if stat is not None
    )


def _signature(folder: Path) -> _Signature | None:
    """What changes when any file of the folder changes; None if it cannot be read."""
    try:
        found = []
        for path in folder.iterdir():
            with contextlib.suppress(FileNotFoundError):
                stat = path.stat()
                found.append((path.name, stat.st_mtime_ns, stat.st_size, stat.st_ino))
        return tuple(sorted(found))
    except OSError:
        return None
