"""The profiles of a station as they are now: read again by themselves, the old kept over faults."""

from __future__ import annotations

import contextlib
from pathlib import Path

from filmhand.disk.folders import OUTPUTS, resolved
from filmhand.errors import EnvironmentTrouble
from filmhand.profile.model import Profile
from filmhand.profile.read.load import load_profiles

_Signature = tuple[tuple[str, int, int, int], ...]


class ProfileRegistry:
    """The profiles of one folder; `faults` holds one plain line for each thing that is wrong."""

    def __init__(self, folder: Path, station: Path) -> None:
        self.folder = folder
        self.profiles: dict[str, Profile] = {}
        self.faults: list[str] = []
        self._station = station
        self._read: _Signature | None = None
        self._seen: _Signature | None = None

    def changed(self) -> bool:
        """True if the folder differs from what was read, and has been so for two looks."""
        now = _signature(self.folder)
        still, self._seen = now == self._seen, now
        return still and now != self._read

    @property
    def differs(self) -> bool:
        """True if the last look found the folder other than it was read."""
        return self._seen != self._read

    def read(self) -> bool:
        """Read all profiles; a faulty one keeps its old form. True if anything differs now."""
        before = dict(self.profiles), list(self.faults)
        signature = _signature(self.folder)
        self._read = self._seen = signature
        if signature is None and self.profiles:
            self.faults = [
                f"The profiles folder {self.folder} cannot be read; "
                "the profiles that were read before stay in force."
            ]
            return before[1] != self.faults
        try:
            right, faulty = load_profiles(self.folder)
        except (EnvironmentTrouble, OSError) as error:
            self.faults = [str(error)]
            return before[1] != self.faults
        faults = [line for one in faulty for line in one.lines()]
        for one in faulty:
            old = self.profiles.get(Path(one.file).stem)
            if old is not None and old.name not in right:
                right[old.name] = old
                faults.append(f"{one.file}: the profile {old.name} stays as it was before.")
        self.profiles, doubled = self._without_doubled(right)
        self.profiles, nested = self._without_nested(self.profiles)
        self.faults = faults + doubled + nested
        return before != (self.profiles, self.faults)

    def root_of(self, profile: Profile) -> Path:
        """The folder of a profile: its own `folder:`, or the one named after it."""
        return profile.folder if profile.folder is not None else self._station / profile.name

    def _without_doubled(
        self, profiles: dict[str, Profile]
    ) -> tuple[dict[str, Profile], list[str]]:
        owners: dict[Path, str] = {}
        faults = []
        for name in sorted(profiles):
            root = resolved(self.root_of(profiles[name]))
            owner = owners.setdefault(root, name)
            if owner != name:
                faults.append(
                    f"{name}: folder is {root}, which {owner} already has; "
                    "each profile needs a folder of its own."
                )
        return {name: profiles[name] for name in sorted(owners.values())}, faults

    def _without_nested(self, profiles: dict[str, Profile]) -> tuple[dict[str, Profile], list[str]]:
        """A folder inside another profile's folders would send films back into a drop folder."""
        roots = {name: resolved(self.root_of(profile)) for name, profile in profiles.items()}
        taken = [root / kind for root in roots.values() for kind in ("drop", ".filmhand", *OUTPUTS)]
        right, faults = {}, []
        for name, root in roots.items():
            around = next((folder for folder in taken if root.is_relative_to(folder)), None)
            if around is None:
                right[name] = profiles[name]
                continue
            faults.append(
                f"{name}: folder is {root}, which lies inside {around}; "
                "each profile needs a folder of its own, outside those of the others."
            )
        return right, faults


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
