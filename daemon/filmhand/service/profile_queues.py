"""The queues of a service: one for each profile that is right, and the threads that look."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, is_network
from filmhand.intake.settle import FileEnd
from filmhand.jobs.context import JobContext
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.refill import LedgerRefill
from filmhand.language import speaking
from filmhand.profile.model import Profile
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.lookers import Lookers, WatchedFolder
from filmhand.queue.settings import QueueSettings
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.service_words import ServiceWord
from filmhand.timing.background_call import BackgroundCall

_LATE = 30.0  # seconds after which the profiles folder counts as hanging
_READ_EVERY = 1.0  # seconds between two looks at the profiles while nothing tells of changes ...
_READ_AT_REST = 10.0  # ... and while something does, or the profiles lie on a share
_PROFILES = "profiles/"  # whose watching this is, among those of the queues; no profile's name


class ProfileQueues:
    """Arranges the queues by the profiles, again each time that these have changed.

    Parameters
    ----------
    there : callable
        False while the station is not there: nothing is made in it then.
    registry : ProfileRegistry
        The profiles, which have been read once.
    context_of : callable
        Makes the context of a profile's jobs from its name and folders.
    say : callable
        Takes events for the log.
    finished : callable
        Judges the end of a file.
    ready : callable
        Called after each look at a folder that left work.
    changed : callable
        Called when the profiles may have changed.
    patient : bool
        False for `once`.
    """

    def __init__(
        self,
        there: Callable[[], bool],
        registry: ProfileRegistry,
        context_of: Callable[[str, Folders], JobContext],
        say: Callable[..., None],
        finished: Callable[[Beneath], FileEnd],
        *,
        ready: Callable[[], None],
        changed: Callable[[], None] = lambda: None,
        patient: bool,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._there = there
        self._registry = registry
        self._context_of = context_of
        self._say = say
        self._finished = finished
        self._patient = patient
        self._clock = clock
        self._changed = changed
        self._hinted = False
        self._read_due = float("-inf")
        self._reading: BackgroundCall[bool] = BackgroundCall("read profiles", clock)
        self._asked = False  # the profiles are being read because somebody asked
        self._unlearned: dict[str, Ledger] = {}  # profiles that the ledger does not know yet
        self._said_faults: set[str] = set()
        self._folders: dict[str, WatchedFolder] = {}
        self._lookers = Lookers(lambda queue: ready(), clock)

    # --- what there is -----------------------------------------------------------------------

    def watched(self) -> list[WatchedFolder]:
        """The folders that are looked at, as they are now."""
        return list(self._folders.values())

    def queues(self) -> list[JobQueue]:
        """The queues of all profiles that are right."""
        return [folder.queue for folder in self.watched()]

    def has_more(self) -> bool:
        """Whether a job that is done on this computer waits to be taken."""
        here = (queue for queue in self.queues() if queue.settings.workers is None)
        return any(queue.has_more() for queue in here)

    def at_rest(self) -> bool:
        """True if no queue has anything to do or to tell."""
        return all(queue.idle() for queue in self.queues())

    def roots(self) -> dict[str, Path]:
        """The folders of all profiles that are right, by name."""
        return {queue.name: queue.context.folders.root for queue in self.queues()}

    def folders(self) -> dict[str, Folders]:
        """The places of all profiles that are right, by name; callers may be in other threads."""
        return {queue.name: queue.context.folders for queue in self.queues()}

    def wishes(self) -> dict[str, Profile]:
        """The profiles that are right, by name."""
        return dict(self._registry.profiles)

    @property
    def faults(self) -> list[str]:
        """A sentence on each profile that is not right."""
        return list(self._registry.faults)

    def troubles(self) -> list[str]:
        """The faults, and a sentence on a profiles folder that hangs."""
        if self._reading.running_for() <= _LATE:
            return self.faults
        return [*self.faults, ServiceWord.PROFILES_HANG.say(folder=self._registry.folder)]

    def wake(self, name: str) -> None:
        """Look at this profile's folder now."""
        folder = self._folders.get(name)
        if folder is not None:
            self._lookers.wake(folder)

    def stop(self) -> None:
        """Look no more; does not wait."""
        self._lookers.stop()

    def join(self, timeout: float) -> None:
        """Wait for the threads that look, but no longer than that."""
        self._lookers.join(timeout)

    def mark_hanging(self) -> None:
        """Tell the queues whose folder does not answer."""
        for folder in self.watched():
            took = folder.hangs_for()
            if took:
                with speaking(folder.queue.settings.language):
                    folder.queue.trouble.hangs(folder.queue.context.folders.root, took)

    # --- by the profiles ---------------------------------------------------------------------

    def start_reading(self, *, asked: bool) -> bool:
        """Read the profiles if they have changed or it is `asked`, if it is time or asked.

        True if that was begun: beside the calling thread, since they may lie on a share that hangs.
        """
        if not (asked or self._hinted or self._clock() >= self._read_due):
            return False
        began = self._reading.start(lambda: self._read(asked=asked))
        self._asked |= began and asked
        return began

    def _read(self, *, asked: bool) -> bool:
        registry, self._hinted = self._registry, False
        differs = (asked or registry.changed()) and registry.read()
        network = is_network(registry.folder)
        heard = not network and self._lookers.watch.keep(
            _PROFILES, [os.fspath(registry.folder)], self._hint
        )
        rests = (network or heard) and not registry.differs
        self._read_due = self._clock() + (_READ_AT_REST if rests else _READ_EVERY)
        if differs or asked:
            self._changed()
        return differs

    def _hint(self) -> None:
        """Profiles or their curves may differ; any thread may say so."""
        self._hinted = True
        self._changed()

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
        for name in [name for name in self._folders if not self._stays(name)]:
            self._say("profile gone", profile=name)
            self._lookers.remove(self._folders.pop(name))
            self._learned(name)
        new = []  # looked at together: the ledger is not whole before all of them are known
        for name, profile in self._registry.profiles.items():
            uncertain = name in self._registry.uncertain
            settings = replace(QueueSettings.of(profile), curve_unknown=uncertain)
            folder = self._folders.get(name)
            if folder is None:
                queue = self._new_queue(profile, settings)
                new.append(queue)
                drop = file_names.shown(str(queue.context.folders.drop.path))
                self._say("profile read", profile=name, drop=drop, sha256=profile.sha256)
            elif folder.queue.settings != settings:
                folder.queue.change(settings)
                self._say("profile read again", profile=name, sha256=profile.sha256)
        self._folders |= {queue.name: self._lookers.add(queue) for queue in new}

    def _stays(self, name: str) -> bool:
        profile = self._registry.profiles.get(name)
        root = self._folders[name].queue.context.folders.root
        return profile is not None and self._registry.root_of(profile) == root

    def _new_queue(self, profile: Profile, settings: QueueSettings) -> JobQueue:
        folders = self._registry.folders_of(profile)
        context = self._context_of(profile.name, folders)
        refill = None
        if context.ledger.fresh:
            self._unlearned[profile.name] = context.ledger
            whole = partial(self._learned, profile.name)
            refill = LedgerRefill(profile.name, context, whole, self._clock)
        return JobQueue(
            profile.name,
            context,
            settings,
            finished=self._finished,
            there=self._there,
            clock=self._clock,
            patient=self._patient,
            refill=refill,
            curve_read=self._hint,
        )

    def _learned(self, profile: str) -> None:
        """The ledger knows this profile's folder, or need not; after the last one it is whole."""
        ledger = self._unlearned.pop(profile, None)
        if ledger is not None and not self._unlearned:
            ledger.has_learned()
