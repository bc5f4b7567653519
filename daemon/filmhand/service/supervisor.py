"""One run of the service: its queues and pools, and the way it starts, waits and stops.

What can be half-done when we die here is nothing of its own: every job's state is in its folder
(:mod:`filmhand.jobs.recover`), and the status files are replaced as wholes.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from filmhand.disk.folders import Folders, same_folder
from filmhand.disk.free_space import SpaceWatch
from filmhand.errors import ExitCode, Refused
from filmhand.intake.settle import FileEnd
from filmhand.jobs.context import JobContext
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.recover import Outcome
from filmhand.page.why_note import why_note
from filmhand.peers import host
from filmhand.profile.model import Profile
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.pool import FolderWatcher
from filmhand.queue.pools import WorkerPools
from filmhand.queue.settings import QueueSettings
from filmhand.request import JobRequest, JobResult
from filmhand.service.heartbeat import Heartbeat
from filmhand.service.log import ServiceLog, SparingLog, complain
from filmhand.service.metrics import MetricsFile, figures_of, metrics_text
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.rendering import Rendering
from filmhand.service.service_manager import ServiceManager, watchdog_seconds
from filmhand.service.status import StatusFiles, leave_pointer, status_of
from filmhand.timing.background_call import BackgroundCall
from filmhand.worker.parent import Workers

_TICK = 0.1  # seconds
_STATUS_EVERY = 1.0
_PROFILES_EVERY = 1.0
_ONCE_AT_MOST = 600.0  # seconds that `once` waits for something that never comes to rest
_PROFILES_LATE = 30.0
_AT_THE_END = 5.0  # seconds that the last words to a share may take


class Supervisor:
    """One run of the service, from its lock to its end."""

    def __init__(
        self,
        station: Path,
        state: Path,
        registry: ProfileRegistry,
        finished: Callable[[Path], FileEnd],
        render: Callable[[JobRequest], JobResult] | None,
        *,
        patient: bool,
        metrics: Path | None = None,
    ) -> None:
        self.station = station
        self.state = state
        self.registry = registry
        self.patient = patient
        self.journal = ServiceLog(state / "filmhand.log")
        self.workers = Workers()
        self._render = render
        self.host = host.host_id(state)
        sparing = SparingLog(self.journal.say, time.monotonic)
        self.ledger = Ledger(
            state / "ledger.sqlite", trouble=lambda why: sparing.say("ledger", why=why)
        )
        self.space = SpaceWatch(state, self.journal.say, where="state folder")
        self.manager = ServiceManager()
        self.heartbeat = Heartbeat(state)
        self.files = StatusFiles(station, state, time.monotonic, self.journal.say)
        self.metrics = MetricsFile(metrics, time.monotonic, self.journal.say) if metrics else None
        self.refused = 0
        self.finished_jobs = 0
        self._reading: BackgroundCall[bool] = BackgroundCall("read profiles")
        self._unlearned: set[str] = set()
        self._finished = finished
        self._stop_asked = 0
        self._reload_asked = self._reloading = False
        self._said_faults: set[str] = set()
        self._watchers: dict[str, FolderWatcher] = {}
        # Made before it is looked at: a station that is another folder later on is not touched.
        station.mkdir(parents=True, exist_ok=True)
        self._station_is = same_folder(station)
        self.rendering = Rendering(state, registry, self.workers)
        self._pools: WorkerPools | None = None

    # --- the run -----------------------------------------------------------------------------

    def go(self) -> int:
        """Start, work until told to stop or until all is done, and end in order."""
        self.journal.say("starts", station=str(self.station), host=self.host, pid=os.getpid())
        with self._signals():
            self._arrange_queues()
            leave_pointer(self.station, self.state, self.host)
            self._pools = WorkerPools(self.queues, self.rendering.engines.at, self._done)
            self.manager.ready()
            try:
                self._loop()
            finally:
                self._end()
        return self._code()

    def queues(self) -> list[JobQueue]:
        """The queues of all profiles that are right."""
        return [watcher.queue for watcher in list(self._watchers.values())]

    def _loop(self) -> None:
        status_at = profiles_at = float("-inf")
        progress, progress_at = -1, time.monotonic()
        every = min(_STATUS_EVERY, (watchdog_seconds() or 60.0) / 2)
        while not self._stop_asked:
            now = time.monotonic()
            if self._reload_asked or now - profiles_at >= _PROFILES_EVERY:
                profiles_at = now
                self._look_at_profiles()
            self._take_profiles()
            if now - status_at >= every:
                status_at = now
                self._mind_hanging()
                self._tell()
            if not self.patient:
                if progress != self.finished_jobs:
                    progress, progress_at = self.finished_jobs, now
                if self._all_done(now - progress_at):
                    return
            time.sleep(_TICK)

    def _mind_hanging(self) -> None:
        """Mark the queues whose folder does not answer, and replace the threads that wait there."""
        for watcher in self._watchers.values():
            took = watcher.hangs_for()
            if took:
                watcher.queue.trouble.hangs(watcher.queue.context.folders.root, took)
        if self._pools is not None:
            self._pools.without({queue.name for queue in self.queues() if queue.trouble.hanging})

    def _tell(self) -> None:
        """Status files, sign of life, figures, and a word to the service manager."""
        status = self._write_status(running=True)
        self.heartbeat.beat((look.queue.name, look.looked_at) for look in self._watchers.values())
        if self.metrics is not None:
            self.metrics.write(self._figures)
        sums = status["counts"]
        words = f"{sums['working']} in work, {sums['waiting']} waiting"
        paused = [f"{one['name']}: {one['paused']}" for one in status["profiles"] if one["paused"]]
        self.manager.status("; ".join([words, *status["faults"], *paused]))
        self.manager.alive()

    def _figures(self) -> str:
        figures = [figures_of(queue) for queue in self.queues()]
        return metrics_text(figures, reload_failed=bool(self.registry.faults))

    def _all_done(self, quiet: float) -> bool:
        if all(queue.idle() or queue.trouble.why for queue in self.queues()):
            return True
        return quiet > _ONCE_AT_MOST and not any(queue.has_work() for queue in self.queues())

    def _end(self) -> None:
        self.manager.stopping()
        assert self._pools is not None
        self._pools.stop()
        for watcher in self._watchers.values():
            watcher.stop()
        while self._pools.busy():
            self._mind_hanging()
            self.manager.alive()
            if self._stop_asked > 1:
                self.workers.stop()
                self._wait_for_pools(5)
                break
            time.sleep(_TICK)
        for watcher in self._watchers.values():
            watcher.join(0.0 if self._stop_asked > 1 else 2.0)
        self._say_goodbye()
        closing = BackgroundCall[None]("let go of engines")  # a scheduler may hang just now
        closing.start(self.rendering.engines.close)
        closing.wait(_AT_THE_END)
        self._write_status(running=False)
        self.files.finish(_AT_THE_END)
        if self.metrics is not None:
            self.metrics.write(self._figures, at_once=True)
        self.journal.say("stops", made_or_refused=self.finished_jobs)
        self.ledger.close()
        self.journal.close()

    def _say_goodbye(self) -> None:
        """Tell the other hosts; beside this thread, since a share may hang just now."""
        goodbyes = []
        for queue in self.queues():
            if not queue.trouble.why:
                goodbyes.append(BackgroundCall[None](f"goodbye {queue.name}"))
                goodbyes[-1].start(queue.close)
        for goodbye in goodbyes:
            goodbye.wait(_AT_THE_END)

    def _wait_for_pools(self, seconds: float) -> None:
        until = time.monotonic() + seconds
        while self._pools is not None and self._pools.busy() and time.monotonic() < until:
            time.sleep(_TICK)

    def _code(self) -> int:
        if self.patient:
            return int(ExitCode.DONE)
        if self.refused:
            return int(ExitCode.REFUSED)
        queues = [(queue.name, queue.trouble.why) for queue in self.queues()]
        paused = [f"{name}: {why}" for name, why in queues if why]
        if paused or self._stop_asked:
            return complain("\n".join(paused or ["Stopped before all was done."]), _LATER)
        return int(ExitCode.DONE)

    def _done(self, queue: JobQueue, outcome: Outcome | None) -> None:
        if outcome in {Outcome.MADE, Outcome.REFUSED}:
            self.finished_jobs += 1
            self.refused += outcome is Outcome.REFUSED
        watcher = self._watchers.get(queue.name)
        if watcher is not None:
            watcher.wake()

    def _write_status(self, *, running: bool) -> dict[str, Any]:
        faults = list(self.registry.faults)
        if self._reading.running_for() > _PROFILES_LATE:
            faults.append(
                f"The profiles folder {self.registry.folder} does not answer; "
                "the profiles that were read before stay in force."
            )
        with contextlib.suppress(OSError):
            self.space.look()
            faults += [f"State folder: {worry}" for worry in filter(None, [self.space.worry()])]
        told = status_of(self.station, self.queues(), self.ledger, faults=faults, running=running)
        self.files.write(told)
        return told

    # --- profiles ----------------------------------------------------------------------------

    def _look_at_profiles(self) -> None:
        """Begin to look at the profiles, beside this thread: they may lie on a share that hangs."""
        asked = self._reload_asked
        read = self.registry.read
        if self._reading.start(lambda: (asked or self.registry.changed()) and read()) and asked:
            self._reload_asked = False
            self._reloading = True
            self.manager.reloading()

    def _take_profiles(self) -> None:
        """Arrange the queues by what was read, once it has been read."""
        for changed in self._reading.result():
            if changed:
                self._arrange_queues()
            if self._reloading:
                self._reloading = False
                self.manager.ready()

    def _arrange_queues(self) -> None:
        """Give every right profile a queue with its settings, and end those that are gone."""
        for fault in self.registry.faults:
            if fault not in self._said_faults:
                self.journal.say("profile not right", why=fault)
        self._said_faults = set(self.registry.faults)
        for name in [name for name in self._watchers if not self._stays(name)]:
            self.journal.say("profile gone", profile=name)
            self._watchers.pop(name).stop()
        for name, profile in self.registry.profiles.items():
            settings = QueueSettings.of(profile)
            watcher = self._watchers.get(name)
            if watcher is None:
                self._watchers[name] = FolderWatcher(
                    self._new_queue(profile, settings), self._wake_pools
                )
                self.journal.say("profile read", profile=name, sha256=profile.sha256)
            elif watcher.queue.settings != settings:
                watcher.queue.change(settings)
                self.journal.say("profile read again", profile=name, sha256=profile.sha256)

    def _stays(self, name: str) -> bool:
        profile = self.registry.profiles.get(name)
        root = self._watchers[name].queue.context.folders.root
        return profile is not None and self.registry.root_of(profile) == root

    def _wake_pools(self) -> None:
        if self._pools is not None:
            self._pools.wake()

    def _new_queue(self, profile: Profile, settings: QueueSettings) -> JobQueue:
        folders = Folders(self.registry.root_of(profile), elsewhere=profile.folder is not None)
        if self.ledger.fresh:
            self._unlearned.add(profile.name)
        context = JobContext(
            folders=folders,
            host=self.host,
            ledger=self.ledger,
            scratch=self.state / "scratch",
            render=self._render or self.rendering.films,
            render_gang=self.rendering.gang,
            room=self.rendering.sheet_space,
            profile_of=self.rendering.profile_of,
            why_note=lambda name, refused: _note(name, refused, profile.name),
            say=self.journal.say,
            log=self.state / "filmhand.log",
        )
        return JobQueue(
            profile.name,
            context,
            settings,
            finished=self._finished,
            may_make=lambda: same_folder(self.station) == self._station_is,
            patient=self.patient,
            at_first=lambda: self._learn(profile.name, folders.root),
        )

    def _learn(self, profile: str, root: Path) -> None:
        """A fresh ledger takes in what the folder tells, before the first look at its drop."""
        if profile in self._unlearned:
            self.ledger.learn(profile, root)
            self._unlearned.discard(profile)
            if not self._unlearned:
                self.ledger.has_learned()

    # --- signals -----------------------------------------------------------------------------

    @contextlib.contextmanager
    def _signals(self) -> Iterator[None]:
        """SIGTERM and SIGINT stop, a second one at once; SIGHUP reads the profiles again."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        wanted = {
            signal.SIGTERM: self._ask_to_stop,
            signal.SIGINT: self._ask_to_stop,
            signal.SIGHUP: self._ask_to_reload,
        }
        before = {number: signal.signal(number, handler) for number, handler in wanted.items()}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _ask_to_stop(self, *_: object) -> None:
        self._stop_asked += 1

    def _ask_to_reload(self, *_: object) -> None:
        self._reload_asked = True

    def stop(self) -> None:
        """Stop as SIGTERM does; for callers in another thread."""
        self._stop_asked += 1


_LATER = ExitCode.TRY_LATER


def _note(name: str, refused: Refused, profile: str) -> str:
    return why_note(name, refused, profile=profile)
