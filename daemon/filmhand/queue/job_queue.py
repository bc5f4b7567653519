"""One profile's desk: what waits in its drop folder, what is in hand, what is in the way.

A desk looks at its folder (:meth:`JobQueue.look`), hands out work (:meth:`JobQueue.take`) and does
it (:meth:`JobQueue.do`). Looking and doing happen in different threads; the lock guards the lists
only and is never held while a file system is asked for something, which may take for ever on a dead
share.
"""

from __future__ import annotations

import contextlib
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.disk_errors import BLAMELESS, kind_of, plain_error
from filmhand.disk.folders import is_network
from filmhand.errors import EnvironmentTrouble, FilmhandError
from filmhand.intake.scan import Bundle, FolderScan, scan_drop_folder
from filmhand.intake.settle import FileEnd
from filmhand.jobs import recover
from filmhand.jobs.claim import Gone, NotSettled, claim_art
from filmhand.jobs.context import MAX_STRIKES, JobContext, JobLost
from filmhand.jobs.gang import gather
from filmhand.jobs.job import Job, State, new_id
from filmhand.jobs.recover import Outcome
from filmhand.jobs.work import crashed
from filmhand.peers import host
from filmhand.profile.model import Keep
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.batch_window import BatchWindow
from filmhand.queue.housekeeping import Housekeeping
from filmhand.queue.retention import steady_clock
from filmhand.queue.sheet_space import measure_sheet_space
from filmhand.queue.triage import NAMED, FolderView, Task, Triage, TriageRules
from filmhand.timing.backoff import Backoff
from filmhand.timing.log_rate_limit import LogRateLimit
from filmhand.worker.parent import Interrupted, WorkerDied
from filmhand.worker.wire import refusal_to_json

SETTLE = 2.0  # seconds, on a local disk
SETTLE_NETWORK = 15.0
FOREVER = Keep()


@dataclass(frozen=True, slots=True)
class QueueSettings:
    """What a desk needs to know of its profile as it is now."""

    snapshot: dict[str, Any]
    settle: float | None = None
    takeover: float = 900.0
    max_bytes: int = 512_000_000
    keep: Keep = FOREVER
    workers: str | None = None
    gang: GangWishes | None = None


