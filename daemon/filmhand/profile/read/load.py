"""Profiles from text, files and folders."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from filmhand.errors import EnvironmentTrouble, Fault, FaultyFile, ProfileError
from filmhand.profile.inks import ink_folders
from filmhand.profile.model import Profile, Settings
from filmhand.profile.read.curve import (
    MEASURED,
    CurveError,
    CurveText,
    ReadMeasured,
    curve_reader,
    curves_in,
    measured_beside,
)
from filmhand.profile.read.document import (
    LARGEST_BYTES,
    Document,
    Plain,
    decode_text,
    dotted,
    read_document,
)
from filmhand.profile.read.icc_head import reference_to
from filmhand.profile.read.read_words import FileFault
from filmhand.profile.read.schema import KEYS, SettingFault, check_settings
from filmhand.profile.read.sentences import nearest

PROFILE_SUFFIXES = (".yaml", ".yml")
_RESERVED = {"profiles", "status"}
"""Names that the station's own folder needs."""


def read_profile(
    text: str,
    *,
    name: str,
    file: str,
    curve_dir: Path | None = None,
    measured: ReadMeasured | None = None,
) -> Profile:
    """The profile that the text describes.

    Parameters
    ----------
    name, file : str
        The profile's name, and the file as messages name it.
    curve_dir : Path, optional
        Where curve files named in ``tone.gain`` lie.
    measured : optional
        Gives the reading that ``tone.gain: measured`` asks for.

    Raises
    ------
    ProfileError
        With every fault of the text, sorted by line.
    """
    document = read_document(text)
    if not document.whole:
        raise ProfileError(FaultyFile(file, tuple(document.faults)))
    elsewhere = document.data.get("folder")

    def newest() -> CurveText | None:
        folder = Path(elsewhere) if isinstance(elsewhere, str) else None
        return None if measured is None else measured(name, folder)

    read_curve = curve_reader(curve_dir, newest)
    used: dict[str, str] = {}
    passed_over: list[str] = []

    def remember(curve: str) -> CurveText | None:
        found = read_curve(curve)
        if found is not None:
            used[found.name] = found.text
            passed_over.extend(found.passed_over)
        return found

    verdict = check_settings(document.data, read_curve=remember, written=document.written)
    faults = faults_at(verdict.troubles, document)
    if faults or verdict.settings is None:
        raise ProfileError(FaultyFile(file, tuple(faults)))
    for ink in ink_folders(verdict.settings.inks, verdict.settings.underbase):
        if measured is None or not goes_by_readings(document.data):
            break
        try:
            found = measured(name, Path(elsewhere) if isinstance(elsewhere, str) else None, ink)
        except CurveError as fault:
            told = Fault(*document.place(("tone", "gain")), "tone.gain", str(fault))
            raise ProfileError(FaultyFile(file, (told,))) from None
        if found is not None:
            used[found.name] = found.text
            passed_over.extend(found.passed_over)
    profile = build_profile(verdict.settings, name=name, text=text, raw=document.data, curves=used)
    return replace(profile, passed_over=tuple(passed_over))


def goes_by_readings(data: Mapping[str, Plain]) -> bool:
    """Whether a profile's ``tone.gain`` is ``measured``."""
    tone = data.get("tone")
    return isinstance(tone, Mapping) and tone.get("gain") == MEASURED


def build_profile(
    settings: Settings, *, name: str, text: str, raw: Mapping[str, Plain], curves: Mapping[str, str]
) -> Profile:
    """A profile of settings that are already checked. ``raw`` is what they were read from."""
    fields: dict[str, Any] = {key: getattr(settings, key) for key in KEYS}
    return Profile(
        **fields,
        name=name,
        text=text,
        sha256=hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest(),
        settings=json.dumps(raw, ensure_ascii=False, sort_keys=True),
        curves=tuple(sorted(curves.items())),
    )


