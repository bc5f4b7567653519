"""The folders of one profile, made as needed, and the marker that says they are really there.

A share that is not mounted looks like an empty folder. A profile folder elsewhere is therefore
used only if it holds the marker that `doctor --init` left, and one under the station only while
the station carries its own mark.

Below the folder that is trusted, which is the station or what a profile's `folder:` names, nothing
may be a link: all places here are :class:`filmhand.disk.beneath.Beneath`.
"""

from __future__ import annotations

import json
import os
import re
import stat
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_words import FolderWord
from filmhand.errors import EnvironmentTrouble
from filmhand.profile.scan_place import OF_FILM
from filmhand.values import dataclass

OUTPUTS = ("positives", "proofs", "records", "originals", "rejected")
HOLDING = ("held", "release")  # where films may have to wait
MEASURING = ("calibrate", "curves")  # scans of wedges that people drop, and what was read of them
_SCHEMA = "filmhand-folder/1"
_OCTAL = re.compile(rb"\\([0-3][0-7]{2})")
_NETWORK = {
    "cifs",
    "smb3",
    "smbfs",
    "nfs",
    "nfs4",
    "9p",
    "virtiofs",
    "ceph",
    "afs",
    "glusterfs",
    "davfs",
    "vboxsf",
    "prl_fs",
}


HOST_NAME = re.compile(r"[A-Za-z0-9_-]+-[0-9a-f]{8}")


def hosts_in(hidden: Beneath, *, besides: str = "") -> list[str]:
    """The ids of all hosts `besides` one that have a folder among the jobs in hand.

    OSError if there is no such place.
    """
    names = sorted(n for n in hidden.names() if n != besides and HOST_NAME.fullmatch(n))
    if not names:
        return []
    return [n for n, mode in zip(names, hidden.modes(names), strict=True) if stat.S_ISDIR(mode)]


@dataclass(frozen=True, slots=True)
class Folders:
    """Places of one profile's folder; `elsewhere` if the profile's `folder:` names it.

    One that is elsewhere may itself be reached through links; one in the station may not.
    """

    root: Path
    elsewhere: bool = False

    @classmethod
    def at(cls, root: Path, station: Path) -> Folders:
        """Those of the profile that has this folder; one right below the station lies in it."""
        return cls(root, elsewhere=root.parent != station)

    @property
    def top(self) -> Beneath:
        """The profile's folder itself."""
        return Beneath(self.root) if self.elsewhere else Beneath(self.root.parent) / self.root.name

    @property
    def drop(self) -> Beneath:
        """Where people put art."""
        return self.top / "drop"

    @property
    def calibrate(self) -> Beneath:
        """Where people put scans of wedges."""
        return self.top / "calibrate"

    @property
    def curves(self) -> Beneath:
        """Where press curves lie, with the readings that they come from."""
        return self.top / "curves"

    def make_measuring(self, inks: Sequence[str] = ()) -> None:
        """Make both of them, and what people drop scans of the film, or of prints of inks, into.

        EnvironmentTrouble if a link or a file has the name of one.
        """
        for name in MEASURING:
            _make_real(self.top / name)
        for place in (*self.scan_places(inks), *(self.curves / ink for ink in inks)):
            _make_real(place)

    def make_for_reading(self, place: Beneath) -> None:
        """Make the folder that a reading is kept in: that of the curves, or an ink's in it.

        EnvironmentTrouble as :meth:`make_measuring`.
        """
        _make_real(self.curves)
        _make_real(place)

    def scan_places(self, inks: Sequence[str] = ()) -> list[Beneath]:
        """The folders below calibrate/ that are always there."""
        return [self.calibrate / name for name in (*inks, OF_FILM)]

    @property
    def hidden(self) -> Beneath:
        """Where work in hand lives."""
        return self.top / ".filmhand"

    @property
    def marker(self) -> Beneath:
        """The file whose presence says that this really is the folder."""
        return self.hidden / "folder.json"

    @property
    def rejected(self) -> Beneath:
        """Where refused art goes."""
        return self.top / "rejected"

    @property
    def held(self) -> Beneath:
        """Where the proofs of films lie that wait for somebody, or for the next day."""
        return self.top / "held"

    @property
    def release(self) -> Beneath:
        """Where people move such a proof to let its film go on."""
        return self.top / "release"

    def make_holding(self) -> None:
        """Make both of them; EnvironmentTrouble if a link or a file has the name of one."""
        for name in HOLDING:
            _make_real(self.top / name)

    def there(self) -> list[str]:
        """The names of the drop folder, the outputs and all the others, as far as they are."""
        names = ("drop", *OUTPUTS, *HOLDING, *MEASURING)
        return [name for name in names if (self.top / name).is_dir()]

    @property
    def originals(self) -> Beneath:
        """Where art goes that became a film."""
        return self.top / "originals"

    def refusal_logs(self) -> list[Beneath]:
        """The logs of refusals, of all hosts and years, sorted by name."""
        try:
            inside = self.rejected.iterdir()
        except OSError:
            return []
        return [path for path in inside if file_names.is_refusal_log(path.name)]

    def output(self, kind: str) -> Beneath:
        """One of positives, proofs, records, originals, rejected, held."""
        return self.top / kind

    def present(self) -> bool:
        """True if the marker is there."""
        return self.marker.is_file()

    def are_real(self) -> bool:
        """True if all of them are there, and none is a link."""
        return all(one.is_dir() for one in (self.drop, *map(self.output, OUTPUTS), self.hidden))

    def make(self) -> None:
        """Make every folder that is missing, the marker last."""
        (self.root if self.elsewhere else self.root.parent).mkdir(parents=True, exist_ok=True)
        for folder in (self.top, self.drop, *map(self.output, OUTPUTS)):
            _make_real(folder)
        # Other hosts may come as other users of a group, who need the private folder too.
        _make_real(self.hidden, 0o770 if is_network(self.root) else 0o700)
        if not self.present():
            text = json.dumps({"schema": _SCHEMA, "about": FolderWord.ABOUT.say()})
            atomic.write_atomic(self.marker, text.encode() + b"\n", shared_by_way_of=self.hidden)

    def ensure(self, *, there: Callable[[], bool]) -> tuple[int, int] | None:
        """Make sure that the folder is there and whole, or raise EnvironmentTrouble.

        `there`: whether the station is, so that a folder of its own that is missing is simply
        new. What identifies the drop folder; None if it was made just now.
        """
        present = self.present()
        # Asked after that look: a folder that went with its disk in between is not taken for new.
        if not (self.elsewhere or there()):
            raise EnvironmentTrouble(FolderWord.NO_STATION.say(station=self.root.parent))
        if not present:
            if self.elsewhere:
                raise EnvironmentTrouble(FolderWord.NOT_PREPARED.say(folder=self.root))
            self.make()
            return None
        names = ("drop", *OUTPUTS)
        stats = self.top.stats(names)
        for name, found in zip(names, stats, strict=True):
            if found is None or not stat.S_ISDIR(found.st_mode):
                _make_real(self.top / name)
        drop = stats[0]
        return None if drop is None else (drop.st_dev, drop.st_ino)

    def prove_one_disk(self) -> None:
        """EnvironmentTrouble if art could not be renamed on its whole way through the folder."""
        for folder in (self.top / name for name in self.there()):
            if not atomic.on_same_mount(self.marker, folder):
                said = FolderWord.OTHER_DISK.say(folder=folder, hidden=self.hidden)
                raise EnvironmentTrouble(said)

    def place(self, kind: str, sub: tuple[str, ...]) -> Beneath:
        """The sub-folder `sub` of an output folder, made as needed, never through a link.

        A file that already has the name of a sub-folder makes the folder take the next free number.
        """
        folder = self.output(kind)
        for part in sub:
            folder = _sub_folder(folder, part)
        return folder


