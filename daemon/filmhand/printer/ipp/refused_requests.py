"""What a printer's "no" means: its status (RFC 8011, appendix B.1) as a sentence and its kind."""

from __future__ import annotations

from filmhand.printer.ipp.ipp_words import RequestTrouble
from filmhand.printer.ipp.message import GroupTag, IppMessage
from filmhand.printer.ipp.words import Operation, Status
from filmhand.printer.trouble import PrinterTrouble

_LONGEST = 200  # characters of the printer's own message

_BY_CODE: dict[int, RequestTrouble] = {
    Status.BAD_REQUEST: RequestTrouble.NOT_UNDERSTOOD,
    Status.FORBIDDEN: RequestTrouble.NOT_ALLOWED,
    Status.NOT_AUTHENTICATED: RequestTrouble.WANTS_PASSWORD,
    Status.NOT_AUTHORIZED: RequestTrouble.NOT_ALLOWED,
    Status.NOT_POSSIBLE: RequestTrouble.NOT_POSSIBLE,
    Status.TIMEOUT: RequestTrouble.WAITED_TOO_LONG,
    Status.NOT_FOUND: RequestTrouble.UNKNOWN_PATH,
    Status.GONE: RequestTrouble.GONE,
    Status.TOO_LARGE: RequestTrouble.TOO_LARGE,
    Status.FORMAT_NOT_SUPPORTED: RequestTrouble.NO_SUCH_DOCUMENTS,
    Status.ATTRIBUTES_NOT_SUPPORTED: RequestTrouble.LISTS_AND_REFUSES,
    Status.ACCOUNT_LIMIT: RequestTrouble.ACCOUNT_USED_UP,
    Status.INTERNAL_ERROR: RequestTrouble.ERROR_OF_ITS_OWN,
    Status.OPERATION_NOT_SUPPORTED: RequestTrouble.CANNOT_BE_ASKED,
    Status.SERVICE_UNAVAILABLE: RequestTrouble.NOT_READY,
    Status.VERSION_NOT_SUPPORTED: RequestTrouble.NO_KNOWN_VERSION,
    Status.DEVICE_ERROR: RequestTrouble.JAM_OR_SUCH,
    Status.TEMPORARY_ERROR: RequestTrouble.NO_ROOM,
    Status.NOT_ACCEPTING: RequestTrouble.TAKES_NO_JOBS,
    Status.BUSY: RequestTrouble.BUSY,
    Status.JOB_CANCELED: RequestTrouble.JOB_CANCELED,
    Status.NO_MULTIPLE_DOCUMENTS: RequestTrouble.NO_FURTHER_DOCUMENT,
}
# After these nobody knows whether the document was taken.
_UNCERTAIN = frozenset({Status.INTERNAL_ERROR, Status.DEVICE_ERROR, Status.JOB_CANCELED})
_NO_MORE = frozenset({Status.NOT_POSSIBLE, Status.NO_MULTIPLE_DOCUMENTS})


def refused_request(host: str, operation: Operation, answer: IppMessage) -> PrinterTrouble:
    """The trouble that an answer without success is.

    `nothing_sent` is True where the printer has rejected the request, and with it its document.
    """
    own = _own_words(answer)
    uncertain = answer.code in _UNCERTAIN or not 0x0400 <= answer.code < 0x0600
    # A job that has a document takes no second one: the first may have gone before.
    second = operation is Operation.SEND_DOCUMENT and answer.code in _NO_MORE
    return _BY_CODE.get(answer.code, RequestTrouble.OTHER_CODE).trouble(
        host=host,
        code=f"0x{answer.code:04x}",
        own=f" ({own})" if own else "",
        nothing_sent=not (uncertain or second),
    )


def _own_words(answer: IppMessage) -> str:
    """The printer's message and what it calls unsupported, as they can be shown."""
    operation = next(iter(answer.of(GroupTag.OPERATION)), {})
    texts = [one.text or "" for one in operation.get("status-message", ())][:1]
    names = sorted({name for one in answer.of(GroupTag.UNSUPPORTED) for name in one})
    parts = [*texts, ", ".join(names)]
    shown = "; ".join("".join(c for c in part if c.isprintable()) for part in parts if part)
    return shown[:_LONGEST].strip().rstrip(".")
