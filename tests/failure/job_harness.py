"""A spool with a pretended renderer, for tests and for processes that tests kill.

Run as a script it works through one profile folder: ``job_harness.py ROOT STATE HOST``, and with
seconds behind that, art waits so long for more on its sheet.
The renderer is told by the art's first word what to do; everything else is the real thing.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import Quantity, Reason, Refused
from filmhand.film.formats import Format
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job
from filmhand.jobs.ledger import Ledger
from filmhand.page.why_note import why_note
from filmhand.profile.inks import InkChoice, InkWish, InkWishes
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue, QueueSettings
from filmhand.queue.task import Claim, ResumeJob, begin_job
from filmhand.request import (
    ArtSize,
    FinishedFilm,
    FinishedSet,
    JobRequest,
    JobResult,
    PrintWork,
    SheetSpace,
)
from filmhand.request import GangResult as Ganged
from filmhand.worker.parent import WorkerDied

SETTLE = 0.05


@dataclass
class Ending:
    """What a pretended look at a file's end says."""

    finished: bool = True
    why: str = ""
    hard: bool = True


def finished(path: Beneath) -> Ending:
    data = path.read_bytes(1 << 30)
    if data.startswith(b"cut"):
        return Ending(False, "the last bytes are missing", True)
    return Ending()


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def render(order: JobRequest) -> JobResult:
    data = order.art.read_bytes()
    word = data.split()[0] if data.split() else b""
    with (order.scratch.parent.parent / "renders").open("a") as log:
        log.write(order.job + "\n")
    if word == b"refuse":
        raise Refused(
            Reason.TOO_SMALL,
            "It is too small.",
            "Send a larger one.",
            found=Quantity(19, "ppi"),
            needed=Quantity(25, "ppi"),
        )
    if word == b"poison":
        raise WorkerDied("it ended by SIGSEGV")
    if word == b"slow":
        time.sleep(float(os.environ.get("RENDER_SECONDS", "1")))
    if order.is_scan:
        return _reading(order, data)
    films = [_film(order, data, suffix) for suffix in suffixes_of(data)]
    if word not in PAGES_OF_SETS:
        return JobResult(films)
    for film, (k, ink) in zip(films, INKS * len(PAGES_OF_SETS[word]), strict=True):
        page = film.suffix.removesuffix(f"-{k}-{ink}")
        one = sha256(data + page.encode())[:16]
        film.record["set"] = {"id": one, "k": k, "of": 3, "ink": ink, "color": [50.0, 0.0, 0.0]}
    sets = [FinishedSet(page, order.out / f"set{page}.jpg") for page in PAGES_OF_SETS[word]]
    for finished_set in sets:
        finished_set.proof.write_bytes(b"proof of the set")
    return JobResult(films, sets)


INKS = [(1, "red"), (2, "blue"), (3, "black")]
PAGES_OF_SETS = {b"set": [""], b"sets": ["-p01", "-p02"]}


def suffixes_of(data: bytes) -> list[str]:
    """What the names of the films have behind the stem, for art that gets films."""
    word = data.split()[0] if data.split() else b""
    if word in PAGES_OF_SETS:
        return [f"{page}-{k}-{ink}" for page in PAGES_OF_SETS[word] for k, ink in INKS]
    return ["-p01", "-p02"] if word == b"pages" else [""]


def _reading(order: JobRequest, data: bytes) -> JobResult:
    """What is kept of the scan of a wedge; of a film only its figures."""
    files = {}
    for end in (".json",) if order.sub == "film" else (".png", ".json", ".txt"):
        files[end] = order.out / f"reading{end}"
        pairs = b"10, 14\n50, 65\n90, 97\n"
        files[end].write_bytes(b"# reading of " + sha256(data).encode() + b"\n" + pairs)
    return JobResult(reading=files)


