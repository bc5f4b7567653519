"""Printing one film from any state: the table of steps, and the loop that follows it.

The same table drives an order that is printed for the first time and one that is found after a
kill. What must never happen is that a film is printed twice. So a job is made at the printer
without a document, its number is on disk before the document goes, and after a kill the printer
is asked what it has. What even it cannot tell is doubtful, and waits for a person.

The printer's number is a fence, too: a host that slept while another took the order over cannot
send a second document into a job that has one (RFC 8011, section 4.3.1: after the last document
the printer rejects more).

What can be half-done when we die here: an empty job at the printer whose number is not on disk yet,
which is found by its name; or a document of which nobody knows whether it went, which the printer
is asked about.
"""

from __future__ import annotations

from collections.abc import Callable

from filmhand.digest import sha256_of
from filmhand.disk.set_aside import clear
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import utc_text
from filmhand.jobs.print_order import HALF_WRITTEN, Order, OrderState
from filmhand.printer.choice import choose_job
from filmhand.printer.print_request import (
    PDF,
    PWG,
    FilmSheet,
    JobState,
    JobStatus,
    OpenPrinter,
    Printer,
    PrintJobRequest,
)
from filmhand.printer.printer_words import MediaWord
from filmhand.printer.trouble import PrinterTrouble
from filmhand.prints.events import print_event, write_event
from filmhand.prints.print_words import Doubt, OrderEnd, OrderTrouble
from filmhand.profile.printing import PrintWishes
from filmhand.units import Resolution
from filmhand.values import dataclass

FORMATS = {"pwg": PWG, "pdf": PDF}


@dataclass(slots=True)
class PrintRun:
    """What an order is printed with.

    Attributes
    ----------
    context, wishes : of its profile
    open_printer : makes who talks with the printer that these name
    in_inches : people there measure in inches
    found : the order was found under way, so a kill may lie between a line and the notes
    request : what the order becomes at the printer as it is now
    canceling : the printer has been told to cancel it
    told, sent_told : the last event that was written, and whether that it was sent
    seen : what the printer told of its job last
    """

    context: JobContext
    wishes: PrintWishes
    open_printer: OpenPrinter
    in_inches: bool = False
    found: bool = False
    request: PrintJobRequest | None = None
    canceling: bool = False
    told: tuple[str, str] = ("", "")
    sent_told: bool = False
    seen: JobStatus | None = None
    _printer: Printer | None = None

    @property
    def printer(self) -> Printer:
        """Who talks with the printer; PrinterTrouble where its address is none."""
        if self._printer is None:
            assert self.wishes.printer is not None
            self._printer = self.open_printer(self.wishes.printer, self.wishes.certificate)
        return self._printer

    def tell(self, order: Order, state: str, why: str = "", *, once: bool = False) -> None:
        """Write an event, unless it is the last one; `once`: or stands in the log already."""
        if self.told == (state, why):
            return
        event = print_event(order, state, why, self.context)
        write_event(event, self.context, once=once)
        self.told = (state, why)
        self.context.say(
            f"print {state}",
            profile=order.profile,
            film=order.film,
            printer_job=order.number,
            why=why or None,
        )

    def choose(self, order: Order) -> PrintJobRequest:
        """Hold the film against what the printer can do and what lies in its tray, once."""
        if self.request is None:
            sheet = FilmSheet(
                *order.size,
                order.margin,
                Resolution(*order.dpi),
                tuple(FORMATS[form] for form in order.documents if form in FORMATS),
                self.in_inches,
            )
            self.request = choose_job(
                self.printer.capabilities(),
                sheet,
                self.wishes,
                name=order.name,
                copies=order.sheets,
            )
        return self.request

    def send(self, order: Order) -> int:
        """Send the document that was chosen; the number of the job."""
        request = self.choose(order)
        form = next(form for form, mime in FORMATS.items() if mime == request.document_format)
        document = order.documents[form]

        def seen(status: JobStatus) -> None:
            """The printer takes the document no faster than it prints, or waits for film."""
            self.seen = status
            if status.state is JobState.STOPPED or status.why:
                self.tell(order, "stopped", status.why)

        with (order.folder / document.name).open() as file:
            return self.printer.send(order.number, request, file, document.bytes, seen)


