"""One printer and all that waits for it: one film at a time, in the order of publication.

The films of a set are one run: once the first has gone, nothing else is begun before what is left
of them, unless the profile is paused or the printer cannot print them at all. A film of it that is
doubtful, or was spoiled on the disk, holds up neither the others nor what comes behind. So that
films of another host do not come between either, hosts take turns at a printer
(:mod:`filmhand.prints.printer_turn`).

Several profiles may name the same printer. Its thread looks at their orders, follows what is under
way, and begins with the next only when nothing is: a jam or an empty tray stops what comes behind.
What is in the way of the printer, of one kind of sheet or of one profile's folder makes pauses that
grow, and stops nothing else.
"""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from filmhand.disk.disk_errors import plain_error
from filmhand.jobs.print_order import AT_PRINTER, UNSENT, Order, OrderState
from filmhand.language import speaking
from filmhand.printer.print_request import JobState
from filmhand.printer.trouble import OF_THE_FILM, PrinterTrouble, TroubleKind
from filmhand.prints.print_words import Doubt, QueueWord
from filmhand.prints.printer_status import RunGoesOn, printer_told
from filmhand.prints.printer_turn import PrinterTurn
from filmhand.prints.profile_orders import Needs, NextOrder, PrintingProfile, ProfileOrders
from filmhand.prints.steps import advance_order
from filmhand.timing.backoff import Backoff
from filmhand.timing.log_rate_limit import LogRateLimit