class JobQueue:
    """The spool of one profile."""

    def __init__(
        self,
        name: str,
        bench: JobContext,
        wishes: QueueSettings,
        *,
        finished: Callable[[Path], FileEnd],
        may_make: Callable[[], bool] = lambda: True,
        clock: Callable[[], float] = time.monotonic,
        patient: bool = True,
        at_first: Callable[[], None] = lambda: None,
        steady: Callable[[], float] = steady_clock,
    ) -> None:
        self.name = name
        self.bench = bench
        self.wishes = wishes
        self.pause = Backoff(clock)
        self._pauses, self._hangs = LogRateLimit(clock), LogRateLimit(clock)
        self.working: dict[str, str] = {}
        self.board = FolderView()
        self.looked = False
        self.hanging = ""
        self.care = Housekeeping(name, bench, clock, steady)
        self._at_first: Callable[[], None] | None = at_first
        self.peers = host.Peers(bench.folders.hidden, bench.host, clock)
        self.network = False
        bench.shared = lambda: bool(self.peers.others())
        bench.workers = lambda: self.wishes.workers
        bench.died = self._count_death
        self._may_make = may_make
        self._clock = clock
        self._judge = Triage(finished, clock, patient=patient)
        self._company = BatchWindow(
            clock, bench.now, patient=patient, measures=bench.room is not None
        )
        self._lock = threading.RLock()
        self._backlog: list[Path] = []
        self._recover = True
        self._taken: set[Path] = set()
        self._busy: set[Path] = set()  # what was in hand at any moment since the last look began
        self._sign_at = float("-inf")
        self._paths: dict[str, Path] = {}
        self._handed_out = 0

    # --- looking -----------------------------------------------------------------------------

    def look(self) -> None:
        """One pass: sign of life, other hosts' jobs, own unfinished jobs, then the drop folder."""
        if self.pause.holds():
            return
        try:
            self.bench.folders.ensure(may_make=self._may_make())
            self.network = is_network(self.bench.folders.drop)
            if self._at_first is not None:
                self._at_first()
                self._at_first = None
            self._sign()
            self._find_unfinished()
            with self._lock:
                busy = self._busy = set(self._taken)
            seen = scan_drop_folder(self.bench.folders.drop, self._paths)
            self._paths = seen.paths
            # Asked for each file, so without the lock: nobody else would get it meanwhile.
            board = self._judge.judge(seen, self._rules(), busy.__contains__)
            self._company.sort_out(board, self.wishes.gang, self.wishes.snapshot)
        except EnvironmentTrouble as error:
            self.trouble(str(error), looking=True, kind=kind_of(error))
        except OSError as error:
            self.trouble(plain_error(error), looking=True, kind=kind_of(error))
        else:
            with self._lock:
                board.ready = [work for work in board.ready if busy.isdisjoint(work.paths)]
                self.board = board
                # What was put down meanwhile may lie there under the same name anew, unseen.
                self.looked = busy <= self._taken
                nothing_to_do = not board.ready and not self._backlog and not self.working
            if self.pause.why and (self.pause.looking or nothing_to_do):
                self.well_again()
            self._remove_empty(seen)
            self.care.look(self.wishes.keep)

    def trouble(self, why: str, *, looking: bool = False, kind: object = None) -> None:
        """Stop for a while, longer each time; said once for each cause that stays.

        Causes of the same `kind` count as one, though their sentences may name other files.
        """
        # Said before it counts, so that another thread that ends the pause ends what was said too.
        self._say_that_it_came("paused", self._pauses, why, why if kind is None else kind)
        self.pause.begin(why, looking=looking)
        self._recover = True

    def well_again(self) -> None:
        """Work goes on as usual."""
        if self.pause.why:
            self.pause.end()
            if self._pauses.goes():
                self.bench.say("goes on", profile=self.name)

    def hangs(self, seconds: float) -> None:
        """The folder has not answered for so long: nothing is taken until it does; said once."""
        why = (
            f"The folder {file_names.shown(str(self.bench.folders.root))} has not answered for "
            f"{seconds:.0f} s: its disk or share hangs. The other profiles go on, and this one "
            "does when it answers."
        )
        self._say_that_it_came("unreachable", self._hangs, why, "hangs")
        self.hanging = why

    def answers(self) -> None:
        """The folder answered, with good news or bad."""
        if self.hanging:
            self.hanging = ""
            if self._hangs.goes():
                self.bench.say("answers again", profile=self.name)

    def _say_that_it_came(self, event: str, flaps: LogRateLimit, why: str, kind: object) -> None:
        """Once each time, but with growing gaps where it comes and goes."""
        times = flaps.comes(kind)
        if times:
            more = times if times > 1 else None
            self.bench.say(event, profile=self.name, why=why, times=more)

    def _sign(self) -> None:
        now = self._clock()
        if now - self._sign_at < host.ALIVE_EVERY:
            return
        host.sign_of_life(self.bench.folders.hidden, self.bench.host)
        self._sign_at = now
        for silent in self.peers.silent(self.wishes.takeover):
            won = self.peers.adopt(silent, busy=self._in_hand)
            if won:
                self.bench.say("took over", profile=self.name, host=silent, jobs=len(won))
                self._recover = True

    def _find_unfinished(self) -> None:
        if not self._recover:
            return
        self._recover = False
        folders = recover.unfinished(self.bench, busy=self._in_hand)
        with self._lock:
            self._backlog = [folder for folder in folders if not self._in_hand(folder)]

    def _in_hand(self, path: Path) -> bool:
        with self._lock:
            return path in self._taken

    @property
    def settle(self) -> float:
        """Seconds of rest that art needs on this file system."""
        if self.wishes.settle is not None:
            return self.wishes.settle
        return SETTLE_NETWORK if self.network else SETTLE

    def _rules(self) -> TriageRules:
        own_sign = self.bench.folders.hidden / self.bench.host / "alive"
        with self._lock:
            handed_out, self._handed_out = self._handed_out, 0
        return TriageRules(self.settle, self.wishes.max_bytes, own_sign, handed_out)

    def _remove_empty(self, seen: FolderScan) -> None:
        for folder in self._judge.empty_for_long(seen):
            with contextlib.suppress(OSError):
                folder.rmdir()

    # --- working -----------------------------------------------------------------------------

    def take(self) -> Task | None:
        """The next thing to do, now in the caller's hands; None if there is none."""
        if self.pause.holds() or self.hanging:
            return None
        with self._lock:
            if self._backlog:
                self.looked = False
                work = Task(folder=self._backlog.pop(0))
                self._taken.add(work.folder)  # type: ignore[arg-type]
                return work
            if self.board.ready:
                self.looked = False
                work = self.board.ready.pop(0)
                self._handed_out += max(1, len(work.bundles))
                if work.measure:
                    self._company.asked(work.measure)
                self._taken.update(work.paths)
                self._busy.update(work.paths)
                return work
        return None

    def do(self, work: Task) -> Outcome | None:
        """Do it; every error ends in a pause, a strike or another try, never in the caller."""
        if work.measure:
            self._measure(work.measure)
            return None
        return self._do(work)

    def _do(self, work: Task) -> Outcome | None:
        job: Job | None = None
        try:
            job = self._job_of(work)
            with self._lock:
                self.working[job.id] = job.shown
            began = self._clock()
            outcome = recover.advance(job, self.bench)
            if outcome is Outcome.PARTED:
                self._recover = True  # its members are jobs of their own now
            self._tell(job, outcome, self._clock() - began)
            self.well_again()
            return outcome
        except (NotSettled, Gone) as error:
            if work.bundle is not None:
                self._judge.wait_again(work.bundle.art.path, error)
        except (WorkerDied, Interrupted):
            pass
        except JobLost:
            self.bench.say("another host took this job over", job=job.id if job else None)
        except EnvironmentTrouble as error:
            self.trouble(str(error), kind=kind_of(error))
        except OSError as error:
            if error.errno in BLAMELESS:
                self.trouble(plain_error(error), kind=kind_of(error))
            else:
                self._stumbled(job)
        except Exception:
            self._stumbled(job)
        finally:
            self._put_down(work, job)
        # What is left of it, or of a gang, is looked for; not before it was put down, since a look
        # that comes in between takes it for being in hand.
        self._recover = True
        return None

    def _measure(self, bundles: tuple[Bundle, ...]) -> None:
        """Find out whether all that waits has room; only how long it waits hangs on that."""
        room = None
        try:
            known = self._company.sizes(bundles)
            room = measure_sheet_space(bundles, known, self.bench, self.wishes.snapshot)
        except (FilmhandError, OSError):
            pass  # what is wrong there is told when the art is taken
        except Exception:
            self.bench.say("measuring failed", profile=self.name, traceback=traceback.format_exc())
        self._company.know(bundles, room)

    def _tell(self, job: Job, outcome: Outcome, seconds: float) -> None:
        """The one line that the log has for a finished job."""
        with self._lock:
            tally = self.care.tally
            tally.made += outcome is Outcome.MADE
            tally.refused += outcome is Outcome.REFUSED
            tally.seconds += seconds if outcome is not Outcome.GIVEN_BACK else 0
        facts: dict[str, Any] = {"name": job.shown, "sha256": job.sha256, "strikes": job.strikes}
        if outcome is Outcome.PARTED:
            facts = {"name": job.shown, "stem": file_names.shown(job.sheet), "arts": len(job.films)}
        elif outcome is Outcome.MADE:
            facts |= {"stem": file_names.shown(job.stem), "films": len(job.films)}
            facts["earlier"] = job.earlier
        elif job.refusal is not None:
            facts |= {"reason": job.refusal["reason"], "say": job.refusal["say"]}
        self.bench.say(
            outcome.value, profile=job.profile, job=job.id, seconds=round(seconds, 3), **facts
        )

    def _count_death(self) -> None:
        with self._lock:
            self.care.tally.strikes += 1

    def _job_of(self, work: Task) -> Job:
        if work.folder is not None:
            try:
                return Job.load(work.folder)
            except ValueError:
                if work.folder.exists():
                    raise
                raise JobLost(work.folder.name) from None
        identity = new_id(self.bench.now())
        with self._lock:
            work.folder = self.bench.own / identity
            self._taken.add(work.folder)
        if work.company:
            return gather(
                work.company,
                self.bench,
                identity=identity,
                profile=self.name,
                snapshot=self.wishes.snapshot,
                lost=self._judge.wait_again,
            )
        assert work.bundle is not None
        return claim_art(
            work.bundle,
            self.bench,
            identity=identity,
            profile=self.name,
            snapshot=self.wishes.snapshot,
            refusal=work.refusal,
        )

    def _put_down(self, work: Task, job: Job | None) -> None:
        with self._lock:
            self.looked = False
            if job is not None:
                self.working.pop(job.id, None)
            if work.folder is not None:
                self._taken.discard(work.folder)
            self._taken.difference_update(work.paths)

    def _stumbled(self, job: Job | None) -> None:
        """A fault of filmhand itself: against the art if it is being worked on, else a pause."""
        self.bench.say(
            "filmhand itself failed",
            profile=self.name,
            job=job.id if job else None,
            traceback=traceback.format_exc(),
        )
        if job is not None and job.state is State.GANGED:
            job.state = State.PARTING  # one by one it shows whose fault it is
        elif job is None or job.state is not State.CLAIMED:
            self.trouble("Filmhand itself failed; its log tells how. It tries again.")
            return
        job.strikes += not job.company
        if job.strikes >= MAX_STRIKES:
            job.refusal = refusal_to_json(crashed(self.bench.log, is_bug=True))
        try:
            job.save()
        except OSError as error:
            self.trouble(plain_error(error))

    # --- telling -----------------------------------------------------------------------------

    def idle(self) -> bool:
        """True if the last look was whole and nothing is left that filmhand could do by itself."""
        with self._lock:
            return (
                self.looked
                and not self._recover
                and not self.pause.why
                and not self._backlog
                and not self._taken
                and not self.board.ready
                and not self.board.more
                and all(waiting.stuck for waiting in self.board.waiting)
            )

    def oldest_waiting(self) -> float:
        """Seconds that the longest waiting art has been in the drop folder; 0 without any."""
        return self._judge.oldest()

    def has_work(self) -> bool:
        """True if something is in hand or could be taken at once."""
        with self._lock:
            return bool(self._backlog or self._taken or self.board.ready)

    def close(self) -> None:
        """Say goodbye to the other hosts."""
        with contextlib.suppress(OSError):
            host.say_goodbye(self.bench.folders.hidden, self.bench.host)

    def status(self) -> dict[str, Any]:
        """What `filmhand status` tells about this profile."""
        with self._lock:
            board = self.board
            ready = (bundle for work in board.ready for bundle in work.bundles)
            everything = chain(
                ((file_names.shown(path.name), "goes on") for path in self._backlog),
                ((bundle.shown, "it is next") for bundle in ready),
                ((one.name, one.why) for one in board.waiting),
            )
            waiting = [{"name": name, "why": why} for name, why in islice(everything, NAMED)]
            count = len(self._backlog) + sum(len(work.bundles) for work in board.ready)
            count += len(board.waiting) + board.more
            working = sorted(self.working.values())
        state = "unreachable" if self.hanging else "paused" if self.pause.why else "working"
        return {
            "name": self.name,
            "folder": file_names.shown(str(self.bench.folders.root)),
            "state": state,
            "paused": self.hanging or self.pause.why or None,
            "waiting": waiting,
            "waiting_count": count,
            "working": working,
            "left_alone": [{"name": name, "why": why} for name, why in board.left_alone],
            "noise": board.noise,
        }
