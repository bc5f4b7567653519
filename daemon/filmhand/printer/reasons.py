"""The reasons that printers give (RFC 8011, sections 5.3.8 and 5.4.12), in plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable

from filmhand.rows import RowEnum

_SEVERITY = re.compile(r"-(?:error|warning|report)$")
_SHOWN = re.compile(r"[^A-Za-z0-9._ -]")


class PrinterReason(RowEnum):
    """What may be wrong with a printer: its keyword, words for it, and whether nothing prints then.

    The keywords are of RFC 8011, of PWG 5100.9 and of CUPS; the gravest stand first. Longer
    keywords that begin with one of these are told as it. An empty tray or cartridge may be one of
    several, so there it is the printer's state that tells whether it stops.
    """

    say: str
    stops: bool

    MEDIA_JAM = "media-jam", "film is jammed", True
    COVER_OPEN = "cover-open", "a cover is open", True
    DOOR_OPEN = "door-open", "a door is open", True
    INTERLOCK_OPEN = "interlock-open", "a cover is open", True
    MEDIA_EMPTY = "media-empty", "a tray is empty", False
    MEDIA_NEEDED = "media-needed", "it waits for other film", False
    INPUT_TRAY_MISSING = "input-tray-missing", "a tray is not in its place", False
    OUTPUT_TRAY_MISSING = "output-tray-missing", "the output tray is not in its place", False
    OUTPUT_AREA_FULL = "output-area-full", "the output tray is full", True
    TONER_EMPTY = "toner-empty", "toner is empty", False
    SUPPLY_EMPTY = "marker-supply-empty", "ink or toner is empty", False
    SUPPLY_MISSING = "marker-supply-missing", "an ink or toner cartridge is missing", False
    WASTE_FULL = "marker-waste-full", "the waste container is full", False
    DRUM_OVER = "opc-life-over", "the drum is worn out", False
    FUSER_OVER = "fuser-over-temp", "the fuser is too hot", True
    FUSER_UNDER = "fuser-under-temp", "the fuser is not hot yet", False
    SPOOL_FULL = "spool-area-full", "its memory is full", False
    INTERPRETER_LACKS = "interpreter-resource-unavailable", "it lacks memory", False
    SHUTDOWN = "shutdown", "it is shutting down", True
    OFFLINE = "offline", "it is offline", True
    TIMED_OUT = "timed-out", "its queue does not reach it", False
    CONNECTING = "connecting-to-device", "its queue is connecting with it", False
    QUEUE_WAITS = "cups-waiting-for-job-completed", "its queue waits until it is done", False
    STOPPED_PARTLY = "stopped-partly", "a part of it is stopped", False
    STOPPING = "stopping", "it is stopping", False
    MOVING_TO_PAUSED = "moving-to-paused", "it is about to pause", True
    PAUSED = "paused", "it is paused", True
    HIBERNATING = "hibernate", "it is asleep", False
    DEACTIVATED = "deactivated", "it is switched off for print jobs", True
    MEDIA_LOW = "media-low", "a tray is nearly empty", False
    TONER_LOW = "toner-low", "toner is low", False
    SUPPLY_LOW = "marker-supply-low", "ink or toner is low", False
    WASTE_NEARLY_FULL = "marker-waste-almost-full", "the waste container is nearly full", False
    DRUM_NEAR_END = "opc-near-eol", "the drum is nearly worn out", False
    OUTPUT_NEARLY_FULL = "output-area-almost-full", "the output tray is nearly full", False
    IDENTIFY = "identify-printer-requested", "somebody is looking for it", False


class JobReason(RowEnum):
    """What a printer says of a job beyond its state; those that say no more than it are empty."""

    say: str

    DATA_INSUFFICIENT = "job-data-insufficient", "it waits for the document"
    INCOMING = "job-incoming", ""
    PRINTER_STOPPED = "printer-stopped", "the printer is stopped"
    PRINTER_STOPPED_PARTLY = "printer-stopped-partly", "a part of the printer is stopped"
    RESOURCES = "resources-are-not-ready", "film or another thing that it needs is not there"
    HOLD_UNTIL = "job-hold-until-specified", "it is held at the printer"
    HELD_REVIEW = "job-held-for-review", "it is held at the printer for review"
    AUTHORIZATION = "job-held-for-authorization", "it is held at the printer for a permission"
    PASSWORD = "job-password-wait", "the printer wants a password at its panel"
    RELEASE_WAIT = "job-release-wait", "somebody must release it at the printer's panel"
    ACCOUNT_LIMIT = "account-limit-reached", "the printer's account is used up"
    ACCOUNT_CLOSED = "account-closed", "the printer's account is closed"
    ABORTED_BY_SYSTEM = "aborted-by-system", "the printer gave it up"
    FORMAT_ERROR = "document-format-error", "the printer could not read the document"
    UNSUPPORTED_FORMAT = "unsupported-document-format", "the printer does not read such documents"
    COMPRESSION_ERROR = "compression-error", "the printer could not read the document"
    ACCESS_ERROR = "document-access-error", "the printer did not get the document"
    CANCELED_BY_USER = "job-canceled-by-user", "somebody canceled it"
    CANCELED_BY_OPERATOR = "job-canceled-by-operator", "an operator canceled it"
    CANCELED_AT_DEVICE = "job-canceled-at-device", "it was canceled at the printer"
    TO_STOP_POINT = "processing-to-stop-point", "it is being canceled"
    ERRORS = "job-completed-with-errors", "the printer reports errors"
    WARNINGS = "job-completed-with-warnings", "the printer reports warnings"
    QUEUED = "queued-in-device", "it waits in the printer itself"
    SPOOLING = "job-spooling", ""
    PRINTING = "job-printing", ""
    QUEUED_JOB = "job-queued", ""
    TRANSFORMING = "job-transforming", ""
    INTERPRETING = "job-interpreting", ""
    SUCCESS = "job-completed-successfully", ""
    RESTARTABLE = "job-restartable", ""
    RETAINED = "job-retained", ""
    FETCHABLE = "job-fetchable", ""


def printer_reasons(keywords: Iterable[str]) -> list[str]:
    """The words for what is wrong with a printer, the gravest first; unknown ones as they came.

    >>> printer_reasons(["toner-low-report", "media-empty-error", "glowing-error"])
    ['a tray is empty', 'toner is low', 'the printer says “glowing”']
    """
    known, unknown = set(), []
    for keyword in keywords:
        if keyword == "none":
            continue
        row = _row_of(keyword)
        if row is None:
            unknown.append(_as_it_came(_SEVERITY.sub("", keyword)))
        elif row.say:
            known.add(row)
    ordered = [row.say for row in PrinterReason if row in known]
    return list(dict.fromkeys([*ordered, *unknown]))


def stops_printing(keywords: Iterable[str]) -> bool:
    """True if a reason keeps a printer from printing anything, whatever its state is called."""
    return any(
        (row := _row_of(keyword)) is not None
        and row.stops
        and not keyword.endswith(("-warning", "-report"))
        for keyword in keywords
    )


def job_reasons(keywords: Iterable[str]) -> list[str]:
    """The words for what a printer says of a job; unknown ones as they came.

    >>> job_reasons(["job-printing", "job-canceled-at-device"])
    ['it was canceled at the printer']
    """
    told = []
    for keyword in keywords:
        try:
            say = JobReason(keyword).say
        except ValueError:
            say = "" if keyword == "none" else _as_it_came(keyword)
        if say:
            told.append(say)
    return list(dict.fromkeys(told))


def _row_of(keyword: str) -> PrinterReason | None:
    """The row whose keyword this is or begins with, the longest."""
    plain = _SEVERITY.sub("", keyword)
    rows = [row for row in PrinterReason if plain == row or plain.startswith(f"{row}-")]
    return max(rows, key=len, default=None)


def _as_it_came(keyword: str) -> str:
    return f"the printer says “{_SHOWN.sub('_', keyword)[:80]}”"