@dataclass(frozen=True, slots=True)
class PrintRow:
    """One row of the table: what is known in this state, what is done, and how.

    The function is True if the order must wait for the printer, or is over.
    """

    known: str
    then: str
    do: Callable[[Order, PrintRun], bool]


def _begin(order: Order, run: PrintRun) -> bool:
    run.choose(order)
    for document in order.documents.values():
        if sha256_of(order.folder / document.name) != document.sha256:
            raise OrderTrouble.SPOILED.before_sending(film=order.film)
    for warning in run.choose(order).warnings:
        run.context.say("print warning", profile=order.profile, film=order.film, why=warning)
    order.state, order.number, order.why = OrderState.CREATING, None, ""
    order.printer = run.wishes.printer
    order.save()
    failpoint("print begun")
    return False


def _create(order: Order, run: PrintRun) -> bool:
    """Make the job, without a document: an earlier one of its name holds none, so it may go."""
    for seen in run.printer.find(order.name):
        if not seen.state.ended:
            run.printer.cancel(seen.number)
    if order.cancel:
        ends_as(order, "canceled", OrderEnd.BEFORE_IT_WENT.say(), run.context)
        return False
    order.number = run.printer.create(run.choose(order))
    failpoint("print job created")
    if order.number is None:  # a printer that takes only whole jobs, and tells of them by name
        return _send(order, run, otherwise=OrderState.CREATING)
    order.state = OrderState.CREATED
    order.save()
    failpoint("print number noted")
    return False


def _prepare(order: Order, run: PrintRun) -> bool:
    """Nothing has been sent so far, whatever became of the empty job."""
    assert order.number is not None
    seen = run.printer.job(order.number)
    if seen is None or seen.state.ended:
        if seen is not None and seen.state is JobState.CANCELED:
            why = seen.why or OrderEnd.AT_THE_PRINTER.say()
            ends_as(order, "canceled", why, run.context)
        else:
            _back_to(OrderState.CREATING, order)
        return False
    if order.cancel:
        run.printer.cancel(order.number)
        ends_as(order, "canceled", OrderEnd.BEFORE_IT_WENT.say(), run.context)
        return False
    return _send(order, run, otherwise=OrderState.CREATED)


def _send_unless_sent(order: Order, run: PrintRun) -> bool:
    """The printer is asked first: perhaps the document went before a kill."""
    if order.number is None:
        jobs = run.printer.find(order.name)
        if not jobs:
            return _doubts(order, run, Doubt.NO_JOB.say())
        order.number = jobs[0].number
        return _was_sent(order, run)
    seen = run.printer.job(order.number)
    if seen is None:
        return _doubts(order, run, Doubt.UNKNOWN_JOB.say(number=order.number))
    if not seen.empty:
        return _was_sent(order, run)
    if seen.state.ended or order.cancel:
        order.state = OrderState.CREATED  # nothing was sent
        order.save()
        return False
    return _send(order, run, otherwise=OrderState.CREATED)


def _send(order: Order, run: PrintRun, *, otherwise: OrderState) -> bool:
    """Send the document; `otherwise` is the state if it is certain that none was sent."""
    run.choose(order)
    order.state = OrderState.SENDING
    order.save()
    failpoint("sending noted")
    try:
        order.number = run.send(order)
    except PrinterTrouble as trouble:
        if trouble.nothing_sent:
            order.state = otherwise
            order.save()
        raise
    failpoint("document sent")
    return _was_sent(order, run)


def _was_sent(order: Order, run: PrintRun) -> bool:
    order.state = OrderState.FOLLOWING
    order.save()
    failpoint("sent noted")
    return False


def _follow(order: Order, run: PrintRun) -> bool:
    assert order.number is not None
    if not run.sent_told:
        run.tell(order, "sent", once=run.found)
        run.sent_told = True
    if order.cancel and not run.canceling:
        run.printer.cancel(order.number)
        run.canceling = True
    seen = run.seen = run.printer.job(order.number)
    if seen is None:
        return _doubts(order, run, Doubt.UNKNOWN_JOB.say(number=order.number))
    match seen.state:
        case JobState.COMPLETED:
            ends_as(order, "printed", seen.why, run.context)
            return False
        case JobState.CANCELED:
            end = OrderEnd.ON_DEMAND if order.cancel else OrderEnd.AT_THE_PRINTER
            ends_as(order, "canceled", end.say(), run.context)
            return False
        case JobState.ABORTED:
            why = seen.why or MediaWord.NO_REASON.say()
            return _doubts(order, run, Doubt.GAVE_UP.say(why=why))
        case JobState.STOPPED:
            run.tell(order, "stopped", seen.why)
        case JobState.PROCESSING:
            run.tell(order, "printing", seen.why)
        case JobState.PENDING | JobState.HELD:
            pass
    return True


