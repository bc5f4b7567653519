"""The last move of a customer's files: to originals/ or rejected/.

What can be half-done when we die here: the places are chosen but the refusal is not logged, it is
logged but the note is missing, the note is there but the file still in the job's hands, or the
ticket has gone ahead of its art. Each is finished from what job.json says and what `held/` still
holds.
"""

from __future__ import annotations

import contextlib
import json

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import Job
from filmhand.worker.wire import refusal_from_json

_TAIL = 1 << 20


def retire(job: Job, context: JobContext) -> None:
    """Move the art that became films, with its ticket and mask, to originals/."""
    _put_away(job, context.folders.place("originals", job.sub), why=None)


def reject(job: Job, context: JobContext) -> None:
    """Log the refusal, lay the note beside the place, then move the art there."""
    refused = refusal_from_json(job.decision.refusal or {})
    folder = context.folders.place("rejected", job.sub)
    why = context.why_note(job.shown, refused, is_scan=job.taken.is_scan)
    again = bool(job.put_away.kept)  # the places are noted before the line is written
    _choose_places(job, folder, why=why)
    if not job.put_away.logged:
        job.folder.lstat()  # an error if another host took the job over while this one slept
        if not (again and _is_logged(job, context)):
            _log(job, context, folder)
        job.put_away.logged = True
        failpoint("refusal logged")
        job.save()
    _put_away(job, folder, why=why)


def _log(job: Job, context: JobContext, folder: Beneath) -> None:
    own = f"rejections.{context.host}.jsonl" if context.shared() else "rejections.jsonl"
    sub = folder.names_below(context.folders.rejected)
    line = {
        "schema": "filmhand-refusal/1",
        "at": job.decision.at,
        "job": job.id,
        "profile": job.profile,
        "name": job.shown,
        "sha256": job.decision.sha256,
        "kept": "/".join(map(file_names.shown, (*sub, job.put_away.kept["art"]))),
        **(job.decision.refusal or {}),
    }
    aside = context.folders.hidden / "set-aside"
    atomic.append_line(context.folders.rejected / own, json.dumps(line).encode(), aside=aside)


def _is_logged(job: Job, context: JobContext) -> bool:
    """True if an earlier try, of whichever host, came as far as the line."""
    return any(_tells_of(path, job.id) for path in context.folders.refusal_logs())


def _tells_of(path: Beneath, job: str) -> bool:
    """True if the end of the log already tells of the job: a kill may have come after the line."""
    end = path.read_end(_TAIL)
    if job.encode() not in end:
        return False  # nearly always; spares taking a year's lines apart
    return any(_job_of(line) == job for line in end.splitlines())


def _job_of(line: bytes) -> str | None:
    with contextlib.suppress(ValueError, AttributeError):
        return str(json.loads(line).get("job"))
    return None


def _choose_places(job: Job, folder: Beneath, *, why: str | None) -> None:
    if job.put_away.kept:
        return
    job.put_away.kept = _free_names(job, folder, why is not None)
    if why is not None:
        atomic.write_atomic(job.folder / "why.txt", why.encode())
    job.save()
    failpoint("places recorded")


def _put_away(job: Job, folder: Beneath, *, why: str | None) -> None:
    while True:
        _choose_places(job, folder, why=why)
        try:
            _move_all(job, folder)
        except FileExistsError:
            # Somebody else put a file there meanwhile. What has gone ahead stays; the rest takes
            # the next free names.
            job.put_away.kept = {}
            continue
        return


def _move_all(job: Job, folder: Beneath) -> None:
    note = job.folder / "why.txt"
    if "why" in job.put_away.kept and note.exists():
        atomic.publish_no_replace(note, folder / job.put_away.kept["why"])
        failpoint("why written")
    for kind, name in job.files():
        if not job.has(name):
            continue
        atomic.move_no_replace(job.held / name, folder / job.put_away.kept[kind])
        if kind != "art":
            failpoint("companions put away")
    failpoint("art put away")


def _free_names(job: Job, folder: Beneath, with_why: bool) -> dict[str, str]:
    """A numbering under which all files of the job are free.

    A ticket or mask keeps the art's name as it was written in its own. Refused art with the name of
    a refusal log gets another, as `rejections-art.jsonl`.
    """
    parts = {"art": (job.taken.art, "")}
    for kind, name in job.files():
        if kind != "art":
            end = file_names.companion_end(name)
            parts[kind] = name[: len(name) - len(end)], end
    if with_why:
        parts["why"] = job.taken.art, file_names.WHY_END
        if file_names.is_refusal_log(job.taken.art):
            parts = {kind: (file_names.no_log(name), end) for kind, (name, end) in parts.items()}

    def called(number: int) -> dict[str, str]:
        return {
            kind: file_names.numbered(name, number, room=len(end)) + end
            for kind, (name, end) in parts.items()
        }

    def free(number: int) -> bool:
        return not any((folder / name).exists() for name in called(number).values())

    return called(file_names.first_free(free))