def _make_real(folder: Beneath, mode: int = 0o777) -> None:
    """Make a folder that is missing; EnvironmentTrouble if a link or a file has its name."""
    try:
        folder.mkdir(mode, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        said = FolderWord.NOT_REAL.say(folder=file_names.shown(str(folder)))
        raise EnvironmentTrouble(said) from None


def _sub_folder(parent: Beneath, part: str) -> Beneath:
    count = 1
    while True:
        folder = parent / file_names.numbered(part, count)
        try:
            folder.mkdir()
        except FileExistsError:
            if not folder.is_dir():
                count += 1
                continue
        else:
            atomic.fsync_folder(parent)
        return folder


def is_network(path: Path, mounts: Path = Path("/proc/self/mountinfo")) -> bool:
    """True if `path` lies on a file system whose changes by others cause no events here."""
    try:
        lines = mounts.read_bytes().split(b"\n")
        wanted = path.resolve()
    except OSError:
        return False
    kind, longest = "", -1
    for line in lines:
        before, _, after = line.partition(b" - ")
        fields = before.split(b" ")
        if len(fields) < 5 or not after:
            continue
        # Space, tab, line feed and backslash stand there as octal numbers; all else is the name's
        # own bytes (proc_pid_mountinfo(5)).
        name = _OCTAL.sub(lambda found: bytes([int(found[1], 8)]), fields[4])
        point = Path(os.fsdecode(name))
        if wanted.is_relative_to(point) and len(point.parts) >= longest:
            kind, longest = os.fsdecode(after.split(b" ")[0]), len(point.parts)
    return kind in _NETWORK or kind.startswith("fuse")


def next_files(top: Beneath, after: str, most: int) -> tuple[list[Beneath], str]:
    """The next files below `top` by their place there, at most so many; noise is left out.

    With them, the place of the last one, after which to go on; empty if no more are to come.
    """
    inside = sorted(place for place in files_below(top) if place > after)
    chosen = inside[:most]
    more = chosen[-1] if len(chosen) < len(inside) else ""
    return [top.joinpath(*place.split("/")) for place in chosen], more


def files_below(
    top: Beneath, ending: str = "", onerror: Callable[[OSError], None] | None = None
) -> Iterator[str]:
    """The places, seen from `top`, of all files with that ending which are not noise."""
    for folder, _, names in top.walk(onerror):
        before = folder.names_below(top)
        for name in names:
            if name.endswith(ending) and not file_names.is_noise(name):
                yield "/".join((*before, name))


def user_folder(variable: str, usual: str) -> Path | None:
    """The folder that the environment names, or the usual one; None for a user without a home."""
    told = Path(os.environ.get(variable, ""))
    if told.is_absolute():  # a relative one does not count
        return told
    try:
        return Path.home() / usual
    except RuntimeError:
        return None


def resolved(path: Path) -> Path:
    """The path without links; as it is where the file system does not answer."""
    try:
        return path.resolve()
    except OSError:
        return path


def same_folder(path: Path | Beneath) -> tuple[int, int] | None:
    """What identifies the folder at `path` now; None if there is none."""
    try:
        found = path.lstat() if isinstance(path, Beneath) else path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
