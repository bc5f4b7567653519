"""Several jobs on one sheet, from gathering them until each goes on by itself.

::

    .filmhand/<host>/<gang>/
        job.json    the gang: its members in the order of their coming, what is being published
        <job>/      the folder of each member, which is an ordinary job's
        out/        the film that they share, their proofs and records

A gang lies in one folder, so another host takes it over with one rename. It lives only from the
claim to the film: whoever is refused, has to go alone or is done leaves it by one rename of the
member's folder, and is an ordinary job from then on. Nobody gets a strike here: if the worker dies,
all leave and are made one by one, and whoever did it is found out as always.

What can be half-done when we die here: some members are claimed and some still in the drop folder;
some have left and some have not; those without room are half-way into the folder of the next gang,
which lies inside this one until it is whole. Each is finished from what lies there.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.forms import is_job_id
from filmhand.disk.set_aside import set_aside
from filmhand.errors import Refused
from filmhand.intake.scan import Bundle
from filmhand.jobs.claim import (
    Gone,
    NotSettled,
    claim_art,
    complete,
    end,
    give_back,
    new_job,
    unchanged,
)
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import GangPart, Item, Job, State, TakenFiles, new_id, utc_text
from filmhand.jobs.render_job import (
    NOT_SURE,
    NOTE_SUFFIX,
    copy_durably,
    copy_unchanged,
    earlier_film,
    empty_out,
    final_names,
    free_number,
    hold_of,
    numbered_stem,
    request_of,
    stage_orders,
    write_order,
    write_record,
)
from filmhand.jobs.scratch import scratch_folder
from filmhand.request import GangResult, JobRequest
from filmhand.worker.parent import WorkerDied, WorkerKilled
from filmhand.worker.wire import refusal_to_json

_TOLD = ("warnings", "reminders", "left_out")

# --- gathering -----------------------------------------------------------------------------------


def gather(
    bundles: Sequence[Bundle],
    folder: Beneath,
    profile: str,
    snapshot: dict[str, Any],
    context: JobContext,
    *,
    lost: Callable[[Beneath, Exception], None],
) -> Job:
    """Claim each bundle as a member of a new gang; `lost` hears of those that could not be."""
    members = [new_id(context.now()) for _ in bundles]
    job = new_job(bundles[0], folder, profile, snapshot)
    job.taken, job.gang = TakenFiles(job.taken.art), GangPart(members)
    job.state = State.GATHERING
    job.folder.mkdir(parents=True, within=context.folders.hidden)
    failpoint("gang folder made")
    job.save()
    atomic.fsync_folder(context.own)
    failpoint("gang noted")
    for bundle, member in zip(bundles, members, strict=True):
        try:
            claim_art(new_job(bundle, job.folder / member, profile, snapshot), context)
        except (NotSettled, Gone) as error:
            lost(bundle.art.path, error)
    failpoint("members claimed")
    return job


def finish_gathering(job: Job, context: JobContext) -> None:
    """Take the gang from GATHERING to GANGED, with those that are in its hands."""
    for member in inside(job, context):
        if member.state is not State.CLAIMING:
            continue
        if not member.has(member.taken.art):
            give_back(member, context)
            continue
        try:
            complete(member, context)
        except NotSettled as error:
            context.say("given back", job=member.id, name=member.shown, why=str(error))
    job.state = State.GANGED
    job.save()
    failpoint("gang complete")


def inside(job: Job, context: JobContext) -> list[Job]:
    """The members that are in the gang's folder, in order; one without notes leaves at once."""
    found = []
    for name in job.gang.members:
        folder = job.folder / name
        if not folder.is_dir():
            continue
        try:
            found.append(Job.load(folder))
        except ValueError:
            _let_go(folder, context)
    return found


def touched(job: Job, context: JobContext) -> bool:
    """True if art, ticket or mask of the job, or of a gang's members, was written on meanwhile."""
    return any(
        one.has(name) and not unchanged(one, name)
        for one in (inside(job, context) if job.gang.members else [job])
        for _, name in one.files()
    )


# --- making --------------------------------------------------------------------------------------


