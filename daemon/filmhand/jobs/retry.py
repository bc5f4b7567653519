"""Refused art on its way back from rejected/ into the drop folder.

What can be half-done when we die here: the intention is on disk before the first rename, then
`held/` fills, the art first, and the note follows into the job's folder. Until everything is
fetched the state is RETURNING; then it is an ordinary giving back. The job lies in a host's folder
of its own, with the sign of life of the process that does it, so that a service takes it over if
that process dies.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from filmhand.digest import sha256_of
from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath, is_single
from filmhand.disk.folders import Folders
from filmhand.intake.scan import CALIBRATE
from filmhand.jobs.claim import Gone, end, give_back
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import Job, PutAway, State, TakenFiles
from filmhand.jobs.ledger import lines_of, refusal_line


def refusals(folders: Folders) -> Iterator[dict[str, Any]]:
    """Every line of the refusal logs that can be read."""
    for log in folders.refusal_logs():
        for line in lines_of(log):
            with contextlib.suppress(ValueError):
                yield refusal_line(line)


def find_refused(folders: Folders, told: dict[str, Any]) -> Beneath | None:
    """The file that a line of the refusal log tells of, found by its place and its content.

    A file that another line tells of is never taken for it, though its content be the same.
    """
    others = {one.get("kept") for one in refusals(folders) if one["job"] != told["job"]}
    for shown in (told.get("kept"), told.get("name")):
        if not isinstance(shown, str):
            continue
        *sub, name = shown.split("/")
        folder = folders.rejected
        for part in sub:
            folder = _shown_as(folder, part)
        for entry in _candidates(folder, name):
            path = folder / entry
            place = "/".join((*sub, file_names.shown(entry)))
            if (place != told.get("kept") and place in others) or not path.is_file():
                continue
            if not told.get("sha256"):  # it could not be read when it was refused
                same = place == told.get("kept")
            else:
                same = sha256_of(path) == told["sha256"]
            if same:
                return path
    return None


def _candidates(folder: Beneath, name: str) -> list[str]:
    """The names in `folder` that `name` may have been given, itself first."""
    own, found = file_names.split_suffix(name), []
    for entry in _entries(folder):
        stem, suffix = file_names.split_suffix(file_names.shown(entry))
        if suffix == own[1] and stem.startswith(own[0]):
            found.append(entry)
    return sorted(found, key=lambda entry: (file_names.shown(entry) != name, entry))


def _entries(folder: Beneath) -> list[str]:
    try:
        return folder.names()
    except OSError:
        return []


def _shown_as(folder: Beneath, part: str) -> Beneath:
    if not is_single(part):
        return folder / "-"  # no folder of filmhand's
    found = [entry for entry in _entries(folder) if file_names.shown(entry) == part]
    return folder / (found[0] if found else part)


def way_back(context: JobContext, art: Beneath, *, name: str, identity: str, profile: str) -> Job:
    """Note the intention to bring a refused file back, under its first name if that is free."""
    folder = art.parent
    companions = {
        found[1]: entry
        for entry in _entries(folder)
        if (found := file_names.companion_of(entry)) is not None
        and file_names.compared(found[0]) == file_names.compared(art.name)
    }
    sub = folder.names_below(context.folders.rejected)
    is_scan = name.rpartition("/")[0] == "/".join((CALIBRATE, *map(file_names.shown, sub)))
    own = _first_name(art.name, name)
    ends = {kind: file_names.companion_end(entry) for kind, entry in companions.items()}
    folders = context.folders
    count, drop = 1, (folders.calibrate if is_scan else folders.drop).joinpath(*sub)
    while any(
        (drop / (file_names.numbered(own, count, room=len(end)) + end)).exists()
        for end in ("", *ends.values())
    ):
        count += 1
    job = Job(
        folder=context.own / identity,
        id=identity,
        profile=profile,
        snapshot={},
        sub=sub,
        taken=TakenFiles(
            file_names.numbered(own, count, room=max(map(len, ends.values()), default=0)),
            is_scan=is_scan,
        ),
        state=State.RETURNING,
        put_away=PutAway({"art": art.name, "why": art.name + file_names.WHY_END, **companions}),
    )
    job.taken.ticket = job.taken.art + ends["ticket"] if "ticket" in ends else None
    job.taken.mask = job.taken.art + ends["mask"] if "mask" in ends else None
    job.held.mkdir(parents=True, within=context.folders.hidden)
    job.save()
    atomic.fsync_folder(context.own)
    failpoint("way back noted")
    return job


def _first_name(kept: str, shown: str) -> str:
    """The name that the file was dropped with, where the log could show it as it is."""
    first = shown.rpartition("/")[2]
    return kept if "\ufffd" in first or not first else first


def bring_back(job: Job, context: JobContext) -> None:
    """Fetch what is still in rejected/, then give all back; Gone if the art is gone."""
    folder = context.folders.rejected.joinpath(*job.sub)
    for kind, name in reversed(job.files()):  # the art first: without it nothing is fetched
        if not job.has(name):
            try:
                atomic.claim_by_rename(folder / job.put_away.kept[kind], job.held / name)
            except FileNotFoundError:
                if kind == "art":
                    end(job, context)
                    raise Gone(file_names.shown(job.put_away.kept["art"])) from None
                setattr(job.taken, kind, None)
        failpoint("refused art fetched" if kind == "art" else "companions fetched")
    with contextlib.suppress(FileNotFoundError):
        atomic.claim_by_rename(folder / job.put_away.kept["why"], job.folder / "why.txt")
    failpoint("note retired")
    give_back(job, context)
    failpoint("refused art given back")
