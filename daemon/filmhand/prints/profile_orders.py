"""The orders of one profile, as this host has them in hand: seen, read once, and kept in mind."""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import field

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import hosts_in
from filmhand.disk.forms import is_print_id
from filmhand.disk.set_aside import clear, set_aside
from filmhand.jobs.context import JobContext
from filmhand.jobs.print_order import HALF_WRITTEN, ORDERS, Order, OrderState
from filmhand.printer.print_request import OpenPrinter
from filmhand.prints.print_requests import PrintAsked, is_paused, listed
from filmhand.prints.print_words import OrderEnd, QueueWord
from filmhand.prints.steps import PrintRun, ends_as
from filmhand.profile.printing import PrintWishes
from filmhand.timing.backoff import Backoff
from filmhand.values import dataclass

Needs = tuple[str, tuple[int, int], tuple[int, int]]
"""What an order needs of the printer: profile, sheet, resolution."""


@dataclass(frozen=True, slots=True)
class PlaceInRun:
    """Where an order stands among those that are printed in one run, and whose job they are of.

    `film_set` is what people call the run.
    """

    run: str
    place: int
    of: int
    job: str
    film_set: str


@dataclass(frozen=True, slots=True)
class NextOrder:
    """An order that may be begun with; `run`: others of that run were, so it goes before all."""

    id: str
    run: str = ""


@dataclass(slots=True)
class OrderSeen:
    """What is kept in mind of an order; thousands may wait, so film and why are of others only.

    `run` is the run that it is printed in, its place there and of how many, and who made it.
    """

    state: OrderState
    needs: Needs
    film: str = ""
    why: str = ""
    number: int | None = None
    run: PlaceInRun | None = None


@dataclass(frozen=True, slots=True)
class RunInParts:
    """A run of which some orders are there and others are not yet; what people call it."""

    film_set: str
    there: int
    of: int


@dataclass(slots=True)
class PrintingProfile:
    """A profile whose films go to a printer.

    Attributes
    ----------
    name, context, wishes : the profile, what its jobs are worked with, what it says of printing
    open_printer : makes who talks with its printer
    hangs : whether its folder does not answer just now
    in_inches : its sheet is written in inches
    language : what is said of its films is said in this, if the profile names one
    """

    name: str
    context: JobContext
    wishes: PrintWishes
    open_printer: OpenPrinter = field(compare=False)
    hangs: Callable[[], bool] = field(default=lambda: False, compare=False)
    in_inches: bool = False
    language: str | None = None


