"""A printer that is talked with by IPP: the one class that knows both films' jobs and messages.

Each method is one or two exchanges. A job's document goes in one piece behind its message; what is
left half-sent when we die is the printer's to throw away, and the printer is asked afterward.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import count
from typing import BinaryIO

from filmhand.printer.capabilities import Capabilities, PrinterState
from filmhand.printer.ipp.connection import IppConnection
from filmhand.printer.ipp.message import (
    BrokenMessageError,
    GroupTag,
    IppMessage,
    IppValue,
    Members,
    ValueTag,
    decode_message,
    encode_message,
)
from filmhand.printer.ipp.refused_requests import refused_request
from filmhand.printer.ipp.words import (
    SUCCESS_BELOW,
    Operation,
    Status,
    boolean,
    collection,
    enum_value,
    integer,
    keywords,
    resolution_value,
    text_value,
)
from filmhand.printer.print_request import JobState, JobStatus, PrintJobRequest
from filmhand.printer.printer_words import SenselessAnswer, SessionTrouble
from filmhand.printer.read_capabilities import REQUESTED, read_capabilities
from filmhand.printer.reasons import (
    DATA_INSUFFICIENT,
    TO_STOP_POINT,
    film_is_low,
    job_reasons,
    printer_reasons,
)
from filmhand.printer.trouble import PrinterTrouble

_USER = "filmhand"
_MOST_JOBS = 1000  # of one list; the answer has a limit of its own
_OF_A_JOB = (
    "job-id",
    "job-name",
    "job-state",
    "job-state-reasons",
    "number-of-documents",
    "job-media-sheets-completed",
    "job-impressions-completed",
)
_UNKNOWN_JOB = frozenset({Status.NOT_FOUND, Status.GONE})
_NOT_IN_VERSION_2 = (1, 1)


class IppPrinter:
    """One printer, or a queue; a `Printer`.

    Parameters
    ----------
    uri : its address, ipp or ipps
    certificate : SHA-256 of its certificate, where no authority vouches for it
    connection : what makes the exchanges; of the address where None

    Raises
    ------
    PrinterTrouble
        WRONG, where the address is none.
    """

    def __init__(
        self, uri: str, certificate: str | None = None, *, connection: IppConnection | None = None
    ) -> None:
        self._connection = connection or IppConnection(uri, certificate)
        self._address = self._connection.address
        self._version = (2, 0)
        self._numbers = count(1)
        self._operations: frozenset[int] | None = None

    # --- what it can do ----------------------------------------------------------------------

    def capabilities(self) -> Capabilities:
        """What it can do, and how it is now."""
        answer = self._ask(
            Operation.GET_PRINTER_ATTRIBUTES, {"requested-attributes": keywords(*REQUESTED)}
        )
        told = answer.of(GroupTag.PRINTER)
        if not told:
            raise self._senseless(SenselessAnswer.NOTHING_OF_ITSELF.say())
        found = read_capabilities(told[0])
        self._operations = found.operations
        return found

    def _state(self) -> Members:
        """The printer's state and its reasons."""
        wanted = keywords("printer-state", "printer-state-reasons")
        answer = self._ask(Operation.GET_PRINTER_ATTRIBUTES, {"requested-attributes": wanted})
        return next(iter(answer.of(GroupTag.PRINTER)), {})

    # --- one job -----------------------------------------------------------------------------

    def create(self, job: PrintJobRequest) -> int | None:
        """Make a job without a document, and give its number; None if it takes only whole jobs."""
        if self._operations is None:
            self.capabilities()
        if not {Operation.CREATE_JOB, Operation.SEND_DOCUMENT} <= (self._operations or set()):
            return None
        wishes = job_attributes(job)
        answer = self._ask(Operation.CREATE_JOB, self._of_new_job(job), wishes)
        return self._number_of(answer, wishes)

    def send(
        self,
        number: int | None,
        job: PrintJobRequest,
        document: BinaryIO,
        size: int,
        seen: Callable[[JobStatus], None] = lambda status: None,
    ) -> int:
        """Send the document of `size` bytes into the job; without a number, a whole job.

        The job's number. A PrinterTrouble with `nothing_sent` says that nothing will be printed;
        an OSError that the document could not be read. `seen` is told how far the job is while
        the printer takes nothing.
        """
        kind = {"document-format": text_value(ValueTag.MIME_TYPE, job.document_format)}
        if number is None:
            wishes = job_attributes(job)
            said = self._of_new_job(job) | kind
            answer = self._ask(Operation.PRINT_JOB, said, wishes, document=document, size=size)
            return self._number_of(answer, wishes)
        said = {
            "job-id": integer(number),
            **self._asked_by(),
            "document-name": text_value(ValueTag.NAME, job.name),
            **kind,
            "last-document": boolean(True),
        }

        def look() -> bool | None:
            try:
                status = self.job(number)
            except PrinterTrouble:
                return None  # it may talk with one at a time
            if status is not None:
                seen(status)
            return status is not None and not status.state.ended

        self._ask(Operation.SEND_DOCUMENT, said, document=document, size=size, look=look)
        return number

    def job(self, number: int) -> JobStatus | None:
        """How far the job is; None if the printer does not know it."""
        said = {
            "job-id": integer(number),
            **self._asked_by(),
            "requested-attributes": keywords(*_OF_A_JOB),
        }
        answer = self._ask(Operation.GET_JOB_ATTRIBUTES, said, allowed=_UNKNOWN_JOB)
        if answer.code in _UNKNOWN_JOB:
            return None
        told = answer.of(GroupTag.JOB)
        state = _state_of(told[0]) if told else None
        if state is None:
            raise self._senseless(SenselessAnswer.NOTHING_OF_JOB.say(number=number))
        of_printer: Members = {} if state.ended else self._state()
        return _status(told[0], state, number, of_printer)

    def find(self, name: str) -> list[JobStatus]:
        """The jobs of exactly this name, ended ones too where it still knows them, newest first."""
        found: dict[int, JobStatus] = {}
        for which in ("not-completed", "completed"):
            said = {
                **self._asked_by(),
                "limit": integer(_MOST_JOBS),
                "requested-attributes": keywords(*_OF_A_JOB),
                "which-jobs": keywords(which),
            }
            for told in self._ask(Operation.GET_JOBS, said).of(GroupTag.JOB):
                number, state = _whole_number(told, "job-id"), _state_of(told)
                if number is not None and state is not None and _text_of(told, "job-name") == name:
                    found[number] = _status(told, state, number, {})
        return [found[number] for number in sorted(found, reverse=True)]

    def cancel(self, number: int) -> None:
        """Ask for the job to be canceled; nothing happens if it has ended or is not known."""
        said = {"job-id": integer(number), **self._asked_by()}
        self._ask(Operation.CANCEL_JOB, said, allowed={*_UNKNOWN_JOB, Status.NOT_POSSIBLE})

    # --- messages ----------------------------------------------------------------------------

    def _asked_by(self) -> Members:
        return {"requesting-user-name": text_value(ValueTag.NAME, _USER)}

    def _of_new_job(self, job: PrintJobRequest) -> Members:
        return {
            **self._asked_by(),
            "job-name": text_value(ValueTag.NAME, job.name),
            "ipp-attribute-fidelity": boolean(True),
        }

    def _ask(
        self,
        operation: Operation,
        said: Members,
        wishes: Members | None = None,
        *,
        document: BinaryIO | None = None,
        size: int = 0,
        look: Callable[[], bool | None] = lambda: None,
        allowed: Iterable[int] = (),
    ) -> IppMessage:
        """The answer to one request; PrinterTrouble unless it is a success or an allowed status."""
        operation_group: Members = {
            "attributes-charset": text_value(ValueTag.CHARSET, "utf-8"),
            "attributes-natural-language": text_value(ValueTag.LANGUAGE, "en"),
            "printer-uri": text_value(ValueTag.URI, self._address.uri),
            **said,
        }
        groups: list[tuple[int, Members]] = [(GroupTag.OPERATION, operation_group)]
        if wishes:
            groups.append((GroupTag.JOB, wishes))
        message = IppMessage(operation, next(self._numbers), groups, self._version)
        data = self._connection.exchange(encode_message(message), document, size, look)
        try:
            answer, _ = decode_message(data)
        except BrokenMessageError as error:
            raise self._senseless(str(error), nothing_sent=document is None) from error
        if answer.code == Status.VERSION_NOT_SUPPORTED and self._version != _NOT_IN_VERSION_2:
            self._version = _NOT_IN_VERSION_2
            if document is None:
                return self._ask(operation, said, wishes, allowed=allowed)
        if answer.code >= SUCCESS_BELOW and answer.code not in set(allowed):
            raise refused_request(self._address.host, operation, answer)
        return answer

    def _number_of(self, answer: IppMessage, wishes: Members) -> int:
        """The number of the job that was made, unless it was not made as we asked."""
        told = answer.of(GroupTag.JOB)
        number = _whole_number(told[0], "job-id") if told else None
        if number is None or number < 1:
            raise self._senseless(SenselessAnswer.NO_NUMBER.say())
        ignored = sorted({name for one in answer.of(GroupTag.UNSUPPORTED) for name in one})
        lost = [name for name in ignored if name in wishes]
        if lost:
            self.cancel(number)
            raise SessionTrouble.WOULD_PRINT_WITHOUT.trouble(
                host=self._address.host, words=", ".join(lost)
            )
        return number

    def _senseless(self, what: str, *, nothing_sent: bool = False) -> PrinterTrouble:
        return SessionTrouble.SENSELESS.trouble(
            host=self._address.host, what=what, nothing_sent=nothing_sent
        )