def _film(order: JobRequest, data: bytes, suffix: str) -> FinishedFilm:
    files = {}
    for form, end in ((Format.PDF, ".pdf"), (Format.TIFF, ".tif")):
        files[form] = order.out / f"made{suffix}{end}"
        files[form].write_bytes(
            b"film of " + sha256(data).encode() + suffix.encode() + end.encode()
        )
    proof = order.out / f"made{suffix}.jpg"
    proof.write_bytes(b"proof")
    companions = {
        kind: None if path is None else sha256(path.read_bytes())
        for kind, path in (("ticket", order.ticket), ("mask", order.mask))
    }
    record = {
        "schema": "filmhand-record/1",
        "film": {"sha256": {form: sha256(path.read_bytes()) for form, path in files.items()}},
        "source": {"name": order.name, "sha256": sha256(data)},
        "companions": companions,
        "for": order.sub.partition("/")[0] or None,
    }
    return FinishedFilm(suffix, files, proof, record, _printing(order, data, suffix))


def _printing(order: JobRequest, data: bytes, suffix: str) -> PrintWork | None:
    """Art that says so goes to a printer, in one sheet or in several."""
    word = data.split()[0] if data.split() else b""
    if (
        word not in {b"print", b"prints", b"pages", b"set", b"sets"}
        or b"to the printer" not in data
    ):
        return None
    documents = {}
    for form in (Format.PWG, Format.PDF):
        documents[form] = order.out / f"made{suffix}.print{form.suffix}"
        documents[form].write_bytes(b"document of " + sha256(data).encode() + suffix.encode())
    return PrintWork(
        documents, 2 if word == b"prints" else 1, (21590, 27940), (635,) * 4, (300, 300)
    )


ROOM = 3  # art files that a pretended sheet takes


def render_gang(orders: list[JobRequest]) -> Ganged:
    """As the real one: no room for more than three, pages go alone, one bad file spoils nobody."""
    made, joins = Ganged(), []
    with (orders[0].scratch.parent.parent / "sheets").open("a", errors="surrogateescape") as log:
        log.write(" ".join(order.name for order in orders) + "\n")
    for number, order in enumerate(orders):
        data = order.art.read_bytes()
        word = data.split()[0]
        if word == b"poison":
            raise WorkerDied("it ended by SIGSEGV")
        if word == b"slow":
            time.sleep(float(os.environ.get("RENDER_SECONDS", "1")))
        if word == b"refuse":
            made.refused[number] = Refused(Reason.TOO_SMALL, "It is too small.", "Send a larger.")
        elif word == b"pages":
            made.alone[number] = "it has several pages"
        else:
            joins.append(number)
    placed, made.left = joins[:ROOM], joins[ROOM:]
    if len(placed) < 2:
        made.alone |= dict.fromkeys(placed, "nothing else fits on its sheet")
        return made
    films = {}
    together = sha256(b"".join(orders[n].art.read_bytes() for n in placed)).encode()
    for form, end in ((Format.PDF, ".pdf"), (Format.TIFF, ".tif")):
        films[form] = orders[0].out / f"sheet{end}"
        films[form].write_bytes(b"sheet of " + together + end.encode())
    for number in placed:
        order = orders[number]
        one = _film(order, order.art.read_bytes(), "")
        digests = {form: sha256(path.read_bytes()) for form, path in films.items()}
        record = one.record | {
            "film": {"sha256": digests},
            "gang": {"with": [orders[n].name for n in placed if n != number]},
        }
        printing = _printing(orders[0], orders[0].art.read_bytes(), "")
        made.placed[number] = FinishedFilm("", films, one.proof, record, printing)
    return made


def room(orders: list[JobRequest], known: dict[int, ArtSize | None]) -> SheetSpace:
    """As the pretended sheet: room for three; what is refused or goes alone has no size."""
    sizes = []
    for number, order in enumerate(orders):
        if number in known:
            sizes.append(known[number])
        else:
            word = order.art.read_bytes().split()[0]
            sizes.append(None if word in {b"refuse", b"pages"} else (10, 10))
    return SheetSpace(sizes, [n for n, size in enumerate(sizes) if size is not None][:ROOM])


def profile_of(snapshot: dict[str, Any]) -> Any:
    """What jobs read of a profile."""
    return SimpleNamespace(
        name=snapshot.get("name"),
        approve=snapshot.get("approve", False),
        budget=snapshot.get("budget"),
        print=None,
        film=SimpleNamespace(stack=1),
        inks=_inks(snapshot.get("inks", ())),
        underbase=None,
    )


def _inks(names: Collection[str]) -> InkWishes | None:
    listed = tuple(InkWish(name=name, color="#b3261e") for name in names)
    return InkWishes(InkChoice.LISTED, listed=listed) if listed else None