def make_sheet(job: Job, context: JobContext) -> None:
    """Take the gang from GANGED to PUBLISHING, or to PARTING where there is nothing to share."""
    members = []
    for member in inside(job, context):
        if member.state is State.CLAIMED:
            members.append(member)
        else:
            _let_go(member.folder, context)
    if len(members) < 2 or context.render_gang is None:
        part_next(job)
        return
    with ExitStack() as stack:
        requests = []
        for member in members:
            scratch = stack.enter_context(scratch_folder(member, context, shared=False))
            try:
                requests.append(_request(member, context, scratch))
            except NotSettled as error:
                context.say("given back", job=member.id, name=member.shown, why=str(error))
                give_back(member, context)
                return  # still GANGED, without this one
        gang = _rendered(job, requests, context, context.render_gang)
        if gang is None:
            part_next(job)
            return
        failpoint("sheet made")
        _send_away(job, members, gang, context)
        if len(gang.placed) < 2:
            part_next(job)
            return
        _stage(job, {n: members[n] for n in sorted(gang.placed)}, gang, context)


def part_next(job: Job) -> None:
    """Nothing is to be shared: each member goes on as a job of its own."""
    job.publication.items, job.state = [], State.PARTING
    job.save()
    failpoint("gang parts")


def _request(member: Job, context: JobContext, scratch: Beneath) -> JobRequest:
    member.decision.sha256 = copy_unchanged(member, member.taken.art, scratch / "art")
    return request_of(member, context, scratch)


def _rendered(
    job: Job,
    requests: list[JobRequest],
    context: JobContext,
    render: Callable[[list[JobRequest]], GangResult],
) -> GangResult | None:
    """What became of each; None if they cannot be made together and nobody can say whose fault."""
    try:
        return render(requests)
    except WorkerKilled as killed:
        context.say("worker ended from outside", job=job.id, name=job.shown, how=killed.how)
    except WorkerDied as died:
        context.counts.add(strikes=1)
        context.say("worker failed", job=job.id, name=job.shown, how=died.how, strikes=0)
    except Refused as refused:
        context.say("one by one", job=job.id, name=job.shown, why=refused.say)
    return None


def _send_away(job: Job, members: list[Job], gang: GangResult, context: JobContext) -> None:
    """Those that are refused, go alone or found no room leave."""
    for number, refused in sorted(gang.refused.items()):
        leave_refused(members[number], refusal_to_json(refused), context)
    for number, why in sorted(gang.alone.items()):
        context.say("goes alone", job=members[number].id, name=members[number].shown, why=why)
        _let_go(members[number].folder, context)
    left = [members[number] for number in sorted(gang.left)]
    if len(left) == 1:
        _let_go(left[0].folder, context)
    elif left:
        _next_gang(job, left, context)


def leave_refused(member: Job, refusal: dict[str, Any], context: JobContext) -> None:
    """The member gets no film, and goes on as a job of its own."""
    member.decision.refusal = refusal
    member.state, member.decision.at = State.REJECTING, utc_text(context.now())
    member.save()
    failpoint("refusal recorded")
    _let_go(member.folder, context)


def _next_gang(job: Job, left: list[Job], context: JobContext) -> None:
    """A gang of those without room; it is made inside this one's folder, and leaves it whole."""
    folder = job.folder / new_id(context.now())
    taken, members = TakenFiles(left[0].taken.art), GangPart([one.id for one in left])
    after = Job(folder, folder.name, job.profile, job.snapshot, job.sub, taken, State.GANGED)
    after.gang = members
    folder.mkdir()
    after.save()
    for member in left:
        atomic.rename_durably(member.folder, folder / member.id)
        failpoint("left for another sheet")
    _let_go(folder, context)


def _let_go(folder: Beneath, context: JobContext) -> None:
    """From here the member is a job of its own."""
    if (context.own / folder.name).exists():
        # An id comes once in the world; whoever forged the second of it has it set aside.
        context.say("set aside", job=folder.name, what=set_aside(folder, context.folders.hidden))
        return
    atomic.rename_durably(folder, context.own / folder.name)
    failpoint("member let go")


# --- naming --------------------------------------------------------------------------------------