def job_attributes(job: PrintJobRequest) -> Members:
    """The job's attributes as they are sent, in the order of the protocol's own lists."""
    said: Members = {}
    if job.copies is not None:
        said["copies"] = integer(job.copies)
    if job.media_name is not None:
        said["media"] = keywords(job.media_name)
    else:
        said["media-col"] = collection(_media_collection(job))
    if job.color_mode is not None:
        said["print-color-mode"] = keywords(job.color_mode)
    if job.quality is not None:
        said["print-quality"] = enum_value(job.quality)
    if job.scaling is not None:
        said["print-scaling"] = keywords(job.scaling)
    if job.resolution is not None:
        said["printer-resolution"] = resolution_value(job.resolution)
    if job.sides is not None:
        said["sides"] = keywords(job.sides)
    return said


def _media_collection(job: PrintJobRequest) -> Members:
    width, height = job.size
    size = collection({"x-dimension": integer(width), "y-dimension": integer(height)})
    members: Members = {"media-size": size}
    if job.media_margins is not None:
        names = ("top", "right", "bottom", "left")
        for name, margin in zip(names, job.media_margins, strict=True):
            members[f"media-{name}-margin"] = integer(margin)
    if job.media_source is not None:
        members["media-source"] = keywords(job.media_source)
    if job.media_type is not None:
        members["media-type"] = keywords(job.media_type)
    return members


