"""What a printer's "no" means: its status (RFC 8011, appendix B.1) as a sentence and its kind."""

from __future__ import annotations

from filmhand.printer.ipp.message import GroupTag, IppMessage
from filmhand.printer.ipp.words import Operation, Status
from filmhand.printer.trouble import PrinterTrouble, TroubleKind

_LONGEST = 200  # characters of the printer's own message

_SAID: dict[int, tuple[str, TroubleKind]] = {
    Status.BAD_REQUEST: ("does not understand what it is asked", TroubleKind.WRONG),
    Status.FORBIDDEN: (
        "does not let filmhand print; allow it in the printer's settings",
        TroubleKind.WRONG,
    ),
    Status.NOT_AUTHENTICATED: (
        "wants a user and a password, which filmhand does not give; let it print without one",
        TroubleKind.WRONG,
    ),
    Status.NOT_AUTHORIZED: (
        "does not let filmhand print; allow it in the printer's settings",
        TroubleKind.WRONG,
    ),
    Status.NOT_POSSIBLE: ("cannot do that with this job any more", TroubleKind.REFUSED),
    Status.TIMEOUT: ("has given up waiting for the document", TroubleKind.REFUSED),
    Status.NOT_FOUND: (
        "knows nothing of that name; look at the path of the address, often /ipp/print",
        TroubleKind.WRONG,
    ),
    Status.GONE: ("does not have that any more", TroubleKind.REFUSED),
    Status.TOO_LARGE: ("finds the film too large for its memory", TroubleKind.UNABLE),
    Status.FORMAT_NOT_SUPPORTED: ("does not take such documents after all", TroubleKind.UNABLE),
    Status.ATTRIBUTES_NOT_SUPPORTED: (
        "lists what this film needs, and refuses it all the same",
        TroubleKind.UNABLE,
    ),
    Status.ACCOUNT_LIMIT: ("says that its account is used up", TroubleKind.STOPPED),
    Status.INTERNAL_ERROR: ("has met an error of its own", TroubleKind.AWAY),
    Status.OPERATION_NOT_SUPPORTED: ("cannot be asked for that", TroubleKind.WRONG),
    Status.SERVICE_UNAVAILABLE: ("is not ready", TroubleKind.AWAY),
    Status.VERSION_NOT_SUPPORTED: ("speaks no known version of IPP", TroubleKind.WRONG),
    Status.DEVICE_ERROR: ("has met an error of its own, such as a jam", TroubleKind.STOPPED),
    Status.TEMPORARY_ERROR: ("has no room for the job just now", TroubleKind.BUSY),
    Status.NOT_ACCEPTING: ("takes no jobs for now", TroubleKind.STOPPED),
    Status.BUSY: ("is busy with another job", TroubleKind.BUSY),
    Status.JOB_CANCELED: ("says that the job was canceled", TroubleKind.REFUSED),
    Status.NO_MULTIPLE_DOCUMENTS: ("takes no further document in this job", TroubleKind.REFUSED),
}
# After these nobody knows whether the document was taken.
_UNCERTAIN = frozenset({Status.INTERNAL_ERROR, Status.DEVICE_ERROR, Status.JOB_CANCELED})
_NO_MORE = frozenset({Status.NOT_POSSIBLE, Status.NO_MULTIPLE_DOCUMENTS})


def refused_request(host: str, operation: Operation, answer: IppMessage) -> PrinterTrouble:
    """The trouble that an answer without success is.

    `nothing_sent` is True where the printer has rejected the request, and with it its document.
    """
    say, kind = _SAID.get(
        answer.code, (f"refuses with the code 0x{answer.code:04x}", TroubleKind.REFUSED)
    )
    own = _own_words(answer)
    uncertain = answer.code in _UNCERTAIN or not 0x0400 <= answer.code < 0x0600
    # A job that has a document takes no second one: the first may have gone before.
    second = operation is Operation.SEND_DOCUMENT and answer.code in _NO_MORE
    return PrinterTrouble(
        f"The printer at {host} {say}{f' ({own})' if own else ''}.",
        kind,
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
