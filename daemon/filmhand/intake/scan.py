"""One pass over a drop folder: what is there, what belongs together, what is left alone.

The pass only looks. Events of the system merely make it happen sooner; the pass itself is the
truth, so an event that is lost costs a moment and nothing else.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from filmhand.disk import file_names

DEPTH = 12  # levels of sub-folders that are read


@dataclass(slots=True)
class Found:
    """One regular file in the drop folder."""

    path: Path
    sub: tuple[str, ...]
    stat: os.stat_result

    @property
    def name(self) -> str:
        """The file's own name."""
        return self.path.name


@dataclass(slots=True)
class Bundle:
    """Art with the ticket and mask that lie beside it; or a ticket or mask that is alone."""

    art: Found
    ticket: Found | None = None
    mask: Found | None = None
    alone: str | None = None  # "ticket" or "mask" if `art` is one whose art is missing
    misnamed: str | None = None  # a ticket or mask that lacks the art's ending in its name

    def companions(self) -> list[Found]:
        """Ticket and mask, as far as they are there."""
        return [one for one in (self.ticket, self.mask) if one is not None]

    @property
    def shown(self) -> str:
        """The art's name with its sub-folder, as people may see it."""
        return "/".join(map(file_names.shown, (*self.art.sub, self.art.name)))


@dataclass(slots=True)
class FolderScan:
    """Everything that one pass saw."""

    bundles: list[Bundle] = field(default_factory=list)
    left_alone: list[tuple[str, str]] = field(default_factory=list)
    noise: int = 0
    empty_folders: list[Path] = field(default_factory=list)
    paths: dict[str, Path] = field(default_factory=dict)


def scan_drop_folder(drop: Path, known: Mapping[str, Path] | None = None) -> FolderScan:
    """Look at everything under `drop`; OSError if the folder itself cannot be read.

    `known` are the paths of the pass before: making them anew is half the work of a pass.
    """
    seen = FolderScan()
    with os.scandir(drop) as entries:
        _walk(list(entries), (), seen, known or {})
    return seen


def _walk(
    entries: list[os.DirEntry[str]],
    sub: tuple[str, ...],
    seen: FolderScan,
    known: Mapping[str, Path],
) -> None:
    files: dict[str, Found] = {}
    for entry in entries:
        try:
            found = entry.stat(follow_symlinks=False)
        except OSError:
            continue  # gone since, or not readable: the next pass will tell
        if stat.S_ISREG(found.st_mode):
            if file_names.is_noise(entry.name):
                seen.noise += 1
            else:
                path = known.get(entry.path) or Path(entry.path)
                seen.paths[entry.path] = path
                files[entry.name] = Found(path, sub, found)
        elif stat.S_ISDIR(found.st_mode):
            _enter(entry, sub, seen, known)
        else:
            seen.left_alone.append((_shown(entry, sub), _kind(found.st_mode)))
    seen.bundles.extend(_bundles(files))


def _shown(entry: os.DirEntry[str], sub: tuple[str, ...]) -> str:
    return "/".join(map(file_names.shown, (*sub, entry.name)))


def _enter(
    entry: os.DirEntry[str], sub: tuple[str, ...], seen: FolderScan, known: Mapping[str, Path]
) -> None:
    if file_names.is_noise_folder(entry.name):
        seen.noise += 1
        return
    if len(sub) >= DEPTH:
        seen.left_alone.append((_shown(entry, sub), "a folder too deep inside other folders"))
        return
    try:
        with os.scandir(entry.path) as entries:
            inside = list(entries)
    except OSError as error:
        if os.path.lexists(entry.path):
            why = f"a folder that cannot be read: {error.strerror}"
            seen.left_alone.append((_shown(entry, sub), why))
        return
    if not inside:
        seen.empty_folders.append(Path(entry.path))
    _walk(inside, (*sub, entry.name), seen, known)


def _kind(mode: int) -> str:
    if stat.S_ISLNK(mode):
        return "a link; drop the file itself"
    if stat.S_ISFIFO(mode):
        return "a pipe, not a file"
    return "a device or socket, not a file"


def _bundles(files: dict[str, Found]) -> Iterator[Bundle]:
    art = {
        name: Bundle(found) for name, found in files.items() if not file_names.companion_of(name)
    }
    stray: list[tuple[str, str]] = []
    for name, found in files.items():
        belongs = file_names.companion_of(name)
        if belongs is None:
            continue
        owner, kind = art.get(belongs[0]), belongs[1]
        if owner is None:
            stray.append((name, belongs[0]))
            yield Bundle(found, alone=kind)
        elif kind == "ticket" and owner.ticket is None:
            owner.ticket = found
        elif kind == "mask" and owner.mask is None:
            owner.mask = found
        else:
            yield Bundle(found, alone=kind)
    _name_meant(art, stray)
    yield from art.values()


def _name_meant(art: dict[str, Bundle], stray: list[tuple[str, str]]) -> None:
    """Tell the art beside which a ticket or mask lies that only lacks the ending in its name."""
    if not stray:
        return
    stems: dict[str, list[Bundle]] = {}
    for name, bundle in art.items():
        stems.setdefault(file_names.split_suffix(name)[0], []).append(bundle)
    for name, stem in stray:
        meant = [one for one in stems.get(stem, []) if not one.companions()]
        if len(meant) == 1:
            meant[0].misnamed = name
