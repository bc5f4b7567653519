"""One run of the service: the way it starts, tells of itself, waits and stops.

What can be half-done when we die here is nothing of its own: every job's state is in its folder
(:mod:`filmhand.jobs.recover`), and the status files are replaced as wholes.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.disk.free_space import SpaceWatch
from filmhand.errors import ExitCode, FilmhandError
from filmhand.intake.settle import FileEnd
from filmhand.jobs.context import JobContext
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.recover import Outcome
from filmhand.page.why_note import why_note
from filmhand.peers import host
from filmhand.printer.print_request import OpenPrinter
from filmhand.printer.session import IppPrinter
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.pool import WorkerPools
from filmhand.request import JobRequest, JobResult
from filmhand.service.heartbeat import Heartbeat
from filmhand.service.log import ServiceLog, complain
from filmhand.service.metrics import MetricsFile, figures_of, metrics_text
from filmhand.service.news import StationNews
from filmhand.service.page_server import PageServer, PageWish
from filmhand.service.profile_queues import ProfileQueues
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.rendering import Rendering
from filmhand.service.service_manager import ServiceManager, watchdog_seconds
from filmhand.service.service_words import ServiceWord
from filmhand.service.station_mark import StationMark
from filmhand.service.station_printing import StationPrinting
from filmhand.service.status import StatusFiles, leave_pointer, status_of
from filmhand.service.strays import StrayWatch
from filmhand.timing.background_call import BackgroundCall
from filmhand.timing.log_rate_limit import LogRateLimit
from filmhand.worker.parent import Workers

_TICK = 1.0  # seconds, unless something wakes the loop
_TICK_ONCE = 0.1  # also while it ends
_STATUS_EVERY = 1.0
_STATUS_AT_REST = 5.0
_ONCE_AT_MOST = 600.0  # seconds that `once` waits for what never comes to rest, or to an end
_LEDGER_GAP = 86400.0  # seconds, the longest between two lines on the same trouble
_AT_THE_END = 5.0  # seconds that the last words to a share may take


class Supervisor:
    """One run of the service, from its lock to its end."""

    def __init__(
        self,
        station: Path,
        state: Path,
        mark: StationMark,
        registry: ProfileRegistry,
        known: Iterable[Path],
        finished: Callable[[Beneath], FileEnd],
        render: Callable[[JobRequest], JobResult] | None,
        *,
        patient: bool,
        metrics: Path | None = None,
        page: PageWish | None = None,
        open_printer: OpenPrinter = IppPrinter,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._clock = clock
        self.station = station
        self.state = state
        self.patient = patient
        self.log = ServiceLog(state / "filmhand.log")
        self.workers = Workers()
        self.host = host.host_id(state)
        self._ledger_lines = LogRateLimit(longest=_LEDGER_GAP, forgets=False)
        self.news = StationNews(
            station, state, self.log.say, link=self._page_link, at_once=patient, clock=clock
        )
        self.ledger = Ledger(
            state / "ledger.sqlite", trouble=self._say_ledger_trouble, noted=self.news.take
        )
        self.space = SpaceWatch(state, self.log.say, where=file_names.shown(str(state)))
        self.manager = ServiceManager()
        self.heartbeat = Heartbeat(state, clock)
        self.mark = mark
        self._profiles_folder = registry.folder
        self.strays = StrayWatch(station, known)
        self._was_there: bool | None = None  # None: nobody has looked yet
        self.files = StatusFiles(station, state, clock, self.log.say, there=self._station_is_there)
        self.metrics = MetricsFile(metrics, clock, self.log.say) if metrics else None
        self.refused = 0
        self.finished_jobs = 0
        # Woken by signals too, which may come in the middle of anything: its put may be reentered.
        self._wakes: SimpleQueue[None] = SimpleQueue()
        self._stop_asked = 0
        self._reload_asked = False
        self.rendering = Rendering(state, registry, self.workers, self._has_more)
        self._makes_films = render is None
        self.profiles = ProfileQueues(
            mark.there,
            registry,
            partial(self._context_of, render or self.rendering.films),
            self.log.say,
            finished,
            ready=self._wake_pools,
            changed=self._wake,
            patient=patient,
            clock=clock,
        )
        self.printing = StationPrinting(open_printer, self.log.say, changed=self._wake, clock=clock)
        self._pools: WorkerPools | None = None
        self._page_wish = page
        self.page: PageServer | None = None

    # --- the run -----------------------------------------------------------------------------

    def go(self) -> int:
        """Start, work until told to stop or until all is done, and end in order."""
        if self._page_wish is not None:
            try:
                self.page = PageServer(self._page_wish, self.profiles.folders)
            except FilmhandError as error:
                return complain(str(error), ExitCode.TRY_LATER)
        page = (self.station / "status.html").as_uri()
        station = str(self.station)
        self.log.say("starts", station=station, page=page, host=self.host, pid=os.getpid())
        if self.page is not None:
            self.log.say("page", address=self.page.address)
        with self._signals():
            self.profiles.arrange()
            self.printing.arrange_for(self.profiles.queues())
            self.news.mind(self.profiles.wishes())
            if self.patient and self._makes_films:
                self.rendering.engines.here.warm()
            self._pools = WorkerPools(self.profiles.queues, self.rendering.engines.at, self._done)
            self.manager.ready()
            try:
                self._loop()
            finally:
                self._end()
        return self._code()

    def _loop(self) -> None:
        told_at = float("-inf")
        progress, progress_at = -1, self._clock()
        watchdog = (watchdog_seconds() or 60.0) / 2
        while not self._stop_asked:
            now = self._clock()
            asked = self._reload_asked  # once: a signal may come in between
            if self.profiles.start_reading(asked=asked) and asked:
                self._reload_asked = False
                self.manager.reloading()
            if self.profiles.take_what_was_read():
                self.manager.ready()
            self.printing.arrange_for(self.profiles.queues())
            every = _STATUS_AT_REST if self.profiles.at_rest() else _STATUS_EVERY
            if now - told_at >= min(every, watchdog):
                told_at = now
                self._mind_hanging()
                self._tell()
            if not self.patient:
                if progress != self.finished_jobs + self.printing.ended:
                    progress, progress_at = self.finished_jobs + self.printing.ended, now
                if self._all_done(now - progress_at):
                    return
            self._wait(min(_TICK, watchdog) if self.patient else _TICK_ONCE)

    def _wait(self, seconds: float) -> None:
        """Until the loop is woken, at most so long."""
        with contextlib.suppress(Empty):
            self._wakes.get(timeout=seconds)
            while True:
                self._wakes.get_nowait()

    def _wake(self) -> None:
        self._wakes.put(None)

    def _has_more(self) -> bool:
        return self.profiles.has_more()

    def _mind_hanging(self) -> None:
        """Mark the queues whose folder does not answer, and replace the threads that wait there."""
        self.profiles.mark_hanging()
        if self._pools is not None:
            self._pools.without(
                {queue.name for queue in self.profiles.queues() if queue.trouble.hanging}
            )

    def _tell(self) -> None:
        """Status files, sign of life, figures, and a word to the service manager."""
        status = self._write_status(running=True)
        self.heartbeat.beat((one.queue.name, one.looked_at) for one in self.profiles.watched())
        if self.metrics is not None:
            self.metrics.write(self._figures)
        sums = status["counts"]
        words = ServiceWord.AT_WORK.say(working=sums["working"], waiting=sums["waiting"])
        paused = [f"{one['name']}: {one['paused']}" for one in status["profiles"] if one["paused"]]
        paused += [f"{one['printer']}: {one['why']}" for one in status["printers"] if one["why"]]
        self.manager.status("; ".join([words, *status["faults"], *paused]))
        self.manager.alive()

    def _figures(self) -> str:
        figures = [figures_of(queue) for queue in self.profiles.queues()]
        faults = bool(self.profiles.faults)
        return metrics_text(figures, printers=self.printing.status(), reload_failed=faults)

    def _all_done(self, quiet: float) -> bool:
        if all(queue.idle() or queue.trouble.why for queue in self.profiles.queues()):
            return self.printing.settled() or quiet > _ONCE_AT_MOST
        return quiet > _ONCE_AT_MOST and not any(
            queue.has_work() for queue in self.profiles.queues()
        )

    def _end(self) -> None:
        self.manager.stopping()
        assert self._pools is not None
        self._pools.stop()
        self.profiles.stop()
        self.printing.stop()
        while self._pools.busy():
            self._mind_hanging()
            self.manager.alive()
            if self._stop_asked > 1:
                self.workers.stop()
                self._wait_for_pools(5)
                break
            self._wait(_TICK_ONCE)
        self.profiles.join(0.0 if self._stop_asked > 1 else 2.0)
        self.printing.join(0.0 if self._stop_asked > 1 else _AT_THE_END)
        self._say_goodbye()
        closing = BackgroundCall[None]("let go of engines")  # a scheduler may hang just now
        closing.start(self.rendering.engines.close)
        closing.wait(_AT_THE_END)
        self.news.finish(_AT_THE_END)
        status = self._write_status(running=False)
        if not self.patient:
            self._tell_what_waits(status)
        self.files.finish(_AT_THE_END)
        if self.page is not None:
            self.page.close()
        if self.metrics is not None:
            self.metrics.write(self._figures, at_once=True)
        self.log.say("stops", made_or_refused=self.finished_jobs)
        self.ledger.close()
        self.log.close()

    def _tell_what_waits(self, status: Mapping[str, Any]) -> None:
        """What `once` leaves behind, such as art that it may not read, or films to print."""
        for part in status["profiles"]:
            for one in part["waiting"]:
                self.log.say("left waiting", profile=part["name"], **one)
            for one in part["held"]:
                facts = {"name": one["name"], "film": one["film"], "why": one["why"]}
                self.log.say("left held", profile=part["name"], until=one["until"], **facts)
        for say in self.printing.unprinted():
            self.log.say("left unprinted", why=say)

    def _say_goodbye(self) -> None:
        """Tell the other hosts; beside this thread, since a share may hang just now."""
        goodbyes = []
        for queue in self.profiles.queues():
            if not queue.trouble.why:
                goodbyes.append(BackgroundCall[None](f"goodbye {queue.name}"))
                goodbyes[-1].start(queue.close)
        for goodbye in goodbyes:
            goodbye.wait(_AT_THE_END)

    def _wait_for_pools(self, seconds: float) -> None:
        until = self._clock() + seconds
        while self._pools is not None and self._pools.busy() and self._clock() < until:
            self._wait(_TICK_ONCE)

    def _code(self) -> int:
        if self.patient:
            return int(ExitCode.DONE)
        if self.refused:
            return int(ExitCode.REFUSED)
        queues = [(queue.name, queue.trouble.why) for queue in self.profiles.queues()]
        paused = [f"{name}: {why}" for name, why in queues if why]
        paused += self.printing.unprinted()
        if paused or self._stop_asked:
            lines = paused or [ServiceWord.STOPPED_EARLY.say()]
            return complain("\n".join(lines), ExitCode.TRY_LATER)
        return int(ExitCode.DONE)

    def _done(self, queue: JobQueue, outcome: Outcome | None) -> None:
        if outcome in {Outcome.MADE, Outcome.REFUSED}:
            self.finished_jobs += 1
            self.refused += outcome is Outcome.REFUSED
            self.printing.wake()
        self.profiles.wake(queue.name)

    def _write_status(self, *, running: bool) -> dict[str, Any]:
        faults = [] if self.mark.present else [self.mark.why]
        faults += self.profiles.troubles()
        printers = self.printing.status()
        faults += self.news.mind(self.profiles.wishes(), printers)
        if self.mark.present:
            self.strays.look(self.profiles.roots())
            faults += self.strays.found
        with contextlib.suppress(OSError):
            self.space.look()
            worry = self.space.worry()
            faults += [ServiceWord.STATE_FOLDER.say(worry=worry)] if worry else []
        told = status_of(
            self.station,
            self.profiles.queues(),
            self.ledger,
            profiles_folder=self._profiles_folder,
            printers=printers,
            faults=faults,
            running=running,
        )
        self.files.write(told)
        if self.page is not None:
            self.page.tell(told)
        return told

    def _station_is_there(self) -> bool:
        """Look, and say when that has changed; called beside the loop, since a share may hang."""
        there = self.mark.there()
        if there and not self._was_there:
            leave_pointer(self.station, self.state, self.host)
        if there and self._was_there is False:
            self.log.say("station is there again", station=str(self.station))
        elif not there and self._was_there is not False:
            self.log.say("station is not there", why=self.mark.why)
        self._was_there = there
        return there

    def _page_link(self) -> str | None:
        return None if self.page is None else self.page.address

    def _say_ledger_trouble(self, why: str) -> None:
        times = self._ledger_lines.happens(why)
        if times:
            self.log.say("ledger", why=why, times=times if times > 1 else None)

    def _wake_pools(self) -> None:
        if self._pools is not None:
            self._pools.wake()

    def _context_of(
        self, render: Callable[[JobRequest], JobResult], profile: str, folders: Folders
    ) -> JobContext:
        """The context of a profile's jobs."""
        return JobContext(
            folders=folders,
            host=self.host,
            ledger=self.ledger,
            scratch=self.state / "scratch",
            render=render,
            render_gang=self.rendering.gang,
            room=self.rendering.sheet_space,
            profile_of=self.rendering.profile_of,
            why_note=partial(why_note, profile=profile),
            say=self.log.say,
            log=self.state / "filmhand.log",
        )

    # --- signals -----------------------------------------------------------------------------

    @contextlib.contextmanager
    def _signals(self) -> Iterator[None]:
        """SIGTERM and SIGINT stop, a second one at once; SIGHUP reads the profiles again."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        wanted = {
            signal.SIGTERM: self.stop,
            signal.SIGINT: self.stop,
            signal.SIGHUP: self._ask_to_reload,
        }
        before = {number: signal.signal(number, handler) for number, handler in wanted.items()}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _ask_to_reload(self, *_: object) -> None:
        self._reload_asked = True
        self._wake()

    def stop(self, *_: object) -> None:
        """Stop as SIGTERM does; callers may be in another thread."""
        self._stop_asked += 1
        self._wake()
