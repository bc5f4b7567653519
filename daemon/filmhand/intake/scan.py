"""One pass over a drop folder: what is there, what belongs together, what is left alone.

The pass only looks. Events of the system merely make it happen sooner; the pass itself is the
truth, so an event that is lost costs a moment and nothing else.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.intake.intake_words import IntakeWord
from filmhand.values import dataclass

DEPTH = 12  # levels of sub-folders that are read
CALIBRATE = "calibrate"  # the folder of scans, before their names
NAMED = 500  # waiting art of which more than the number is kept


@dataclass(slots=True)
class Found:
    """One regular file in the drop folder."""

    path: Beneath
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
    misnamed: str | None = None  # a ticket or mask that lacks its ending, or fits two names
    is_scan: bool = False  # of a wedge, from calibrate/

    def companions(self) -> list[Found]:
        """Ticket and mask, as far as they are there."""
        return [one for one in (self.ticket, self.mask) if one is not None]

    @property
    def shown(self) -> str:
        """The art's name with its sub-folder, as people may see it."""
        above = (CALIBRATE,) if self.is_scan else ()
        return "/".join(map(file_names.shown, (*above, *self.art.sub, self.art.name)))


@dataclass(slots=True)
class FolderScan:
    """Everything that one pass saw."""

    bundles: list[Bundle] = field(default_factory=list)
    left_alone: list[tuple[str, str]] = field(default_factory=list)
    noise: int = 0
    empty_folders: list[Beneath] = field(default_factory=list)
    paths: dict[tuple[str, ...], Beneath] = field(default_factory=dict)
    folders: list[str] = field(default_factory=list)  # that were looked into, `drop` first


def scan_calibrate_folder(
    calibrate: Beneath, known: Mapping[tuple[str, ...], Beneath] | None = None
) -> FolderScan:
    """Look at the scans of wedges under `calibrate`, as :func:`scan_drop_folder` does at art."""
    seen = scan_drop_folder(calibrate, known)
    for bundle in seen.bundles:
        bundle.is_scan = True
    seen.left_alone = [(f"{CALIBRATE}/{name}", why) for name, why in seen.left_alone]
    return seen


def scan_drop_folder(
    drop: Beneath, known: Mapping[tuple[str, ...], Beneath] | None = None
) -> FolderScan:
    """Look at everything under `drop`; OSError if the folder itself cannot be read.

    `known` are the places of the pass before: making them anew is half the work of a pass.
    """
    seen = FolderScan(folders=[str(drop)])
    _walk(drop, drop.scan(), (), seen, known or {})
    return seen


def dropped_bundles(folders: Folders) -> list[Bundle]:
    """All that lies in a profile's folders for people to drop into, art first.

    OSError if its drop folder cannot be read.
    """
    found = scan_drop_folder(folders.drop).bundles
    with contextlib.suppress(OSError):
        found += scan_calibrate_folder(folders.calibrate).bundles
    return found


def _walk(
    folder: Beneath,
    entries: list[tuple[str, os.stat_result]],
    sub: tuple[str, ...],
    seen: FolderScan,
    known: Mapping[tuple[str, ...], Beneath],
) -> None:
    files: dict[str, Found] = {}
    for name, found in entries:
        if stat.S_ISREG(found.st_mode):
            if file_names.is_noise(name):
                seen.noise += 1
            else:
                place = (*sub, name)
                path = known.get(place) or folder / name
                seen.paths[place] = path
                files[name] = Found(path, sub, found)
        elif stat.S_ISDIR(found.st_mode):
            _enter(folder / name, sub, seen, known)
        else:
            seen.left_alone.append((_shown(name, sub), _kind(found.st_mode)))
    seen.bundles.extend(_bundles(files))


def _shown(name: str, sub: tuple[str, ...]) -> str:
    return "/".join(map(file_names.shown, (*sub, name)))


def _enter(
    folder: Beneath,
    sub: tuple[str, ...],
    seen: FolderScan,
    known: Mapping[tuple[str, ...], Beneath],
) -> None:
    if file_names.is_noise_folder(folder.name):
        seen.noise += 1
        return
    if len(sub) >= DEPTH:
        seen.left_alone.append((_shown(folder.name, sub), IntakeWord.TOO_DEEP.say()))
        return
    try:
        inside = folder.scan()
    except OSError as error:
        if not isinstance(error, FileNotFoundError):
            why = IntakeWord.UNREADABLE_FOLDER.say(why=error.strerror)
            seen.left_alone.append((_shown(folder.name, sub), why))
        return
    seen.folders.append(str(folder))
    if all(file_names.is_remade(name) for name, _ in inside):
        seen.empty_folders.append(folder)
    _walk(folder, inside, (*sub, folder.name), seen, known)


def _kind(mode: int) -> str:
    if stat.S_ISLNK(mode):
        return IntakeWord.LINK.say()
    if stat.S_ISFIFO(mode):
        return IntakeWord.PIPE.say()
    return IntakeWord.DEVICE.say()


def _bundles(files: dict[str, Found]) -> Iterator[Bundle]:
    art = {
        name: Bundle(found) for name, found in files.items() if not file_names.companion_of(name)
    }
    exact: list[tuple[str, str, str]] = []  # names, of which art, ticket or mask
    other: list[tuple[str, str, str]] = []
    for name in files:
        belongs = file_names.companion_of(name)
        if belongs is not None:
            (exact if belongs[0] in art else other).append((name, *belongs))
    # Exact names first: a ticket in other capitals never takes the place of one that is right.
    alike = _by_compared_name(art.values()) if other else {}
    stray: list[tuple[str, str]] = []
    for name, belongs_to, kind in (*exact, *other):
        fitting = alike.get(file_names.compared(belongs_to), [])
        same = [art[belongs_to]] if belongs_to in art else fitting
        if len(same) != 1 or getattr(same[0], kind) is not None:
            yield Bundle(files[name], alone=kind)
        else:
            setattr(same[0], kind, files[name])
        if len(same) > 1:
            _mark_misnamed(name, same)
        elif not same:
            stray.append((name, belongs_to))
    _name_meant(art, stray)
    yield from art.values()


def _by_compared_name(bundles: Iterable[Bundle]) -> dict[str, list[Bundle]]:
    alike: dict[str, list[Bundle]] = {}
    for bundle in bundles:
        alike.setdefault(file_names.compared(bundle.art.name), []).append(bundle)
    return alike


def _name_meant(art: dict[str, Bundle], stray: list[tuple[str, str]]) -> None:
    """Tell the art beside which a ticket or mask lies that only lacks the ending in its name."""
    if not stray:
        return
    stems: dict[str, list[Bundle]] = {}
    for name, bundle in art.items():
        stem = file_names.split_suffix(name)[0]
        stems.setdefault(file_names.compared(stem), []).append(bundle)
    for name, stem in stray:
        fitting = stems.get(file_names.compared(stem), [])
        meant = [one for one in fitting if not one.companions()]
        if len(meant) == 1:
            _mark_misnamed(name, meant)


def _mark_misnamed(name: str, meant: list[Bundle]) -> None:
    """The art must not be made as if nobody had wished anything."""
    for bundle in meant:
        if not bundle.companions():
            bundle.misnamed = name
