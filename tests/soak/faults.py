"""What strangers, other programs and other computers do to a station, beside killing hosts.

Each fault heals after some seconds, or at the end of the fire; the customers' files among what
they leave are counted like drops.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "fuzz"))
from drops import Dropper
from forging import Forger
from hosts import USER, Disk, Host, as_user

LITTER = b"litter of another system"
FORGED = b"forged by a stranger"
SECRET = b"a secret of somebody else"
COPY = "copy"  # the profile that is a copy of the sound one
_DAY = 86_400.0
_LEFT = (".DS_Store", "Thumbs.db", "._poster.png", "desktop.ini", ".nfs000000001", "~$notes.doc")
_LEFT_FOLDERS = ("@eaDir", ".@__thumb", "lost+found")


class Faults:
    """Makes them in one station and takes them back."""

    def __init__(
        self, share: Disk, root: Path, hosts: list[Host], dropper: Dropper, chance: random.Random
    ) -> None:
        self.share = share
        self.dropper = dropper
        self.wrong: list[str] = []
        self.unfinished: set[str] = set()  # hashes of what files held before they changed
        self.unsure: set[str] = set()  # of what changed at the very moment of being put away
        self._root = root
        self._hosts = hosts
        self._chance = chance
        self._heals: list[tuple[float, Callable[[], None]]] = []
        self._number = 0
        self._canaries = Canaries(share.folder.parent / "outside")
        self._forger = Forger(chance, root, self._canaries.folder)

    def _if_there(self, trouble: Callable[[Host], object]) -> Callable[[Host], object]:
        """The trouble, if the share is there to have it."""
        return lambda host: None if self.share.absent else trouble(host)

    def all(self) -> dict[str, tuple[float, Callable[[Host], object]]]:
        """Each with its mean time between two in seconds."""
        wanted: dict[str, tuple[float, Callable[[Host], object]]] = {
            "file changed after it was taken": (9, lambda host: self._changing()),
            "file nobody may read": (8, lambda host: self._unreadable()),
            "file's owner changed": (12, lambda host: self._closed()),
            "state forged": (5, lambda host: self._forge()),
            "litter in the private folder": (9, lambda host: self._litter()),
            "stranger's file in a job's hands": (11, lambda host: self._stranger()),
            "share absent": (35, lambda host: self._absent()),
            "wall clock jumped": (8, self._jump),
            "file with a time of the past or future": (6, lambda host: self._old_or_new()),
            "profile copied": (30, lambda host: self._copy_profile()),
        }
        return {name: (every, self._if_there(one)) for name, (every, one) in wanted.items()}

    def heal(self, *, at_once: bool = False) -> None:
        """Take back what has lasted long enough."""
        now = time.monotonic()
        due = [one for one in self._heals if at_once or now >= one[0]]
        self._heals = [one for one in self._heals if one not in due]
        for _, undo in due:
            undo()

    def finish(self) -> list[str]:
        """All is taken back; what is wrong outside of the station or was made in a wrong place."""
        self.heal(at_once=True)
        self.wrong += self._canaries.changes()
        return self.wrong

    def _for(self, least: float, most: float, undo: Callable[[], None]) -> None:
        self._heals.append((time.monotonic() + self._chance.uniform(least, most), undo))

    # --- rights ----------------------------------------------------------------------------------

    def _unreadable(self) -> None:
        """Art of another user that nobody else may read, until somebody helps."""
        if USER is None:
            return
        self._number += 1
        self.dropper.number += 1
        data = self.dropper.picture("PNG")
        part = self._root / "drop" / f".closed {self._number}.part"
        descriptor = -1
        try:
            descriptor = os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
            os.write(descriptor, data)
            part.rename(self._root / "drop" / f"closed {self._number}.png")
        except OSError:  # a full disk
            part.unlink(missing_ok=True)
            if descriptor >= 0:
                os.close(descriptor)
            return
        self.dropper.contents[data] += 1
        os.close(descriptor)
        # A descriptor for looking only, so that no lease is refused; it knows the file wherever
        # it is moved to.
        self._open_again(self._root / "drop" / f"closed {self._number}.png")

    def _changing(self) -> None:
        """Art of another user, whose writer the system does not show, and who goes on writing."""
        if USER is None:
            return
        self.dropper.number += 1
        first = self.dropper.picture("BMP")
        last = first[:-200] + bytes(byte ^ 0x40 for byte in first[-200:])
        name = f"changing {self.dropper.number}.bmp"
        part = self._root / "drop" / f".{name}.part"
        try:
            part.write_bytes(first)
        except OSError:  # a full disk
            part.unlink(missing_ok=True)
            return
        descriptor = os.open(part, os.O_WRONLY)
        part.rename(part.with_name(name))
        self.dropper.contents[first] += 1

        def go_on() -> None:
            if not _put_away(descriptor):
                os.pwrite(descriptor, last, 0)
                self.dropper.contents[first] -= 1
                self.dropper.contents[last] += 1
                self.unfinished.add(hashlib.sha256(first).hexdigest())
                if _put_away(descriptor):  # between the last look at it and this one
                    self.unsure |= {hashlib.sha256(data).hexdigest() for data in (first, last)}
            os.close(descriptor)

        self._for(0.5, 6, go_on)

    def _closed(self) -> None:
        """A file in drop is suddenly somebody else's."""
        found = self._dropped()
        if USER is not None and found:
            self._open_again(self._chance.choice(found))

    def _dropped(self) -> list[Path]:
        found = (self._root / "drop").glob("*.*")
        return [path for path in found if path.is_file() and not path.is_symlink()]

    def _open_again(self, path: Path) -> None:
        try:
            descriptor = os.open(path, os.O_PATH | os.O_NOFOLLOW)
        except FileNotFoundError:  # taken already
            return
        here = Path(f"/proc/self/fd/{descriptor}")
        here.chmod(0o600)
        os.chown(here, 0, 0)

        def undo() -> None:
            os.chown(here, USER or 0, USER or 0)
            here.chmod(0o644)
            os.close(descriptor)

        self._for(1, 7, undo)

    # --- in the private folder -------------------------------------------------------------------

    def _own_folders(self) -> list[Path]:
        hidden = self._root / ".filmhand"
        return [hidden, *(path for path in hidden.glob("*") if _is_host(path))]

    def _jobs(self) -> list[Path]:
        return [job for host in self._own_folders()[1:] for job in host.glob("2*") if job.is_dir()]

    def _litter(self) -> None:
        """What network disks and desktops leave in every folder that they see."""
        with as_user():
            for folder in [*self._own_folders(), *self._jobs(), *self._held()]:
                with contextlib.suppress(OSError):
                    for name in self._chance.sample(_LEFT, 2):
                        (folder / name).write_bytes(LITTER)
                    inside = folder / self._chance.choice(_LEFT_FOLDERS)
                    inside.mkdir()
                    (inside / "SYNO@.fileindexdb").write_bytes(LITTER)

    def _held(self) -> list[Path]:
        return [job / "held" for job in self._jobs() if (job / "held").is_dir()]

    def _stranger(self) -> None:
        """Somebody saves a picture in the folder of a job."""
        held = self._held()
        if not held:
            return
        self.dropper.number += 1
        data = self.dropper.picture("PNG")
        with as_user():
            part = self._root / f".stranger {self.dropper.number}.part"
            try:
                part.write_bytes(data)
                # In one step, or the folder might be gone with half of it.
                part.rename(self._chance.choice(held) / f"stranger {self.dropper.number}.png")
            except OSError:
                part.unlink(missing_ok=True)
            else:
                self.dropper.contents[data] += 1

    def _forge(self) -> None:
        """A job's folder with notes that lead out, and a customer's file in its hands."""
        hosts = [path.name for path in self._own_folders()[1:]] + ["stranger-00000bad"]
        self._number += 1
        identity = f"20260101T0304{self._number % 60:02}-{self._number:08x}"
        outside = self._canaries.folder
        told = self._forged(identity)
        part = self._root / ".filmhand" / f".forged {self._number}.part"
        target = self._root / ".filmhand" / self._chance.choice(hosts) / identity
        data = FORGED + b" %d" % self.dropper.number
        self.dropper.number += 1
        with as_user():
            try:
                (part / "held").mkdir(parents=True)
                (part / "held" / f"forged {self._number}.png").write_bytes(data)
                (part / "job.json").write_bytes(told)
                if self._chance.random() < 0.3:
                    (part / "out").symlink_to(outside)
                target.parent.mkdir(exist_ok=True)
                part.rename(target)
            except OSError:
                _remove(part)
            else:
                self.dropper.contents[data] += 1

    def _forged(self, identity: str) -> bytes:
        """Notes that look like those of a job but for one thing, which leads out of the station."""
        outside, chance = self._canaries.folder, self._chance
        secret = str(outside / "secret.txt")
        up = "../" * chance.randrange(2, 8) + "outside"
        told: dict[str, object] = {
            "schema": "filmhand-job/1", "id": identity, "profile": "small",
            "snapshot": {"name": "small", "text": "lpi: 25"}, "sub": [], "art": "a.png",
            "ticket": None, "mask": None, "seen": {}, "state": chance.choice(
                ["claimed", "publishing", "retiring", "rejecting", "returning"]),
            "strikes": 0, "sha256": "0" * 64, "refusal": None, "at": "2026-01-02T03:04:05Z",
            "earlier": None, "stem": "a", "films": [], "items": [], "kept": {}, "logged": False,
            "company": [], "sheet": "",
        }  # fmt: skip
        item = {"source": secret, "kind": "positives", "name": "a.pdf", "sha256": "0" * 64}
        bad: list[dict[str, object]] = [
            {"id": f"{up}/held"}, {"id": str(outside)}, {"art": secret},
            {"sub": ["..", "..", "outside"]},
            {"kept": {"art": f"{up}/a.png"}}, {"items": [item]},
            {"items": [item | {"source": "0.pdf", "name": f"{up}/a.pdf"}]},
            {"company": [f"{up}/deep"]}, {"stem": f"{up}/a"}, {"state": "done"},
            {"strikes": 10**400},
            {"snapshot": secret}, {"ticket": f"{up}/secret.txt"},
        ]  # fmt: skip
        mutated = self._forger.mutate(json.loads(json.dumps(told)))
        return self._forger.text(
            (mutated if isinstance(mutated, dict) else told) | chance.choice(bad)
        )

    # --- the share, clocks, profiles -------------------------------------------------------------

    def _absent(self) -> None:
        """The share is not mounted for some seconds; only while both hosts know the station."""
        known = all((host.state / "station").is_file() for host in self._hosts)
        if known and self.share.mounted and not self.dropper.writing():
            self.share.vanish()
            self._for(1, 8, self._come_back)

    def _come_back(self) -> None:
        self.wrong += [f"made under the absent share: {path}" for path in self.share.come_back()]

    def _jump(self, host: Host) -> None:
        """To another day, to 1970, or back."""
        ahead = self._chance.choice([0.0, _DAY, -_DAY, 3600.0, 1000.0 - time.time()])
        fresh = host.clock.with_suffix(".new")
        fresh.write_text(str(ahead))
        fresh.replace(host.clock)

    def _old_or_new(self) -> None:
        """The clock of whoever dropped a file differs."""
        then = time.time() + self._chance.choice([3600, -3600, 20 * 365 * _DAY, -50 * 365 * _DAY])
        found = self._dropped()
        if found:
            with contextlib.suppress(OSError):
                os.utime(self._chance.choice(found), (then, then), follow_symlinks=False)

    def _copy_profile(self) -> None:
        """The profile under another name, with the folder of the first."""
        profiles = self._root.parent / "profiles"
        copy = profiles / f"{COPY}.yaml"
        with contextlib.suppress(OSError), as_user():
            text = (profiles / f"{self._root.name}.yaml").read_text()
            part = profiles / ".copy.part"
            part.write_text(f"{text}folder: {self._root}\n")
            part.replace(copy)
        self._for(2, 8, lambda: copy.unlink(missing_ok=True))


