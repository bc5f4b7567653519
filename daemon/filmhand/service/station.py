"""One station, and what the commands do with it."""

from __future__ import annotations

import contextlib
import shutil
import signal
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from filmhand.errors import AlreadyRunning, ExitCode, FilmhandError, ProfileError
from filmhand.peers import host
from filmhand.service.service_words import AnswerWord, ServiceWord
from filmhand.service.status import (
    default_state,
    find_state,
    folders_told,
    for_person,
    people_of,
    profiles_told,
    read_status,
)

if TYPE_CHECKING:
    from filmhand.disk.beneath import Beneath
    from filmhand.disk.folders import Folders
    from filmhand.intake.settle import FileEnd
    from filmhand.printer.print_request import OpenPrinter
    from filmhand.request import JobRequest, JobResult
    from filmhand.service.doctor.folder_probe import Finding
    from filmhand.service.held_films import HeldFilms
    from filmhand.service.history import FileHistory
    from filmhand.service.kept_curves import KeptCurve
    from filmhand.service.page_server import PageWish
    from filmhand.service.print_commands import PrintCounter
    from filmhand.service.profile_registry import ProfileRegistry


def _bear_signals() -> None:
    """Let what other programs send to be noticed end nothing, from the start to the very end.

    Between the two the supervisor reads profiles again at SIGHUP.
    """
    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGHUP, signal.SIGUSR1, signal.SIGUSR2):
            signal.signal(number, lambda *_: None)


