"""Art that nobody will take: in the folder of a profile that is gone, or where no drop folder is.

Only looks, and names what it finds; people decide.
"""

from __future__ import annotations

import contextlib
import os
import re
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path, PurePath

from filmhand.art.files.file_types import READABLE
from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_words import DiskCount
from filmhand.disk.folders import Folders, resolved
from filmhand.intake.scan import dropped_bundles
from filmhand.peers.survey import jobs_in_hand
from filmhand.service.service_words import ServiceWord
from filmhand.timing.background_call import BackgroundCall

LOOKED_EVERY = 60.0  # seconds
_SHOWN = 5  # names of which more than the number is told
_PLACE = re.compile(r"-(?=\d+-)")  # of a film in its set of inks
_SUFFIXES = frozenset(suffix for kind in READABLE for suffix in kind.suffixes)


def strays(station: Path, roots: Mapping[str, Path], known: Iterable[Path]) -> Iterator[str]:
    """A sentence on each folder and place where art waits for nobody.

    Parameters
    ----------
    station : Path
        The station's folder.
    roots : mapping
        The folders of the profiles that are right, by name.
    known : iterable of Path
        Folders of profiles that were right before.
    """
    yield from _misplaced(ServiceWord.TOP_OF_STATION, station, _pictures(station))
    for name, root in sorted(roots.items()):
        folders = Folders.at(root, station)
        yield from _misplaced(ServiceWord.TOP_OF_FOLDER, root, _pictures(root), profile=name)
        with contextlib.suppress(OSError):
            records = set(_inside(folders.output("records"), lambda file: file.endswith(".json")))
            # By names alone: each film of `poster` is called as `poster-1-red` is.
            sets = {record[: end.start()] for record in records for end in _PLACE.finditer(record)}
            for kind in ("positives", "proofs"):
                strange = [
                    file
                    for file in _inside(folders.output(kind), _is_picture)
                    if f"{file.rpartition('.')[0]}.json" not in records
                    and not (kind == "proofs" and file.rpartition(".")[0] in sets)
                ]
                row, folder = ServiceWord.AMONG_FILMS, root / kind
                yield from _misplaced(row, folder, strange, kind=kind, profile=name)
    used = {resolved(root) for root in roots.values()}
    for root in sorted({*_marked(station), *known}):
        if resolved(root) not in used:
            yield from _orphan(Folders.at(root, station))


def _orphan(folders: Folders) -> Iterator[str]:
    root = folders.root
    with contextlib.suppress(OSError):
        if not folders.present():
            return
        waiting, hand = len(dropped_bundles(folders)), len(jobs_in_hand(folders))
        if waiting or hand:
            yield ServiceWord.NOBODYS_FOLDER.say(
                folder=file_names.shown(str(root)),
                name=file_names.shown(root.name),
                waiting=waiting,
                jobs=hand,
            )


def _marked(station: Path) -> list[Path]:
    """The folders of profiles, present and past, right below the station."""
    with contextlib.suppress(OSError):
        return [path for path in station.iterdir() if Folders(path).present()]
    return []


def _misplaced(row: ServiceWord, folder: Path, names: list[str], **parts: str) -> Iterator[str]:
    if names:
        shown = ", ".join(map(file_names.shown, sorted(names)[:_SHOWN]))
        if len(names) > _SHOWN:
            shown = DiskCount.AND_MORE.say(len(names) - _SHOWN, names=shown)
        yield row.say(names=shown, folder=file_names.shown(str(folder)), **parts)


def _pictures(folder: Path) -> list[str]:
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        return [one.name for one in entries if _is_picture(one.name) and one.is_file()]
    return []


def _is_picture(name: str) -> bool:
    return PurePath(name).suffix.lower() in _SUFFIXES and not file_names.is_noise(name)


def _inside(top: Beneath, wanted: Callable[[str], bool]) -> list[str]:
    """The files below `top` that are wanted, as seen from there."""
    return [
        "/".join((*folder.names_below(top), name))
        for folder, _, names in top.walk()
        for name in names
        if wanted(name)
    ]


class StrayWatch:
    """Looks now and then, beside its caller, since a share may hang."""

    def __init__(
        self, station: Path, known: Iterable[Path] = (), clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._station = station
        self._clock = clock
        self._next = float("-inf")
        self._known = set(known)
        self._call: BackgroundCall[list[str]] = BackgroundCall("look for strays", clock)
        self.found: list[str] = []

    def look(self, roots: Mapping[str, Path]) -> None:
        """Begin a look if it is time, and take what the last one found."""
        self._known.update(roots.values())
        for found in self._call.result():
            self.found = found
        known = sorted(self._known)
        if self._clock() >= self._next and self._call.start(
            lambda: list(islice(strays(self._station, roots, known), 50))
        ):
            self._next = self._clock() + LOOKED_EVERY