def _stage(job: Job, members: dict[int, Job], gang: GangResult, context: JobContext) -> None:
    """Copy film and proofs into the gang's folder, choose names, and record both."""
    empty_out(job)
    files: dict[str, list[str]] = {}
    job.publication.films = []
    for number, member in members.items():
        film = gang.placed[number]
        earlier, sure = earlier_film(member, context)
        for form, path in film.files.items():
            if form not in files:
                target = job.out / f"sheet{path.suffix}"
                files[form] = [target.name, copy_durably(path, target)]
        proof = job.out / f"{member.id}.proof{film.proof.suffix}"
        job.publication.films.append(
            {
                "member": member.id,
                "art": member.taken.art,
                "sha256": member.decision.sha256,
                "earlier": earlier,
                "companions": member.decision.companions,
                "suffix": "",
                "record": film.record if sure else {**film.record, **NOT_SURE},
                "files": files,
                "proof": [proof.name, copy_durably(film.proof, proof)],
            }
        )
    stage_orders(job, [gang.placed[next(iter(members))]], context.now())
    job.decision.at = utc_text(context.now())
    profile = context.profile_of(job.snapshot)
    job.hold = hold_of(job, profile, [one.record for one in gang.placed.values()], one_sheet=True)
    failpoint("sheet staged")
    name_sheet(job, context)


def name_sheet(job: Job, context: JobContext, *, afresh: bool = False) -> None:
    """Choose free stems, write the records, and save as PUBLISHING.

    Record and proof of the first art have the film's own stem, so that each film has a record of
    its name; those of the others are named after their art. `afresh` is as for
    :func:`filmhand.jobs.render_job.give_names`.
    """
    chosen: set[str] = set()
    for number, film in enumerate(job.publication.films):
        clean = file_names.clean_stem(film["art"])
        if number == 0:
            clean += f"-and-{len(job.publication.films) - 1}-more"
        suffixes = ("", NOTE_SUFFIX) if number == 0 and job.hold.waits else ("",)
        count = free_number(job, context, clean, suffixes, besides=chosen, afresh=afresh)
        film["stem"] = numbered_stem(clean, count)
        chosen.add(file_names.compared(film["stem"]))
    job.publication.stem = job.gang.sheet = job.publication.films[0]["stem"]
    films = final_names(job.publication.films[0], job.gang.sheet)
    # Each choice of names has files of its own: "the source is gone" must mean "published".
    choice = hashlib.sha256(
        json.dumps([f["stem"] for f in job.publication.films]).encode()
    ).hexdigest()[:12]
    records = [_write_record(job, film, films, choice) for film in job.publication.films]
    proofs = [
        Item(source, "proofs", film["stem"] + Path(source).suffix, digest)
        for film in job.publication.films
        for source, digest in [film["proof"]]
    ]
    sheet = [
        Item(source, "positives", films[form], digest)
        for form, (source, digest) in job.publication.films[0]["files"].items()
    ]
    first = job.publication.films[0]
    orders = [write_order(job, first, job.gang.sheet)] if "order" in first else []
    job.publication.items = [*records, *proofs, *orders, *sheet]
    job.state = State.HELD if job.hold.waits else State.PUBLISHING
    job.save()
    failpoint("sheet named")


def _write_record(job: Job, film: dict[str, Any], files: dict[str, str], choice: str) -> Item:
    record, member = dict(film["record"]), film["member"]
    record["film"] = {**record.get("film", {}), "files": files}
    record["gang"] = {**record.get("gang", {}), "film": next(iter(files.values()))}
    source = f"{member}.{choice}.record.json"
    return write_record(job, source, record, stem=film["stem"], of=member, earlier=film["earlier"])


# --- parting -------------------------------------------------------------------------------------


def part(job: Job, context: JobContext) -> None:
    """Let every member go on as a job of its own, and end the gang."""
    made = {film["member"]: film for film in job.publication.films} if job.publication.items else {}
    for member in inside(job, context):
        film = made.get(member.id)
        if film is not None:
            member.decision.sha256, member.decision.earlier = film["sha256"], film["earlier"]
            member.decision.companions = film.get("companions", {})
            member.decision.at, member.publication.stem, member.gang.sheet = (
                job.decision.at,
                film["stem"],
                job.gang.sheet,
            )
            # What the page and messages tell of it goes along; the rest is published by now.
            told = {key: film["record"][key] for key in _TOLD if key in film["record"]}
            member.publication.films = [{"suffix": "", "files": film["files"], "record": told}]
            member.state = State.RETIRING
            member.save()
        _let_go(member.folder, context)
    let_all_go(job.folder, context)
    end(job, context)


def let_all_go(folder: Beneath, context: JobContext) -> int:
    """Whatever job still lies in a gang's folder is a job of its own; how many there were."""
    inside = [path for path in folder.iterdir() if is_job_id(path.name) and path.is_dir()]
    for path in inside:
        _let_go(path, context)
    return len(inside)