def _doubts(order: Order, run: PrintRun, why: str) -> bool:
    if order.cancel:
        ends_as(order, "canceled", OrderEnd.ON_DEMAND_IN_DOUBT.say(why=why), run.context)
        return False
    run.tell(order, "doubtful", why, once=True)
    order.state, order.why = OrderState.DOUBTFUL, why
    order.save()
    failpoint("doubt noted")
    return True


def _stay(order: Order, run: PrintRun) -> bool:
    return True


def ends_as(order: Order, state: str, why: str, context: JobContext) -> None:
    """Note what became of the order; telling of it and removing it are what is left."""
    order.state = OrderState.ENDING
    order.ended = {"state": state, "at": utc_text(context.now()), "why": why}
    order.save()
    failpoint("print end noted")


def _end(order: Order, run: PrintRun) -> bool:
    """Tell the end, then remove the order; its notes go last."""
    assert order.ended is not None
    state, why = order.ended["state"], order.ended["why"]
    order.folder.lstat()  # an error if another host took the order over while this one slept
    event = print_event(order, state, why, run.context, at=order.ended["at"])
    write_event(event, run.context, once=run.found)
    run.found = True  # were the folder not to go now, the line is there for the next try
    run.context.say(
        f"print {state}",
        profile=order.profile,
        film=order.film,
        printer_job=order.number,
        why=why or None,
    )
    failpoint("print told")
    remove_order(order, run.context)
    return True


def remove_order(order: Order, context: JobContext) -> None:
    """Remove the order's folder; what is not filmhand's own there is set aside."""
    for document in order.documents.values():
        if not (order.folder / document.name).is_dir():  # a forged one is set aside with the rest
            (order.folder / document.name).unlink(missing_ok=True)
    failpoint("documents removed")
    (order.folder / HALF_WRITTEN).unlink(missing_ok=True)
    (order.folder / "order.json").unlink()
    clear(order.folder, context.folders.hidden)
    failpoint("order removed")


def _back_to(state: OrderState, order: Order) -> None:
    order.number, order.state = None, state
    order.save()


PRINTING: dict[OrderState, PrintRow] = {
    OrderState.WAITING: PrintRow(
        "nothing of it is at a printer",
        "ask the printer what it can do and what lies in its tray, and hold that against the film",
        _begin,
    ),
    OrderState.CREATING: PrintRow(
        "the printer may have a job of its name, without a document",
        "cancel what it has of that name, and make a job without a document",
        _create,
    ),
    OrderState.CREATED: PrintRow(
        "the number of an empty job is on disk",
        "ask for it: unknown or ended by itself, then make another; else note that the document "
        "goes",
        _prepare,
    ),
    OrderState.SENDING: PrintRow(
        "the document may have gone",
        "ask for the job: without a document, then send it; unknown, then doubtful; else follow it",
        _send_unless_sent,
    ),
    OrderState.FOLLOWING: PrintRow(
        "the document is at the printer",
        "ask until the job ends; unknown or given up by the printer, then doubtful",
        _follow,
    ),
    OrderState.DOUBTFUL: PrintRow(
        "nobody knows whether it was printed",
        "nothing, until a person says `reprint` or `cancel`",
        _stay,
    ),
    OrderState.ENDING: PrintRow(
        "the end is on disk; its line, documents and folder may or may not be there",
        "write the line unless it is there, then remove the order",
        _end,
    ),
}


def advance_order(order: Order, run: PrintRun) -> bool:
    """Go on until the order must wait for the printer (True) or is gone or doubtful (False).

    Raises PrinterTrouble or OSError; after each of them the order is in a state of the
    table. FileNotFoundError means that another host has taken it over.
    """
    run.request = None  # what lies in the tray may have changed since
    while True:
        state = order.state
        rests = PRINTING[state].do(order, run)
        if order.state is OrderState.DOUBTFUL or state is OrderState.ENDING:
            return False
        if rests:
            return True