class Station:
    """What the commands do with a station.

    Parameters
    ----------
    station : Path
        The station's folder.
    profiles, state : Path, optional
        Where the profiles and the local state lie, if not in their default places.
    render, finished, open_printer : optional
        For tests: what makes films, what judges the end of a file, who talks with a printer.
    """

    def __init__(
        self,
        station: Path,
        profiles: Path | None = None,
        state: Path | None = None,
        *,
        render: Callable[[JobRequest], JobResult] | None = None,
        finished: Callable[[Beneath], FileEnd] | None = None,
        open_printer: OpenPrinter | None = None,
    ) -> None:
        self.station = station.absolute()
        self._named = profiles.absolute() if profiles else None
        self.profiles = self._named or self.station / "profiles"
        self._state = state.absolute() if state else None
        self._render = render
        self._finished = finished
        self._open_printer = open_printer

    def serve(self, *, metrics: Path | None = None, page: PageWish | None = None) -> int:
        """Run until SIGTERM or SIGINT; 0, 75 if already running, 78 if no profile is right.

        `metrics` is a text file that is kept up to date for a monitoring system; `page` where the
        station's page is served.
        """
        metrics = metrics.absolute() if metrics else None
        return self._run(patient=True, metrics=metrics, page=page)

    def once(self) -> int:
        """Work through all that waits; 0, 1 if something was refused, 75, 78."""
        return self._run(patient=False)

    def status(self, person: str | None = None) -> dict[str, Any]:
        """What waits, what was made and refused; `running` is False if no service is.

        Of a `person` only what is theirs: by the ticket's `for`, or by the first sub-folder.
        """
        told = read_status(self.station, self._found_state())
        return told if person is None else for_person(told, person)

    def people(self) -> list[str]:
        """Everybody whose art the status tells of."""
        return people_of(read_status(self.station, self._found_state()))

    def health(self) -> dict[str, Any]:
        """Whether the service is alive and looks at every folder; `wrong` says what is not.

        `paused` says what keeps profiles from working that is no illness of the service.
        """
        from filmhand.service.heartbeat import heartbeat_health  # noqa: PLC0415

        health = heartbeat_health(self._found_state())
        parts = self.status()["profiles"] if health["healthy"] else ()
        paused = [f"{part['name']}: {part['paused']}" for part in parts if part["paused"]]
        return health | {"paused": paused}

    def log_lines(self, most: int) -> list[dict[str, Any]]:
        """The last lines that the service said, oldest first."""
        from filmhand.service.log import read_log  # noqa: PLC0415

        return read_log(self._found_state() / "filmhand.log", most)

    def doctor(self, *, init: bool = False, notify: bool = False) -> Iterator[Finding]:
        """Try all that the service needs; `init` prepares folders that profiles name elsewhere.

        `notify` sends a trial message to whoever the profiles tell.
        """
        from filmhand.printer.session import IppPrinter  # noqa: PLC0415
        from filmhand.service.doctor.examine import examine_station  # noqa: PLC0415
        from filmhand.service.doctor.messages import examine_messages  # noqa: PLC0415
        from filmhand.service.doctor.printing import examine_orders, examine_printing  # noqa: PLC0415
        from filmhand.service.doctor.readings import examine_readings  # noqa: PLC0415

        known, registry = self._owners().values(), self._registry()
        yield from examine_station(self.station, registry, self._found_state(), known, init=init)
        for name, profile in sorted(registry.profiles.items()):
            yield from examine_printing(name, profile, self._open_printer or IppPrinter)
            yield from examine_orders(name, profile, registry.folders_of(profile))
            today, folders = datetime.now(UTC).date(), registry.folders_of(profile)
            yield from examine_readings(name, profile, folders, today=today)
        yield from examine_messages(registry.profiles, self.station, send=notify)

    def history(self, name: str) -> FileHistory:
        """What happened to files of that name, oldest first."""
        from filmhand.service.history import file_history  # noqa: PLC0415

        return file_history(self._roots(), name, self._found_state() / "ledger.sqlite")

    def curves(self, name: str) -> list[KeptCurve]:
        """The press curves of a profile, the oldest first; FilmhandError if there is none such.

        ProfileError if it is not right, as where its newest curve was spoiled.
        """
        from filmhand.service.kept_curves import kept_curves  # noqa: PLC0415

        registry = self._registry()
        if name in registry.faulty:
            raise ProfileError(registry.faulty[name])
        if name not in registry.profiles:
            known = ", ".join(sorted(registry.profiles))
            row = AnswerWord.NO_SUCH_PROFILE if known else AnswerWord.NO_PROFILES
            raise FilmhandError(row.say(profile=name, known=known))
        profile = registry.profiles[name]
        folders = registry.folders_of(profile)
        if folders.elsewhere and not folders.present():
            raise FilmhandError(AnswerWord.FOLDER_NOT_READY.say(folder=folders.root))
        return kept_curves(folders, profile)

    def retry(self, name: str) -> str:
        """Put refused art back into drop; a sentence, or FilmhandError that says why not."""
        from filmhand.service.history import retry_refused  # noqa: PLC0415

        return retry_refused(self._roots(), name, self._found_state() / "scratch")

    def print_counter(self) -> PrintCounter:
        """Where wishes on films are taken that go to a printer."""
        from filmhand.service.print_commands import PrintCounter  # noqa: PLC0415

        state = self._found_state()
        registry, running = self._registry(), host.is_locked(state)
        known, roots = host.known_id(state), self._roots()
        return PrintCounter(roots, registry.profiles, known, running, registry.folder)

    def held_films(self) -> HeldFilms:
        """Where wishes on held films are taken, and what tells how many sheets were used."""
        from filmhand.service.held_films import HeldFilms  # noqa: PLC0415

        running = host.is_locked(self._found_state())
        return HeldFilms(self._roots(), self._registry().profiles, running)

    def _roots(self) -> dict[str, Folders]:
        from filmhand.service.history import profile_folders  # noqa: PLC0415

        registry = self._registry()
        known = {name: registry.folders_of(profile) for name, profile in registry.profiles.items()}
        return profile_folders(known, self.status(), self.station)

    def _owners(self) -> dict[str, Path]:
        """The folders that profiles worked in when a service wrote its status last."""
        try:
            return folders_told(self._found_state())
        except FilmhandError:
            return {}  # no service was ever here

    def _found_state(self) -> Path:
        return self._state or find_state(self.station)

    def _registry(self) -> ProfileRegistry:
        """The profiles that are asked about: where none are named, those the service runs with."""
        folder = self._named
        with contextlib.suppress(FilmhandError):  # no service was ever here
            folder = folder or profiles_told(self._found_state())
        return self._profiles_in(folder or self.profiles)

    def _profiles_in(self, folder: Path) -> ProfileRegistry:
        from filmhand.service.profile_registry import ProfileRegistry  # noqa: PLC0415

        registry = ProfileRegistry(folder, self.station, self._owners())
        registry.read()
        return registry

    def _run(
        self, *, patient: bool, metrics: Path | None = None, page: PageWish | None = None
    ) -> int:
        from filmhand.art.files.completeness import completeness_of  # noqa: PLC0415
        from filmhand.printer.session import IppPrinter  # noqa: PLC0415
        from filmhand.service.log import complain  # noqa: PLC0415
        from filmhand.service.station_mark import StationMark  # noqa: PLC0415
        from filmhand.service.supervisor import Supervisor  # noqa: PLC0415
        from filmhand.worker.sandbox import keep_from_workers  # noqa: PLC0415

        keep_from_workers()
        _bear_signals()
        state = self._state or default_state(self.station)
        try:
            lock = host.Lock(state)
        except AlreadyRunning as error:
            return complain(str(error), ExitCode.TRY_LATER)
        except OSError as error:
            say = ServiceWord.STATE_NOT_USABLE.say(folder=state, why=error.strerror)
            return complain(say, ExitCode.TRY_LATER)
        try:
            mark, registry = StationMark(self.station, state), self._profiles_in(self.profiles)
            absent = mark.known and not mark.there()
            if absent and not patient:
                return complain(mark.why, ExitCode.TRY_LATER)
            if not (absent or registry.profiles):
                lines = registry.faults or list(registry.absence())
                return complain("\n".join(lines), ExitCode.PROFILE)
            known = self._owners().values()
            try:
                mark.begin()
            except OSError as error:
                row = ServiceWord.STATION_NOT_WRITABLE
                say = row.say(station=self.station, why=error.strerror)
                return complain(say, ExitCode.TRY_LATER)
            shutil.rmtree(state / "scratch", ignore_errors=True)  # left by an earlier run
            return Supervisor(
                self.station,
                state,
                mark,
                registry,
                known,
                self._finished or completeness_of,
                self._render,
                patient=patient,
                metrics=metrics,
                page=page,
                open_printer=self._open_printer or IppPrinter,
            ).go()
        finally:
            lock.release()