def load_profile(path: Path, *, measured: ReadMeasured | None = None) -> Profile:
    """The profile in a file; its name is the file's stem.

    ``measured`` gives the reading of ``tone.gain: measured``; without it that of the station which
    the file lies in.

    Raises
    ------
    ProfileError
        With every fault, also where the file cannot be read.
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        message = FileFault.CANNOT_READ.say(why=error.strerror or error)
        if isinstance(error, FileNotFoundError):
            message = _not_there(path)
        raise ProfileError(FaultyFile(str(path), (Fault(0, 0, "", message),))) from None
    faults = [Fault(1, 1, "", message) for message in faults_of_name(path.stem)]
    text = decode_text(raw)
    if isinstance(text, Document):
        raise ProfileError(FaultyFile(str(path), (*faults, *text.faults)))
    try:
        profile = read_profile(
            text,
            name=path.stem,
            file=str(path),
            curve_dir=path.parent,
            measured=measured or measured_beside(path),
        )
    except ProfileError as error:
        raise ProfileError(FaultyFile(str(path), (*faults, *error.faulty.faults))) from None
    if faults:
        raise ProfileError(FaultyFile(str(path), tuple(faults)))
    return profile


def _not_there(path: Path) -> str:
    """What is said of a profile that is not there, with the one beside it that is called alike."""
    beside: list[str] = []
    with contextlib.suppress(OSError):
        beside = [one.name for one in profile_files(path.parent)]
    near = nearest(path.name, beside)
    if near is None:
        return FileFault.NOT_THERE.say()
    return FileFault.NOT_THERE_BUT.say(near=path.with_name(near))


def profile_files(folder: Path) -> list[Path]:
    """The files of a folder that are profiles by their names, sorted.

    OSError where the folder cannot be listed.
    """
    return sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in PROFILE_SUFFIXES and not path.name.startswith((".", "~"))
    )


def load_profiles(
    folder: Path, *, measured: ReadMeasured | None = None
) -> tuple[dict[str, Profile], list[FaultyFile]]:
    """All profiles of a folder by name, and the files that are not right.

    A folder that is not there holds no profiles. ``measured`` is as for :func:`load_profile`.

    Raises
    ------
    EnvironmentTrouble
        Where the folder cannot be listed, such as a share that is gone.
    """
    try:
        paths = profile_files(folder)
    except FileNotFoundError:
        return {}, []
    except OSError as error:
        message = FileFault.CANNOT_LIST.say(folder=folder, why=error.strerror or error)
        raise EnvironmentTrouble(message) from error
    profiles: dict[str, Profile] = {}
    faulty: list[FaultyFile] = []
    taken: dict[str, Path] = {}
    for path in paths:
        # Small.yaml and small.yml would share a folder on a disk that ignores case.
        first = taken.setdefault(path.stem.casefold(), path)
        if first is not path:
            message = FileFault.SAME_NAME.say(first=first.name, profile=path.stem)
            faulty.append(FaultyFile(str(path), (Fault(1, 1, "", message),)))
            continue
        try:
            profiles[path.stem] = load_profile(path, measured=measured)
        except ProfileError as error:
            faulty.append(error.faulty)
    return profiles, faulty


def to_snapshot(profile: Profile) -> dict[str, Any]:
    """All that another process needs to read the same profile again, fit for JSON.

    A ticket that was read into the profile is kept.
    """
    return {
        "name": profile.name,
        "text": profile.text,
        "settings": profile.settings,
        "curves": dict(profile.curves),
    }


def from_snapshot(snapshot: Mapping[str, Any]) -> Profile:
    """The profile that :func:`to_snapshot` was given, equal to it in every field.

    Raises
    ------
    ProfileError
        Where the snapshot comes from a version with other settings.
    """
    raw = json.loads(snapshot["settings"])
    curves: dict[str, str] = dict(snapshot["curves"])
    verdict = check_settings(raw, read_curve=curves_in(curves), written={})
    name = str(snapshot["name"])
    if verdict.settings is None:
        faults = tuple(Fault(1, 1, dotted(t.path), t.message) for t in verdict.troubles)
        raise ProfileError(FaultyFile(name, faults))
    return build_profile(verdict.settings, name=name, text=snapshot["text"], raw=raw, curves=curves)


def with_icc_at(profile: Profile, path: Path) -> Profile:
    """The profile, whose ICC profile lies at another place, such as on another computer.

    What it is known by, its hash, stays.
    """
    if profile.icc is None:
        return profile
    file = profile.icc.file
    curves = dict(profile.curves) | {file.name: reference_to(path, file.sha256)}
    return from_snapshot({**to_snapshot(profile), "curves": curves})


def faults_at(troubles: list[SettingFault], document: Document) -> list[Fault]:
    """The document's own faults and the troubles at their places, sorted by line."""
    faults = list(document.faults)
    for trouble in troubles:
        path = trouble.path
        # A fault of the text itself may already tell why this setting is not right.
        told = path in document.unread or (trouble.missing and path[:-1] in document.unread)
        if not told:
            faults.append(Fault(*document.place(path), dotted(path), trouble.message))
    return sorted(faults, key=lambda fault: (fault.line, fault.column))


def faults_of_name(stem: str) -> list[str]:
    """Why a file name cannot name a profile, which is a folder of the station too."""
    if stem.lower() in _RESERVED:
        return [FileFault.RESERVED.say(name=stem)]
    unfit = sorted({c for c in stem if c in '<>:"/\\|?*' or not c.isprintable()})
    if unfit or stem.startswith(("-", ".")) or stem.endswith((" ", ".")):
        return [FileFault.UNFIT_NAME.say()]
    if len(stem.encode("utf-8", "surrogateescape")) > 100:
        return [FileFault.LONG_NAME.say()]
    return []