FOLLOWED_EVERY = 2.0  # seconds between two questions about the job that is printing
AT_REST = 5.0  # seconds between two looks for orders and requests while nobody tells of any
_LOOKS_FOR_OTHERS = 1.5  # as many such looks another host has to take its turn
# What no patience helps with: the run of such films holds up no other profile's.
_IN_VAIN = frozenset({TroubleKind.UNABLE, TroubleKind.REFUSED})


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
        self._in_vain: set[Needs] = set()  # of those held
        self._other_host = ""  # whose turn it is, where it is not ours
        self._other_since = ("", 0.0)  # the same, and since when
        self._printed = False  # something, since it is our turn
        self._others_until = float("-inf")  # the turn is left to other hosts
        self._run_goes_on: RunGoesOn | None = None
        self._told = printer_told(printer, [], {}, "")
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._for_good = False
        self._settled = False
        self._thread = threading.Thread(target=self._run, name=f"print {printer}", daemon=True)

    # --- its life ----------------------------------------------------------------------------

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self, *, for_good: bool = False) -> None:
        """Begin with nothing more; a job at the printer is followed after the next start.

        `for_good`: no profile names the printer any more, so its turn is of no use here.
        """
        self._for_good = for_good
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
        with self._lock:
            profiles = list(self._profiles.values())
        if self._for_good or not self._keeps_turn(profiles):
            self._give_turns_back(profiles)

    # --- one look ----------------------------------------------------------------------------

    def step(self) -> float:
        """Look at all orders and do what can be done now; seconds until the next look."""
        with self._lock:
            profiles = list(self._profiles.values())
        reached = [one for one in profiles if self._look(one)]
        self._forget_held(reached)
        seconds = self._work(reached)
        if self._other_host != self._other_since[0]:
            self._other_since = (self._other_host, self._clock())
        self._told = printer_told(
            self.printer,
            profiles,
            {needs: pause.why for needs, pause in self._held.items()},
            self._pause.why,
            other_host=self._other_host,
            other_for=self._clock() - self._other_since[1],
            run_goes_on=self._run_goes_on,
        )
        if not self._wake.is_set():
            self._settled = self._rests(reached)
        return 0.0 if self._stop.is_set() else seconds

    def _look(self, one: ProfileOrders) -> bool:
        """Look at a profile's orders; False if its folder is not to be had."""
        if one.profile.hangs() or one.trouble.holds():
            return False
        with self._in_folder_of(one):
            one.look()
            return True
        return False

    def _work(self, profiles: list[ProfileOrders]) -> float:
        for one in profiles:
            self._go_on(one, {OrderState.ENDING})
        if self._pause.holds():
            return min(self._pause.left(), AT_REST)
        try:
            follows = any([self._go_on(one, {OrderState.FOLLOWING}) for one in profiles])  # noqa: C419 all of them
            if not self._has_turn(profiles):
                return FOLLOWED_EVERY if follows else AT_REST
            if any([self._go_on(one, UNSENT) for one in profiles]) or follows:  # noqa: C419 all of them
                return FOLLOWED_EVERY
            return self._begin_next(profiles)
        except PrinterTrouble as trouble:
            self._hold_up(trouble.say)
            if not self._keeps_turn(profiles):
                self._give_turns_back(profiles)  # perhaps another host reaches it
            return min(self._pause.left(), AT_REST)

    def _go_on(self, one: ProfileOrders, states: Iterable[OrderState]) -> bool:
        """Go on with a profile's orders in these states; True if one is at the printer after it."""
        return any(
            [self._advance(one, identity) for identity in one.of_states(frozenset(states))]  # noqa: C419
        )

    def _begin_next(self, profiles: list[ProfileOrders]) -> float:
        """Begin with what is left of a run, else the oldest that the printer can do now."""
        waiting = self._waiting(profiles)
        goes_on = any(order.run for _, order in waiting)
        if self._printed and not goes_on and any(map(self._is_wanted, profiles)):
            self._give_turns_back(profiles, heard=True)
            self._others_until = self._clock() + _LOOKS_FOR_OTHERS * AT_REST
            return AT_REST
        for one, order in waiting:
            needs = one.seen[order.id].needs
            held = self._held.get(needs)
            if (held is not None and held.holds()) or one.trouble.why:
                continue
            if self._stop.is_set():
                return 0.0
            self._printed = True
            if self._advance(one, order.id):
                return FOLLOWED_EVERY
            if order.id in one.spoiled:
                return 0.0  # the next one
            if self._held.get(needs) is held and not one.trouble.why:
                return 0.0  # it has ended already, or nobody knows; the next one
        if not goes_on:
            self._give_turns_back(profiles)
        left = [pause.left() for pause in self._held.values()]
        return min([AT_REST, *left])

    def _waiting(self, profiles: list[ProfileOrders]) -> list[tuple[ProfileOrders, NextOrder]]:
        """What may be begun with, the first first; while a run is under way only its rest."""
        found = [(one, order) for one in profiles for order in self._next_of(one)]
        found.sort(key=lambda pair: (not pair[1].run, pair[1].id))
        self._run_goes_on = None
        for one, first in found[:1] if found and found[0][1].run else ():
            at = one.seen[first.id].run
            assert at is not None
            self._run_goes_on = RunGoesOn(one.profile.name, at.film_set)
            return [pair for pair in found if pair[1].run == first.run]
        return found

    def _next_of(self, one: ProfileOrders) -> list[NextOrder]:
        with self._in_folder_of(one):
            return one.next_ones(self._in_vain)
        return []

    def _advance(self, one: ProfileOrders, identity: str) -> bool:
        """Do what can be done with an order; True while it is at the printer."""
        with self._in_folder_of(one):
            try:
                order = one.load(identity)
                if order is None:
                    return False
                try:
                    return self._advance_loaded(one, order)
                finally:
                    if order.folder.exists():
                        one.keep_in_mind(order)
            except OSError:
                if (one.folder / identity).exists():
                    raise
                one.forget(identity)  # it is done, or another host took it over
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
            if trouble.kind is TroubleKind.SPOILED:
                one.spoiled.setdefault(order.id, Backoff(self._clock)).begin(trouble.say)
                return False
            self._held.setdefault(needs, Backoff(self._clock)).begin(trouble.say)
            (self._in_vain.add if trouble.kind in _IN_VAIN else self._in_vain.discard)(needs)
            return False
        if order.state is OrderState.ENDING:
            one.forget(order.id)
            self._changed()
        if before is not OrderState.ENDING:
            self._held.pop(needs, None)
            self._in_vain.discard(needs)
            one.spoiled.pop(order.id, None)
            self._goes_on(one)
        return rests

    # --- turns of several hosts --------------------------------------------------------------

    def _has_turn(self, profiles: list[ProfileOrders]) -> bool:
        """True if nothing is to be begun, or no other host may print meanwhile."""
        self._other_host = ""
        ready = [order for one in profiles for order in self._next_of(one)]
        goes_on = self._has_unsent(profiles) or any(order.run for order in ready)
        if not goes_on and not ready:
            self._give_turns_back(profiles)
            return True
        if not goes_on and self._clock() < self._others_until:
            return False
        for one in sorted(profiles, key=lambda one: one.profile.name):
            with self._in_folder_of(one):
                turn = self._turn(one)
                self._other_host = turn.take()
                if self._other_host:
                    turn.want()
            if self._other_host:
                if not goes_on:
                    self._give_turns_back(profiles)
                return False
        return True

    def _keeps_turn(self, profiles: list[ProfileOrders]) -> bool:
        """True while no film of another host may come between, or before what is to be sent."""
        return self._has_unsent(profiles) or any(
            order.run for one in profiles for order in self._next_of(one)
        )

    def _has_unsent(self, profiles: list[ProfileOrders]) -> bool:
        return any(one.of_states(UNSENT) for one in profiles)

    def _give_turns_back(self, profiles: list[ProfileOrders], *, heard: bool = False) -> None:
        self._printed = False
        for one in profiles:
            with self._in_folder_of(one):
                self._turn(one).give_back()
                if heard:
                    self._turn(one).satisfy()

    def _is_wanted(self, one: ProfileOrders) -> bool:
        with self._in_folder_of(one):
            return self._turn(one).is_wanted()
        return False

    def _turn(self, one: ProfileOrders) -> PrinterTurn:
        context = one.profile.context
        return PrinterTurn(context.folders.hidden, context.host, self.printer)

    # --- what is in the way ------------------------------------------------------------------

    def _tell_wait(self, one: ProfileOrders, order: Order, why: str) -> None:
        """Into the log of prints, once for each reason."""
        if order.why != why:
            state = "stopped" if order.state is OrderState.FOLLOWING else "waiting"
            one.run_of(order).tell(order, state, why)
            order.why = why
            order.save()

    def _forget_held(self, profiles: list[ProfileOrders]) -> None:
        """What nobody waits for any more is in nobody's way."""
        if self._held:
            reached = {one.profile.name for one in profiles}
            waits = {
                one.seen[identity].needs
                for one in profiles
                for identity in one.of_states({OrderState.WAITING, *AT_PRINTER})
            }
            gone = {needs for needs in self._held if needs[0] in reached} - waits
            for needs in gone:
                del self._held[needs]
            self._in_vain -= gone

    def _hold_up(self, why: str) -> None:
        """The printer cannot be worked with for a while, longer each time."""
        self._say_once("printer waits", why)
        self._pause.begin(why)

    @contextmanager
    def _in_folder_of(self, one: ProfileOrders) -> Iterator[None]:
        """Work in a profile's folder, in its language.

        An OSError ends that work, and for a while, longer each time, none is done in that folder.
        """
        with speaking(one.profile.language):
            try:
                yield
            except OSError as error:
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
        if self._pause.why or self._other_host:
            return True
        if any(one.of_states({*AT_PRINTER, OrderState.ENDING}) for one in profiles):
            runs = [run for one in profiles for run in one.runs.values()]
            return any(run.seen is not None and run.seen.state is JobState.STOPPED for run in runs)
        return all(
            one.trouble.why or one.seen[order.id].needs in self._held
            for one, order in self._waiting(profiles)
        )
