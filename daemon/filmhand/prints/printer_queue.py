"""One printer and all that waits for it: one film at a time, in the order of publication.

The films of a set are one run: once the first has gone, what is left of them goes before all else.
A film of it that is doubtful holds up neither the others nor what comes behind.

Several profiles may name the same printer. Its thread looks at their orders, follows what is under
way, and begins with the next only when nothing is: a jam or an empty tray stops what comes behind.
What is in the way of the printer, of one kind of sheet or of one profile's folder makes pauses that
grow, and stops nothing else.
"""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable, Iterable
from typing import Any

from filmhand.disk.disk_errors import plain_error
from filmhand.jobs.print_order import AT_PRINTER, Order, OrderState
from filmhand.language import speaking
from filmhand.printer.print_request import JobState
from filmhand.printer.trouble import OF_THE_FILM, PrinterTrouble
from filmhand.prints.print_words import Doubt, QueueWord
from filmhand.prints.printer_status import printer_told
from filmhand.prints.profile_orders import Needs, PrintingProfile, PrintTurn, ProfileOrders
from filmhand.prints.steps import advance_order
from filmhand.timing.backoff import Backoff
from filmhand.timing.log_rate_limit import LogRateLimit

FOLLOWED_EVERY = 2.0  # seconds between two questions about the job that is printing
AT_REST = 5.0  # seconds between two looks for orders and requests while nobody tells of any