# --- what it tells of a job ----------------------------------------------------------------------


def _status(told: Members, state: JobState, number: int, of_printer: Members) -> JobStatus:
    reasons = _texts(told, "job-state-reasons")
    if state.ended:  # a server says so of a job that has gone to its printer
        reasons = [one for one in reasons if one != TO_STOP_POINT]
    of_itself = _texts(of_printer, "printer-state-reasons")
    why = job_reasons(reasons) + printer_reasons(of_itself)
    stopped = _whole_number(of_printer, "printer-state") == PrinterState.STOPPED
    if state is JobState.PROCESSING and stopped:
        state = JobState.STOPPED
    return JobStatus(
        number=number,
        name=_text_of(told, "job-name"),
        state=state,
        empty=_is_empty(told, state, reasons),
        why=", ".join(dict.fromkeys(why)),
        film_low=state is not JobState.STOPPED and film_is_low(of_itself),
    )


def _is_empty(told: Members, state: JobState, reasons: list[str]) -> bool:
    """True only where the printer says so: it waits for data, or has no document and no sheet."""
    if state in {JobState.PROCESSING, JobState.STOPPED, JobState.COMPLETED}:
        return False
    if _whole_number(told, "job-media-sheets-completed") or _whole_number(
        told, "job-impressions-completed"
    ):
        return False
    documents = _whole_number(told, "number-of-documents")
    if documents is None:
        return not state.ended and DATA_INSUFFICIENT in reasons
    return documents == 0


def _state_of(told: Members) -> JobState | None:
    value = _whole_number(told, "job-state")
    return next((state for state in JobState if state == value), None)


def _values(told: Members, name: str) -> tuple[IppValue, ...]:
    return told.get(name, ())


def _texts(told: Members, name: str) -> list[str]:
    return [one.text for one in _values(told, name) if one.text is not None]


def _text_of(told: Members, name: str) -> str:
    return next(iter(_texts(told, name)), "")


def _whole_number(told: Members, name: str) -> int | None:
    values = [one.value for one in _values(told, name)]
    found = values[0] if values else None
    return found if isinstance(found, int) and not isinstance(found, bool) else None