def begun(queue: JobQueue, task: Claim | ResumeJob) -> Job:
    """The job of a task that the queue has taken, claimed and in its hands."""
    folder = queue._folder_of(task)
    lost, snapshot = queue._triage.wait_again, queue.settings.snapshot
    return begin_job(task, folder, queue.name, snapshot, queue.context, lost=lost)


def make_queue(root: Path, state: Path, host: str = "here-00000000", **options: Any) -> JobQueue:
    state.mkdir(parents=True, exist_ok=True)
    own_curves = options.pop("own_curves", ())
    settings = QueueSettings(
        snapshot={"name": "small", "inks": own_curves, **options.pop("wishes", {})},
        settle=options.pop("settle", SETTLE),
        takeover=options.pop("takeover", 900.0),
        gang=options.pop("gang", None),
        holds=options.pop("holds", False),
        budget=options.pop("budget", None),
        reads_wedges=options.pop("reads_wedges", False),
        own_curves=own_curves,
    )
    context = JobContext(
        folders=Folders(root, elsewhere=options.pop("elsewhere", False)),
        host=host,
        ledger=Ledger(state / "ledger.sqlite"),
        scratch=state / "scratch",
        render=options.pop("render", render),
        render_gang=options.pop("render_gang", render_gang),
        room=options.pop("room", room),
        profile_of=profile_of,
        why_note=why_note,
        say=options.pop("say", lambda event, **facts: None),
        now=options.pop("now", lambda: datetime.now(UTC)),
    )
    options.setdefault("finished", finished)
    return JobQueue("small", context, settings, **options)


