"""One profile's queue: what waits in its drop folder, what is in hand, what is in the way.

A queue looks at its folder (:meth:`JobQueue.look`), hands out tasks (:meth:`JobQueue.take`) and
does them (:meth:`JobQueue.do`). Looking and doing happen in different threads; the lock guards the
lists only and is never held while a file system is asked for something, which may take for ever on
a dead share.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from itertools import chain, islice
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import BLAMELESS, kind_of, plain_error
from filmhand.disk.folders import is_network
from filmhand.disk.set_aside import remove_empty
from filmhand.errors import EnvironmentTrouble
from filmhand.intake.scan import NAMED, FolderScan, scan_calibrate_folder, scan_drop_folder
from filmhand.intake.settle import FileEnd
from filmhand.jobs import recover
from filmhand.jobs.claim import Gone, NotSettled
from filmhand.jobs.context import JobContext, JobLost, JobSetAside
from filmhand.jobs.job import Job, new_id
from filmhand.jobs.recover import Outcome
from filmhand.jobs.refill import LedgerRefill
from filmhand.jobs.settling import ArtChanged
from filmhand.peers import host
from filmhand.prints.printer_turn import give_back_besides
from filmhand.queue.backlog import Backlog
from filmhand.queue.batch_window import BatchWindow
from filmhand.queue.folder_trouble import FolderTrouble
from filmhand.queue.held_jobs import HeldJobs
from filmhand.queue.housekeeping import Housekeeping
from filmhand.queue.job_trouble import JobTroubles
from filmhand.queue.queue_words import JobQueueWord
from filmhand.queue.retention import steady_clock
from filmhand.queue.scans_first import ScansFirst
from filmhand.queue.settings import QueueSettings, in_its_language
from filmhand.queue.sheet_space import try_sheet_space
from filmhand.queue.task import (
    Claim,
    ClaimOne,
    MeasureSheet,
    ResumeJob,
    Task,
    begin_job,
    claimed_bundles,
    claimed_paths,
)
from filmhand.queue.triage import FolderView, Triage, TriageRules
from filmhand.request import Step
from filmhand.worker.parent import Interrupted, WorkerDied, WorkerKilled


class JobQueue:
    """The queue of one profile's jobs; `context` is what its jobs are worked with."""

    def __init__(
        self,
        name: str,
        context: JobContext,
        settings: QueueSettings,
        *,
        finished: Callable[[Beneath], FileEnd],
        there: Callable[[], bool] = lambda: True,
        clock: Callable[[], float] = time.monotonic,
        patient: bool = True,
        refill: LedgerRefill | None = None,
        steady: Callable[[], float] = steady_clock,
        curve_read: Callable[[], None] = lambda: None,
    ) -> None:
        self.name = name
        self.context = context
        self.settings = settings
        self._scans = ScansFirst(clock)
        self._curve_read = curve_read
        self.change(settings)
        self.trouble = FolderTrouble(name, context.say, clock)
        self.working: dict[str, tuple[str, float]] = {}  # by job: its art, and when it began
        self._progress: dict[str, tuple[Step, float]] = {}
        self.view = FolderView()
        self.looked = False
        self.housekeeping = Housekeeping(name, context, clock, steady, refill)
        self.peers = host.Peers(context.folders.hidden, context.host, clock)
        self.network = False
        self.to_watch: list[str] = []  # the folders whose events tell of a drop; none on a share
        self._place: tuple[int, int] | None = None  # where all of the folder lies on one disk
        self._there = there
        self._clock = clock
        self._triage = Triage(finished, clock, patient=patient)
        context.live.why_wait = self._triage.why_wait
        context.live.progress = self._has_come
        self._window = BatchWindow(
            clock, context.now, patient=patient, measures=context.room is not None
        )
        self._lock = threading.RLock()
        self._backlog = Backlog(clock)
        self.held = HeldJobs(context, clock, self._lock)
        self._troubles = JobTroubles(
            name, context, self._backlog, self._lock, self._triage.wait_again, self.stop_for
        )
        self._recover = True
        self._taken: set[Beneath] = set()
        self._busy: set[Beneath] = set()  # what was in hand at any moment since the last look began
        self._sign_at = float("-inf")
        self._paths: dict[tuple[str, ...], Beneath] = {}
        self._scan_paths: dict[tuple[str, ...], Beneath] = {}
        self._handed_out = 0

    def change(self, settings: QueueSettings) -> None:
        """From here the profile says something else."""
        if settings.printing != self.settings.printing:
            self._sign_at = float("-inf")  # a turn at a printer may have to go back
        before, self.settings = self.settings, settings
        if (before.curve, before.ink_curves) != (settings.curve, settings.ink_curves):
            self._scans.has_curve()
        self.context.live.workers, self.context.live.budget = settings.workers, settings.budget

    # --- looking -----------------------------------------------------------------------------

    @in_its_language
    def look(self) -> None:
        """One pass: sign of life, other hosts' jobs, own unfinished jobs, then the drop folder."""
        if self.trouble.pause.holds():
            return
        try:
            place = self.context.folders.ensure(there=self._there)
            if place is None or place != self._place:
                self.network = is_network(self.context.folders.drop.path)
                self.context.folders.prove_one_disk()
                self._place = place
            if self.settings.curve_unknown:
                raise EnvironmentTrouble(JobQueueWord.CURVE_UNKNOWN.say())
            if self.settings.holds:
                self.context.folders.make_holding()
            if self.settings.reads_wedges:
                self.context.folders.make_measuring(self.settings.own_curves)
            self._sign()
            self._find_unfinished()
            due = self.held.look(holds=self.settings.holds, busy=self._in_hand)
            with self._lock:
                self._backlog.add(due)
            with self._lock:
                busy = self._busy = set(self._taken)
            seen = scan_drop_folder(self.context.folders.drop, self._paths)
            self._paths = seen.paths
            self._add_scans(seen)
            self.to_watch = [] if self.network else seen.folders
            if self.to_watch and self.settings.holds:
                self.to_watch = [*self.to_watch, str(self.context.folders.release)]
            # Asked for each file, so without the lock: nobody else would get it meanwhile.
            view = self._triage.judge(seen, self._rules(), busy.__contains__)
            view.left_alone = [*view.left_alone, *self.held.left_alone]
            if self.settings.goes_by_readings:
                self._scans.hold_back(view)
            self._window.sort_out(view, self.settings.gang, self.settings.snapshot)
        except (EnvironmentTrouble, OSError) as error:
            why = plain_error(error) if isinstance(error, OSError) else str(error)
            self.stop_for(why, looking=True, kind=kind_of(error))
        else:
            with self._lock:
                view.ready = [one for one in view.ready if busy.isdisjoint(claimed_paths(one))]
                self.view = view
                # What was put down meanwhile may lie there under the same name anew, unseen.
                self.looked = busy <= self._taken
                nothing_to_do = not view.ready and not self._backlog and not self.working
            pause = self.trouble.pause
            if pause.why and (pause.looking or nothing_to_do):
                self.trouble.end()
            self._remove_empty(seen)
            self.housekeeping.look(self.settings.keep, network=self.network)

    def _add_scans(self, seen: FolderScan) -> None:
        """The scans of wedges beside the art, where the profile has tones that could be read."""
        if not self.settings.reads_wedges:
            return
        scans = scan_calibrate_folder(self.context.folders.calibrate, self._scan_paths)
        self._scan_paths = scans.paths
        seen.bundles += scans.bundles
        seen.left_alone += scans.left_alone
        seen.noise += scans.noise
        stay = self.context.folders.scan_places(self.settings.own_curves)
        seen.empty_folders += [one for one in scans.empty_folders if one not in stay]
        seen.folders += scans.folders

    @in_its_language
    def stop_for_bug(self) -> None:
        """Take nothing for a while, since filmhand itself failed."""
        self.stop_for(JobQueueWord.FAILED_ITSELF.say())

    def stop_for(self, why: str, *, looking: bool = False, kind: object = None) -> None:
        """Take nothing for a while, as :meth:`FolderTrouble.begin` says."""
        self.trouble.begin(why, looking=looking, kind=kind)
        self._recover, self._place = True, None

    def _sign(self) -> None:
        now = self._clock()
        if now - self._sign_at < host.ALIVE_EVERY:
            return
        host.sign_of_life(self.context.folders.hidden, self.context.host)
        printer = self.settings.printing.printer if self.settings.printing else None
        give_back_besides(self.context.folders.hidden, self.context.host, printer)
        self._sign_at = now
        for silent in self.peers.silent(self.settings.takeover):
            won = self.peers.adopt(silent, busy=self._in_hand)
            if won:
                self.context.say("took over", profile=self.name, host=silent, jobs=len(won))
                self._recover = True

    def _find_unfinished(self) -> None:
        if not (self._recover or self._backlog.due()):
            return
        self._recover = False
        self._troubles.tidy()
        found = recover.unfinished(
            self.context, busy=lambda folder: self._in_hand(folder) or folder in self.held
        )
        with self._lock:
            free = [
                folder
                for folder in (*found.half_published, *found.folders)
                if folder not in self._taken
            ]
            self._backlog.fill(free, self._taken, first=found.half_published)

    def _in_hand(self, path: Beneath) -> bool:
        with self._lock:
            return path in self._taken

    @property
    def settle(self) -> float:
        """Seconds of rest that art needs on this file system."""
        return self.settings.rest(network=self.network)

    def _rules(self) -> TriageRules:
        own_sign = self.context.folders.hidden / self.context.host / "alive"
        with self._lock:
            handed_out, self._handed_out = self._handed_out, 0
        return TriageRules(self.settle, self.settings.max_bytes, own_sign, handed_out, self.network)

    def _remove_empty(self, seen: FolderScan) -> None:
        for folder in self._triage.empty_for_long(seen):
            with contextlib.suppress(OSError):
                remove_empty(folder)

    # --- working -----------------------------------------------------------------------------

    def take(self) -> Task | None:
        """The next thing to do, now in the caller's hands; None if there is none."""
        if self.trouble.stops():
            return None
        with self._lock:
            if self._backlog.completes(self._taken):
                return None
            folder = self._backlog.pop(others=bool(self.view.ready))
            if folder is not None:
                self.looked = False
                self._taken.add(folder)
                return ResumeJob(folder)
            if self.view.ready:
                self.looked = False
                task = self.view.ready.pop(0)
                self._handed_out += max(1, len(claimed_bundles(task)))
                if isinstance(task, MeasureSheet):
                    self._window.asked(task.bundles)
                self._taken.update(claimed_paths(task))
                self._busy.update(claimed_paths(task))
                self._scans.take(task)
                return task
        return None

    @in_its_language
    def do(self, task: Task) -> Outcome | None:
        """Do it; every error ends in a pause, a strike or another try, never in the caller."""
        if isinstance(task, MeasureSheet):
            known = self._window.sizes(task.bundles)
            room = try_sheet_space(task.bundles, known, self.context, self.settings.snapshot)
            self._window.know(task.bundles, room)
            return None
        return self._work(task)

    def _work(self, task: Claim | ResumeJob) -> Outcome | None:
        folder, job = self._folder_of(task), None
        try:
            lost, snapshot = self._triage.wait_again, self.settings.snapshot
            job = begin_job(task, folder, self.name, snapshot, self.context, lost=lost)
            began, found = self._clock(), job.state
            with self._lock:
                self.working[job.id] = (job.shown, began)
            outcome = recover.advance(job, self.context)
            recover.tell(job, outcome, found, self._clock() - began, self.context)
            if job.taken.is_scan and outcome is Outcome.MADE and self.settings.goes_by_readings:
                self._scans.has_read()
                self._curve_read()
            return self._advanced(job, folder, outcome)
        except (NotSettled, Gone) as error:
            self._settled(folder)
            if isinstance(task, ClaimOne):
                self._triage.wait_again(task.bundle.art.path, error)
        except (WorkerDied, Interrupted, JobSetAside):
            pass
        except (ArtChanged, WorkerKilled) as error:
            self._troubles.tried(folder, job, error)
        except JobLost:
            self._settled(folder)
            self.context.say("another host took this job over", job=job.id if job else None)
        except EnvironmentTrouble as error:
            self._troubles.met(task, folder, job, error)
        except OSError as error:
            if error.errno in BLAMELESS:
                self._troubles.met(task, folder, job, error)
            else:
                self._troubles.stumbled(job)
        except Exception:
            self._troubles.stumbled(job)
        finally:
            self._put_down(task, folder, job)
        # What is left of it, or of a gang, is looked for; not before it was put down, since a look
        # that comes in between takes it for being in hand.
        self._recover = True
        return None

    def _advanced(self, job: Job, folder: Beneath, outcome: Outcome) -> Outcome:
        if outcome is Outcome.HELD:
            self.held.keep(folder, job)
        elif outcome is Outcome.PARTED:
            self._recover = True  # its members are jobs of their own now
        self.trouble.end()
        self._settled(folder)
        return outcome

    def _settled(self, folder: Beneath) -> None:
        with self._lock:
            self._backlog.settled(folder)

    def _folder_of(self, task: Claim | ResumeJob) -> Beneath:
        """The folder of the job, which is in hand from before it is made."""
        if isinstance(task, ResumeJob):
            return task.folder
        folder = self.context.own / new_id(self.context.now())
        with self._lock:
            self._taken.add(folder)
        return folder

    def _put_down(self, task: Claim | ResumeJob, folder: Beneath, job: Job | None) -> None:
        with self._lock:
            self.looked = False
            if job is not None:
                self.working.pop(job.id, None)
                self._progress.pop(job.id, None)
            self._taken.discard(folder)
            self._taken.difference_update(claimed_paths(task))
        self._scans.put_down(task)

    def _has_come(self, job: str, step: Step, behind: float) -> None:
        with self._lock:
            if job in self.working:
                self._progress[job] = (step, behind)

    # --- telling -----------------------------------------------------------------------------

    def idle(self) -> bool:
        """True if the last look was whole and nothing is left that filmhand could do by itself."""
        with self._lock:
            return (
                self.looked
                and not self.housekeeping.refilling
                and not self._recover
                and not self.trouble.pause.why
                and not self._backlog
                and not self._backlog.waits
                and not self.held.soon
                and not self._taken
                and not self.view.ready
                and not self.view.more
                and all(waiting.stuck for waiting in self.view.waiting)
            )

    def settles(self) -> bool:
        """True if something in the drop folder waits that may come to rest at any moment."""
        with self._lock:
            view = self.view
            return view.more > 0 or not all(waiting.stuck for waiting in view.waiting)

    def oldest_waiting(self) -> float:
        """Seconds that the longest waiting art has been in the drop folder; 0 without any."""
        return self._triage.oldest()

    def has_work(self) -> bool:
        """True if something is in hand or could be taken at once."""
        with self._lock:
            return bool(self._backlog or self._taken or self.view.ready)

    def has_more(self) -> bool:
        """True if something could be taken at once, besides what is in hand."""
        with self._lock:
            return bool(self._backlog or self.view.ready)

    def close(self) -> None:
        """Say goodbye to the other hosts."""
        with contextlib.suppress(OSError):
            host.say_goodbye(self.context.folders.hidden, self.context.host)

    @in_its_language
    def status(self) -> dict[str, Any]:
        """What `filmhand status` tells about this profile."""
        with self._lock:
            view = self.view
            ready = (bundle for task in view.ready for bundle in claimed_bundles(task))
            everything = chain(
                self._backlog.waiting(),
                ((bundle.shown, JobQueueWord.NEXT.say()) for bundle in ready),
                ((one.name, one.why) for one in view.waiting),
            )
            waiting: list[dict[str, Any]] = [
                {"name": name, "why": why} for name, why in islice(everything, NAMED)
            ]
            in_turn = len(self._backlog) + sum(len(claimed_bundles(task)) for task in view.ready)
            count = in_turn + len(view.waiting) + view.more
            working = sorted((*one, job) for job, one in self.working.items())
            progress = dict(self._progress)
        now, usual = self._clock(), self.context.counts.usual()
        # What waits for nothing but its turn; as many at once as there are in work now.
        each = None if usual is None else usual / max(1, len(working))
        for place, one in enumerate(waiting[:in_turn]):
            one["in_s"] = None if each is None else round((place + 1) * each, 1)
        trouble = self.trouble
        state = "unreachable" if trouble.hanging else "paused" if trouble.why else "working"
        return {
            "name": self.name,
            "folder": file_names.shown(str(self.context.folders.root)),
            "state": state,
            "paused": trouble.why or None,
            "waiting": waiting,
            "waiting_count": count,
            "working": [name for name, *_ in working],
            "in_work": [
                {"name": name, "seconds": round(now - at, 1)} | _progress_told(progress.get(job))
                for name, at, job in working
            ],
            "usual_s": usual,
            "makes": self.settings.makes,
            "curve": self.settings.curve_told(),
            "ink_curves": self.settings.ink_curves_told(),
            "hosts": self.peers.heard(),
            "held": self.held.told(NAMED),
            "held_count": len(self.held),
            "left_alone": [{"name": name, "why": why} for name, why in view.left_alone],
            "noise": view.noise,
        }


def _progress_told(known: tuple[Step, float] | None) -> dict[str, Any]:
    return {} if known is None else {"step": str(known[0]), "behind": known[1]}