@dataclass(slots=True)
class ProfileOrders:
    """The orders of a profile.

    Attributes
    ----------
    profile : whose they are
    seen : all of them by id, in the order of publication
    runs : what those are printed with that were begun
    paused : somebody holds them
    trouble : what is in the way of the profile's folder, such as a full disk
    spoiled : of which films the documents are not what was written, and when to look again
    in_parts : the runs that wait until all their films are there, as of the last look
    """

    profile: PrintingProfile
    seen: dict[str, OrderSeen] = field(default_factory=dict)
    runs: dict[str, PrintRun] = field(default_factory=dict)
    paused: bool = False
    trouble: Backoff = field(default_factory=Backoff)
    spoiled: dict[str, Backoff] = field(default_factory=dict)
    in_parts: list[RunInParts] = field(default_factory=list)

    @property
    def folder(self) -> Beneath:
        """Where they lie."""
        return self.profile.context.own / ORDERS

    def look(self) -> None:
        """Read what is new, follow requests, forget what is gone. OSError if it does not answer."""
        context = self.profile.context
        there = listed(self.folder)
        self.paused = is_paused(context.folders)
        for name in there.strange:
            self._tell_of(
                set_aside(self.folder / name, context.folders.hidden), QueueWord.NO_ORDER.say()
            )
        for identity in self.seen.keys() - set(there.ids):
            self.forget(identity)
        fresh = [identity for identity in there.ids if identity not in self.seen]
        for identity in fresh:
            order = self.load(identity)
            if order is not None:
                self.keep_in_mind(order)
                if order.state is not OrderState.WAITING:
                    self.run_of(order).found = True
        if fresh:
            self.seen = dict(sorted(self.seen.items()))
        for identity, asked in there.asked:
            self._follow(identity, asked)

    def load(self, identity: str) -> Order | None:
        """Read an order; None for one that is gone, or that no order can be, which is set aside."""
        folder = self.folder / identity
        half_written = folder / HALF_WRITTEN
        if half_written.is_dir():  # no note could be written over it, nor the folder be removed
            hidden = self.profile.context.folders.hidden
            self._tell_of(set_aside(half_written, hidden), QueueWord.NO_NOTE.say())
        try:
            return Order.load(folder)
        except ValueError as error:
            hidden = self.profile.context.folders.hidden
            if folder.is_dir() and not (folder / "order.json").exists():
                clear(folder, hidden)  # a kill came while it was removed
            elif folder.exists():
                self._tell_of(set_aside(folder, hidden), str(error))
        self.forget(identity)
        return None

    def forget(self, identity: str) -> None:
        """It is not here any more."""
        self.seen.pop(identity, None)
        self.runs.pop(identity, None)
        self.spoiled.pop(identity, None)

    def keep_in_mind(self, order: Order) -> None:
        """Note how far the order is now."""
        needs = (self.profile.name, order.size, order.dpi)
        seen = OrderSeen(order.state, needs)
        if order.state is not OrderState.WAITING:
            seen = OrderSeen(order.state, needs, order.film, order.why, order.number)
        if order.run:
            seen.run = PlaceInRun(order.run, order.place, order.of, order.job, order.film_set)
        self.seen[order.id] = seen

    def run_of(self, order: Order) -> PrintRun:
        """What the order is printed with; kept as long as it is there."""
        run = self.runs.get(order.id)
        if run is None:
            profile = self.profile
            run = PrintRun(profile.context, profile.wishes, profile.open_printer, profile.in_inches)
            self.runs[order.id] = run
        return run

    def next_ones(self, in_vain: Collection[Needs] = ()) -> list[NextOrder]:
        """Those that may be begun with now; none while the profile is paused.

        While a run is under way these are what is left of it, unless the printer cannot print that
        at all: what it has been asked for `in_vain`. One that has not been published to
        its end is left out, so that nothing comes between its films: they wait for each other, and
        hold up no other film. OSError if the folder does not answer.
        """
        waiting = [] if self.paused else self.of_states({OrderState.WAITING})
        waiting = [one for one in waiting if one not in self.spoiled or self._look_again(one)]
        runs: dict[str, list[str]] = {}
        for identity in waiting:
            if (at := self.seen[identity].run) is not None:
                runs.setdefault(at.run, []).append(identity)
        there = Counter(one.run.run for one in self.seen.values() if one.run is not None)
        self.in_parts, apart, begun = [], set[str](), list[NextOrder]()
        for run, left in runs.items():
            at = self.seen[left[0]].run
            assert at is not None
            if there[run] < at.of and self._is_being_published(at.job):
                self.in_parts.append(RunInParts(at.film_set, len(left), at.of))
                apart.update(left)
            elif len(left) < at.of and not begun and self._can_be(left, in_vain):
                begun = [NextOrder(identity, run) for identity in left]
        return begun or [NextOrder(identity) for identity in waiting if identity not in apart]

    def _can_be(self, orders: list[str], in_vain: Collection[Needs]) -> bool:
        return any(self.seen[identity].needs not in in_vain for identity in orders)

    def _look_again(self, identity: str) -> bool:
        return not self.spoiled[identity].holds()

    def _is_being_published(self, job: str) -> bool:
        """True while orders of a job have not come to where orders lie, or were taken back."""
        hidden = self.profile.context.folders.hidden
        for host in hosts_in(hidden) if job else ():  # whoever took over the job
            with contextlib.suppress(FileNotFoundError, NotADirectoryError):
                if any(map(is_print_id, (hidden / host / job / "out").names())):
                    return True
        return False

    def of_states(self, states: Collection[OrderState]) -> list[str]:
        """The ids of those in one of the states."""
        return [i for i, one in self.seen.items() if one.state in states]

    def _follow(self, identity: str, asked: PrintAsked) -> None:
        context, request = self.profile.context, self.folder / f"{identity}.{asked}"
        if not request.is_file():
            self._tell_of(set_aside(request, context.folders.hidden), QueueWord.NO_REQUEST.say())
            return
        order = self.load(identity) if identity in self.seen else None
        if order is not None:
            if asked is PrintAsked.CANCEL:
                order.cancel = True
                if order.state is OrderState.WAITING:
                    ends_as(order, "canceled", OrderEnd.BEFORE_IT_WENT.say(), context)
                elif order.state is OrderState.DOUBTFUL:
                    ends_as(order, "canceled", OrderEnd.GIVEN_UP.say(), context)
                elif order.state is not OrderState.ENDING:
                    order.save()
            elif asked is PrintAsked.AGAIN and order.state is OrderState.DOUBTFUL:
                order.state, order.number, order.tries = OrderState.WAITING, None, order.tries + 1
                order.printer, order.why = None, ""
                order.run, order.place, order.of = "", 1, 1  # its run may be over for long
                order.save()
                self.runs.pop(identity, None)
            self.keep_in_mind(order)
        request.unlink(missing_ok=True)

    def _tell_of(self, kept: str | None, why: str) -> None:
        if kept is not None:
            where = file_names.shown(f".filmhand/set-aside/{kept}")
            self.profile.context.say("set aside", what=where, why=file_names.shown(why))