def work_through(queue: JobQueue, *, seconds: float = 20.0) -> None:
    """Look and do until the queue is idle or paused."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        queue.look()
        while (work := queue.take()) is not None:
            queue.do(work)
        queue.look()
        if queue.idle() or queue.trouble.pause.why:
            return
        time.sleep(0.01)
    raise AssertionError(f"not idle: {queue.status()}")


def files_in(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() or path.is_symlink())


def records_in(root: Path) -> list[Path]:
    """All of them, without the logs of prints that lie beside them."""
    return [path for path in files_in(root / "records") if path.suffix != ".jsonl"]


def is_our_note(name: str) -> bool:
    log = name == "rejections.jsonl" or (name.startswith("rejections.") and name[-6:] == ".jsonl")
    return log or name.endswith(".why.txt")


def assert_invariants(
    root: Path, dropped: list[bytes], besides: Collection[str] = frozenset()
) -> None:
    """Nothing lost, doubled, half-written or left over.

    Every dropped content lies exactly once in drop, originals or rejected; every film is whole and
    has its record and proof; every refused file has its note and one line in the log; nothing is
    left in hand. `besides` are folders among the private ones that keep something.
    """
    kept: Counter[bytes] = Counter()
    for folder in ("drop", "calibrate", "originals", "rejected"):
        for path in files_in(root / folder):
            if not (folder == "rejected" and is_our_note(path.name)):
                kept[path.read_bytes()] += 1
    assert kept == Counter(dropped)
    assert files_in(root / "drop") == files_in(root / "calibrate") == []
    in_hand = [
        path
        for path in files_in(root / ".filmhand")
        if path.name not in {"alive"}
        and not path.name.startswith("turn-")  # a printer's, kept until its host ends for good
        and path.relative_to(root / ".filmhand").parts[0] not in besides
    ]
    assert in_hand == [root / ".filmhand" / "folder.json"]
    _assert_films(root, dropped)
    _assert_refusals(root, dropped)


def assert_invariants_in_hand(root: Path, dropped: list[bytes]) -> None:
    """At any moment, even between two steps: nothing lost or doubled, no film that is not whole."""
    kept: Counter[bytes] = Counter()
    for folder in ("drop", "calibrate", "originals", "rejected"):
        for path in _without_trials(root / folder):
            if not (folder == "rejected" and is_our_note(path.name)):
                kept[path.read_bytes()] += 1
    for held in (root / ".filmhand").rglob("held"):
        kept.update(path.read_bytes() for path in files_in(held))
    assert kept == Counter(dropped)
    films = {}
    for path in _without_trials(root / "records"):
        if path.suffix == ".jsonl":
            continue
        record = json.loads(path.read_bytes())
        for form, name in record["film"]["files"].items():
            folder = root / "positives" / path.parent.relative_to(root / "records")
            films[folder / name] = record["film"]["sha256"][form]
    for film in _without_trials(root / "positives"):
        assert sha256(film.read_bytes()) == films[film]  # whole, and its record was there first
    for path in _without_trials(root / "rejected"):
        if not is_our_note(path.name) and not path.name.endswith(".ticket.yaml"):
            assert path.with_name(path.name + ".why.txt").is_file()


def _without_trials(folder: Path) -> list[Path]:
    """All files but those that try for a moment whether writing works."""
    return [path for path in files_in(folder) if not path.name.endswith(".trial.tmp")]


def _assert_films(root: Path, dropped: list[bytes]) -> None:
    named = set()
    for path in records_in(root):
        record = json.loads(path.read_bytes())
        folder = root / "positives" / path.parent.relative_to(root / "records")
        for form, name in record["film"]["files"].items():
            film = folder / name
            assert sha256(film.read_bytes()) == record["film"]["sha256"][form]
            named.add(film)
        proof = root / "proofs" / path.relative_to(root / "records").with_suffix(".jpg")
        assert proof.read_bytes() == b"proof"
    assert set(files_in(root / "positives")) == named
    sets = sum(len(PAGES_OF_SETS.get(data.partition(b" ")[0], ())) for data in dropped)
    assert len(files_in(root / "proofs")) == len(records_in(root)) + sets
    made = Counter(sha256(data) for data in dropped for _ in range(_films_of(data)))
    records = [json.loads(path.read_bytes()) for path in records_in(root)]
    assert Counter(record["source"]["sha256"] for record in records) == made


def _films_of(data: bytes) -> int:
    word = data.split()[0] if data.split() else b"empty"
    nothing = {
        b"refuse",
        b"poison",
        b"cut",
        b"empty",
        b"ticket",
        b"mask",
        b"for:",
        b"gang:",
        b"scan",
    }
    if word in nothing:
        return 0
    return len(suffixes_of(data))


def _assert_refusals(root: Path, dropped: list[bytes]) -> None:
    lines = [
        json.loads(line)
        for path in (root / "rejected").glob("rejections*.jsonl")
        if is_our_note(path.name)
        for line in path.read_bytes().splitlines()
    ]
    refused = [data for data in dropped if data.split()[:1] in ([b"refuse"], [b"poison"], [b"cut"])]
    assert Counter(line["sha256"] for line in lines) == Counter(map(sha256, refused))
    assert len({line["job"] for line in lines}) == len(lines)
    notes = [path for path in files_in(root / "rejected") if path.name.endswith(".why.txt")]
    assert len(notes) == len(refused)
    for note in notes:
        assert note.with_name(note.name.removesuffix(".why.txt")).is_file()


def forbid_removing(root: Path) -> None:
    """End this process if anything removes or overwrites a customer's file."""
    guarded = [root / name for name in ("drop", "originals", "rejected")]

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        if event in {"os.remove", "shutil.rmtree"}:
            path = Path(os.fsdecode(arguments[0]))
            if "held" in path.parts or any(path.is_relative_to(folder) for folder in guarded):
                os.write(2, f"{event} {path}".encode())
                os._exit(99)
        if event == "open" and isinstance(arguments[0], str | os.PathLike):
            path, writes = Path(os.fspath(arguments[0])), (arguments[2] or 0) & 3
            log = path.name.startswith("rejections") or path.name.endswith(".why.txt")
            if writes and ("held" in path.parts or path.parent in guarded) and not log:
                os.write(2, f"{event} {path} for writing".encode())
                os._exit(98)

    sys.addaudithook(hook)


if __name__ == "__main__":
    forbid_removing(Path(sys.argv[1]))
    gang = GangWishes(float(sys.argv[4])) if len(sys.argv) > 4 else None
    # Nobody measures, so that who is on a sheet together hangs on nothing but the time.
    scans = "SCANS" in os.environ
    work_through(
        make_queue(
            Path(sys.argv[1]),
            Path(sys.argv[2]),
            sys.argv[3],
            gang=gang,
            room=None,
            reads_wedges=scans,
        )
    )
