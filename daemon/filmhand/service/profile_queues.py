"""The queues of a service: one for each profile that is right, with a thread that looks for it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from filmhand.disk.folders import Folders, same_folder
from filmhand.intake.settle import FileEnd
from filmhand.jobs.context import JobContext
from filmhand.profile.model import Profile
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.pool import FolderWatcher
from filmhand.queue.settings import QueueSettings
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.timing.background_call import BackgroundCall

_LATE = 30.0  # seconds after which the profiles folder counts as hanging


class ProfileQueues:
    """Arranges the queues by the profiles, again each time that these have changed.

    Parameters
    ----------
    station : Path
        The station's folder; made if it is not there.
    registry : ProfileRegistry
        The profiles, which have been read once.
    context_of : callable
        Makes the context of a profile's jobs from its name and folders.
    say : callable
        Takes events for the log.
    finished : callable
        Judges the end of a file.
    ready : callable
        Called after each look at a folder: there may be work.
    patient : bool
        False for `once`.
    """

    def __init__(
        self,
        station: Path,
        registry: ProfileRegistry,
        context_of: Callable[[str, Folders], JobContext],
        say: Callable[..., None],
        finished: Callable[[Path], FileEnd],
        *,
        ready: Callable[[], None],
        patient: bool,
    ) -> None:
        self._station = station
        self._registry = registry
        self._context_of = context_of
        self._say = say
        self._finished = finished
        self._ready = ready
        self._patient = patient
        self._reading: BackgroundCall[bool] = BackgroundCall("read profiles")
        self._asked = False  # the profiles are being read because somebody asked
        self._unlearned: set[str] = set()
        self._said_faults: set[str] = set()
        self._watchers: dict[str, FolderWatcher] = {}
        # Made before it is looked at: a station that is another folder later on is not touched.
        station.mkdir(parents=True, exist_ok=True)
        self._station_is = same_folder(station)

    # --- what there is -----------------------------------------------------------------------

    def watchers(self) -> list[FolderWatcher]:
        """The threads that look, as they are now."""
        return list(self._watchers.values())

    def queues(self) -> list[JobQueue]:
        """The queues of all profiles that are right."""
        return [watcher.queue for watcher in self.watchers()]

    @property
    def faults(self) -> list[str]:
        """A sentence on each profile that is not right."""
        return list(self._registry.faults)

    def troubles(self) -> list[str]:
        """The faults, and a sentence on a profiles folder that hangs."""
        if self._reading.running_for() <= _LATE:
            return self.faults
        return [
            *self.faults,
            f"The profiles folder {self._registry.folder} does not answer; "
            "the profiles that were read before stay in force.",
        ]

    def wake(self, name: str) -> None:
        """Look at this profile's folder now."""
        watcher = self._watchers.get(name)
        if watcher is not None:
            watcher.wake()

    def mark_hanging(self) -> None:
        """Tell the queues whose folder does not answer."""
        for watcher in self.watchers():
            took = watcher.hangs_for()
            if took:
                watcher.queue.trouble.hangs(watcher.queue.context.folders.root, took)

    # --- by the profiles ---------------------------------------------------------------------

    def start_reading(self, *, asked: bool) -> bool:
        """Read the profiles if they have changed or it is `asked`; False if still reading.

        Beside the calling thread: they may lie on a share that hangs.
        """
        registry = self._registry
        began = self._reading.start(lambda: (asked or registry.changed()) and registry.read())
        self._asked |= began and asked
        return began

    def take_what_was_read(self) -> bool:
        """Arrange the queues by it, once it is there; True if that was asked for."""
        for changed in self._reading.result():
            if changed:
                self.arrange()
            asked, self._asked = self._asked, False
            return asked
        return False

    def arrange(self) -> None:
        """Give every right profile a queue with its settings, and end those that are gone."""
        for fault in self._registry.faults:
            if fault not in self._said_faults:
                self._say("profile not right", why=fault)
        self._said_faults = set(self._registry.faults)
        for name in [name for name in self._watchers if not self._stays(name)]:
            self._say("profile gone", profile=name)
            self._watchers.pop(name).stop()
        for name, profile in self._registry.profiles.items():
            settings = QueueSettings.of(profile)
            watcher = self._watchers.get(name)
            if watcher is None:
                queue = self._new_queue(profile, settings)
                self._watchers[name] = FolderWatcher(queue, self._ready)
                self._say("profile read", profile=name, sha256=profile.sha256)
            elif watcher.queue.settings != settings:
                watcher.queue.change(settings)
                self._say("profile read again", profile=name, sha256=profile.sha256)

    def _stays(self, name: str) -> bool:
        profile = self._registry.profiles.get(name)
        root = self._watchers[name].queue.context.folders.root
        return profile is not None and self._registry.root_of(profile) == root

    def _new_queue(self, profile: Profile, settings: QueueSettings) -> JobQueue:
        folders = Folders(self._registry.root_of(profile), elsewhere=profile.folder is not None)
        context = self._context_of(profile.name, folders)
        if context.ledger.fresh:
            self._unlearned.add(profile.name)
        return JobQueue(
            profile.name,
            context,
            settings,
            finished=self._finished,
            may_make=lambda: same_folder(self._station) == self._station_is,
            patient=self._patient,
            at_first=lambda: self._learn(profile.name, context),
        )

    def _learn(self, profile: str, context: JobContext) -> None:
        """A fresh ledger takes in what the folder tells, before the first look at its drop."""
        if profile in self._unlearned:
            context.ledger.learn(profile, context.folders.root)
            self._unlearned.discard(profile)
            if not self._unlearned:
                context.ledger.has_learned()