class PrinterQueue:
    """The films for one printer.

    Parameters
    ----------
    printer : its address
    say : takes events for the log
    changed : called when a film has been printed, or will not be
    """

    def __init__(
        self,
        printer: str,
        say: Callable[..., None],
        *,
        changed: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.printer = printer
        self._say = say
        self._changed = changed
        self._clock = clock
        self._pause = Backoff(clock)
        self._said = LogRateLimit(clock)
        self._profiles: dict[str, ProfileOrders] = {}
        self._lock = threading.Lock()  # of the profiles; never held while anybody is asked
        self._held: dict[Needs, Backoff] = {}
        self._told = printer_told(printer, [], {}, "")
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._settled = False
        self._thread = threading.Thread(target=self._run, name=f"print {printer}", daemon=True)

    # --- its life ----------------------------------------------------------------------------

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Begin with nothing more; a job at the printer is followed after the next start."""
        self._stop.set()
        self._wake.set()

    def join(self, seconds: float) -> None:
        """Wait for the thread, but no longer than that: what it says to the printer may hang."""
        if self._thread.is_alive():
            self._thread.join(seconds)

    def wake(self) -> None:
        """Look now: a film may have been published."""
        self._settled = False
        self._wake.set()

    def arrange(self, profiles: Iterable[PrintingProfile]) -> None:
        """From here it is these profiles that name the printer."""
        wanted = {profile.name: profile for profile in profiles}
        with self._lock:
            known = self._profiles
            self._profiles = {}
            for name, profile in wanted.items():
                old = known.get(name)
                same = old is not None and old.profile == profile
                self._profiles[name] = old if old and same else self._new(profile)
        self.wake()

    def _new(self, profile: PrintingProfile) -> ProfileOrders:
        return ProfileOrders(profile, trouble=Backoff(self._clock))

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                seconds = self.step()
            except Exception as error:  # a bug of ours must not end all printing
                details = traceback.format_exc()
                self._say("filmhand itself failed", printer=self.printer, traceback=details)
                self._hold_up(QueueWord.FAILED_ITSELF.say(kind=type(error).__name__))
                seconds = AT_REST
            self._wake.wait(seconds)
            self._wake.clear()

    # --- one look ----------------------------------------------------------------------------

    def step(self) -> float:
        """Look at all orders and do what can be done now; seconds until the next look."""
        with self._lock:
            profiles = list(self._profiles.values())
        reached = [one for one in profiles if self._look(one)]
        seconds = self._work(reached)
        self._told = printer_told(
            self.printer,
            profiles,
            {needs: pause.why for needs, pause in self._held.items()},
            self._pause.why,
        )
        if not self._wake.is_set():
            self._settled = self._rests(reached)
        return 0.0 if self._stop.is_set() else seconds

    def _look(self, one: ProfileOrders) -> bool:
        """Look at a profile's orders; False if its folder is not to be had."""
        if one.profile.hangs() or one.trouble.holds():
            return False
        with speaking(one.profile.language):
            try:
                one.look()
            except OSError as error:
                self._stumbles(one, error)
                return False
        return True

    def _work(self, profiles: list[ProfileOrders]) -> float:
        for one in profiles:
            self._go_on(one, {OrderState.ENDING})
        if self._pause.holds():
            return min(self._pause.left(), AT_REST)
        try:
            if any([self._go_on(one, AT_PRINTER) for one in profiles]):  # noqa: C419 all of them
                return FOLLOWED_EVERY
            return self._begin_next(profiles)
        except PrinterTrouble as trouble:
            self._hold_up(trouble.say)
            return min(self._pause.left(), AT_REST)

    def _go_on(self, one: ProfileOrders, states: Iterable[OrderState]) -> bool:
        """Go on with a profile's orders in these states; True if one is at the printer after it."""
        return any(
            [self._advance(one, identity) for identity in one.of_states(frozenset(states))]  # noqa: C419
        )

    def _begin_next(self, profiles: list[ProfileOrders]) -> float:
        """Begin with what is left of a run, else the oldest that the printer can do now."""
        for one, identity in self._waiting(profiles):
            needs = one.seen[identity].needs
            held = self._held.get(needs)
            if (held is not None and held.holds()) or one.trouble.why:
                continue
            if self._stop.is_set():
                return 0.0
            if self._advance(one, identity):
                return FOLLOWED_EVERY
            if self._held.get(needs) is held and not one.trouble.why:
                return 0.0  # it has ended already, or nobody knows; the next one
        left = [pause.left() for pause in self._held.values()]
        return min([AT_REST, *left])

    def _waiting(self, profiles: list[ProfileOrders]) -> list[tuple[ProfileOrders, str]]:
        turns = [(one, turn) for one in profiles for turn in self._next_of(one)]
        turns.sort(key=lambda pair: (not pair[1].begun, pair[1].id))
        return [(one, turn.id) for one, turn in turns]

    def _next_of(self, one: ProfileOrders) -> list[PrintTurn]:
        with speaking(one.profile.language):
            try:
                return one.next_ones()
            except OSError as error:
                self._stumbles(one, error)
        return []

    def _advance(self, one: ProfileOrders, identity: str) -> bool:
        """Do what can be done with an order; True while it is at the printer."""
        with speaking(one.profile.language):
            try:
                order = one.load(identity)
                if order is None:
                    return False
                try:
                    return self._advance_loaded(one, order)
                finally:
                    if order.folder.exists():
                        one.keep_in_mind(order)
            except OSError as error:
                if not (one.folder / identity).exists():
                    one.forget(identity)  # it is done, or another host took it over
                else:
                    self._stumbles(one, error)
        return False

    def _advance_loaded(self, one: ProfileOrders, order: Order) -> bool:
        run, needs = one.run_of(order), one.seen[order.id].needs
        before = order.state
        if order.printer not in {None, run.wishes.printer} and order.state in AT_PRINTER:
            order.state, order.why = OrderState.DOUBTFUL, Doubt.OTHER_PRINTER.say()
            order.save()
        try:
            rests = advance_order(order, run)
        except PrinterTrouble as trouble:
            self._tell_wait(one, order, trouble.say)
            if trouble.kind not in OF_THE_FILM:
                raise
            self._held.setdefault(needs, Backoff(self._clock)).begin(trouble.say)
            return False
        if order.state is OrderState.ENDING:
            one.forget(order.id)
            self._changed()
        if before is not OrderState.ENDING:
            self._held.pop(needs, None)
            self._goes_on(one)
        return rests

    # --- what is in the way ------------------------------------------------------------------

    def _tell_wait(self, one: ProfileOrders, order: Order, why: str) -> None:
        """Into the log of prints, once for each reason."""
        if order.why != why:
            state = "stopped" if order.state is OrderState.FOLLOWING else "waiting"
            one.run_of(order).tell(order, state, why)
            order.why = why
            order.save()

    def _hold_up(self, why: str) -> None:
        """The printer cannot be worked with for a while, longer each time."""
        self._say_once("printer waits", why)
        self._pause.begin(why)

    def _stumbles(self, one: ProfileOrders, error: OSError) -> None:
        """The folder of a profile cannot be worked in for a while, longer each time."""
        why = plain_error(error)
        self._say_once("printing paused", why, profile=one.profile.name)
        one.trouble.begin(why)

    def _say_once(self, event: str, why: str, **facts: str) -> None:
        times = self._said.comes(why)
        if times:
            more = times if times > 1 else None
            self._say(event, printer=self.printer, why=why, times=more, **facts)

    def _goes_on(self, one: ProfileOrders) -> None:
        was = self._pause.why or one.trouble.why
        self._pause.end()
        one.trouble.end()
        if was and self._said.goes():
            self._say("printer goes on", printer=self.printer)

    # --- telling -----------------------------------------------------------------------------

    def settled(self) -> bool:
        """True if all has been printed that can be for now."""
        return self._settled and not self._wake.is_set()

    def status(self) -> dict[str, Any]:
        """What `filmhand status` tells of this printer."""
        return self._told

    def _rests(self, profiles: list[ProfileOrders]) -> bool:
        if self._pause.why:
            return True
        if any(one.of_states({*AT_PRINTER, OrderState.ENDING}) for one in profiles):
            runs = [run for one in profiles for run in one.runs.values()]
            return any(run.seen is not None and run.seen.state is JobState.STOPPED for run in runs)
        return all(
            one.trouble.why or one.seen[identity].needs in self._held
            for one, identity in self._waiting(profiles)
        )