class Canaries:
    """A folder beside the station in which nothing may change and whose bytes may not get out."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        folder.chmod(0o777)  # so that the hosts could, if they wanted
        with as_user():
            for name in ("secret.txt", "held/a.png", "out/0.pdf", "deep/er/b.png"):
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (folder / name).write_bytes(SECRET + name.encode())
        self._before = self._look()

    def _look(self) -> Counter[tuple[object, ...]]:
        found = Counter[tuple[object, ...]]()
        for path in (self.folder, *self.folder.rglob("*")):
            stat = path.lstat()
            data = path.read_bytes() if path.is_file() else b""
            facts = stat.st_mode, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_uid, stat.st_nlink
            found[(str(path), *facts, data)] += 1
        return found

    def changes(self) -> list[str]:
        """What is no longer as it was."""
        now = self._look()
        changed = (now - self._before) + (self._before - now)
        return [f"changed outside of the station: {one[0]}" for one in changed]


def _put_away(descriptor: int) -> bool:
    place = Path(f"/proc/self/fd/{descriptor}").readlink()
    return bool({"originals", "rejected"} & set(place.parts))


def _is_host(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink() and path.name[-9:-8] == "-"


def _remove(folder: Path) -> None:
    for name in ("held", ""):
        for path in (folder / name).glob("*"):
            if path.is_symlink() or not path.is_dir():
                path.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            (folder / name).rmdir()
