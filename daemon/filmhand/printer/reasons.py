"""The reasons that printers give (RFC 8011, sections 5.3.8 and 5.4.12), in plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Self

from filmhand.language import Sentence

DATA_INSUFFICIENT = "job-data-insufficient"
TO_STOP_POINT = "processing-to-stop-point"
_SEVERITY = re.compile(r"-(?:error|warning|report)$")
_SHOWN = re.compile(r"[^A-Za-z0-9._ -]")
# Makers' own keywords for what "media-low" says.
_FILM_LOW = re.compile(r"\b(?:media|film|paper|tray)\b.*-(?:low|nearly-empty|almost-empty)\b")


class PrinterReason(Sentence):
    """What may be wrong with a printer: words for it, whether nothing prints then, its keywords.

    The keywords are of RFC 8011, of PWG 5100.9 and of CUPS; the gravest stand first. Longer
    keywords that begin with one of these are told as it. An empty tray or cartridge may be one of
    several, so there it is the printer's state that tells whether it stops.
    """

    stops: bool
    keywords: tuple[str, ...]

    def __new__(cls, text: str, stops: bool, *keywords: str) -> Self:
        """A row of its text, whether it stops the printer, and what printers call it."""
        row = str.__new__(cls, text)
        row._value_ = text
        row.stops, row.keywords = stops, keywords
        return row

    MEDIA_JAM = "film is jammed", True, "media-jam"
    COVER_OPEN = "a cover is open", True, "cover-open", "interlock-open"
    DOOR_OPEN = "a door is open", True, "door-open"
    MEDIA_EMPTY = "a tray is empty", False, "media-empty"
    MEDIA_NEEDED = "it waits for other film", False, "media-needed"
    BY_HAND = "it waits for a sheet put in by hand", False, "input-manual-input-request"
    CANNOT_FEED = "it cannot feed a sheet of this size", False, "input-cannot-feed-size-selected"
    INPUT_TRAY_MISSING = "a tray is not in its place", False, "input-tray-missing"
    INPUT_TRAY_FAILS = (
        "a tray does not work",
        False,
        "input-tray-position-failure",
        "input-tray-elevation-failure",
    )
    OUTPUT_TRAY_MISSING = "the output tray is not in its place", False, "output-tray-missing"
    OUTPUT_AREA_FULL = "the output tray is full", True, "output-area-full"
    TONER_EMPTY = "toner is empty", False, "toner-empty"
    SUPPLY_EMPTY = "ink or toner is empty", False, "marker-supply-empty", "marker-ink-empty"
    SUPPLY_MISSING = (
        "an ink or toner cartridge is missing",
        False,
        "marker-supply-missing",
        "marker-ink-missing",
        "marker-toner-missing",
        "marker-toner-cartridge-missing",
    )
    DEVELOPER_EMPTY = "the developer is used up", False, "developer-empty"
    WASTE_FULL = (
        "the waste container is full",
        False,
        "marker-waste-full",
        "marker-waste-ink-receptacle-full",
        "marker-waste-toner-receptacle-full",
    )
    WASTE_MISSING = "the waste container is not in its place", False, "marker-waste-missing"
    DRUM_OVER = "the drum is worn out", False, "opc-life-over"
    FUSER_OVER = "the fuser is too hot", True, "fuser-over-temp"
    FUSER_UNDER = "the fuser is not hot yet", False, "fuser-under-temp"
    SPOOL_FULL = "its memory is full", False, "spool-area-full"
    INTERPRETER_LACKS = "it lacks memory", False, "interpreter-resource-unavailable"
    FILTER_LACKS = "its queue lacks a program that it needs", False, "cups-missing-filter"
    SHUTDOWN = "it is shutting down", True, "shutdown", "power-down"
    OFFLINE = "it is offline", True, "offline"
    TIMED_OUT = "its queue does not reach it", False, "timed-out"
    CONNECTING = "its queue is connecting with it", False, "connecting-to-device"
    QUEUE_WAITS = "its queue waits until it is done", False, "cups-waiting-for-job-completed"
    STOPPED_PARTLY = "a part of it is stopped", False, "stopped-partly"
    STOPPING = "it is stopping", False, "stopping"
    MOVING_TO_PAUSED = "it is about to pause", True, "moving-to-paused"
    PAUSED = "it is paused", True, "paused"
    HOLDS_NEW_JOBS = "it holds new jobs back", False, "hold-new-jobs"
    HIBERNATING = "it is asleep", False, "hibernate"
    STARTING = "it is starting", False, "power-up"
    DEACTIVATED = "it is switched off for print jobs", True, "deactivated"
    OTHER = "it has something that it knows no word for", False, "other", "unknown"
    MEDIA_LOW = "a tray is nearly empty", False, "media-low"
    TONER_LOW = "toner is low", False, "toner-low"
    SUPPLY_LOW = "ink or toner is low", False, "marker-supply-low", "marker-ink-almost-empty"
    DEVELOPER_LOW = "the developer is low", False, "developer-low"
    WASTE_NEARLY_FULL = (
        "the waste container is nearly full",
        False,
        "marker-waste-almost-full",
        "marker-waste-ink-receptacle-almost-full",
        "marker-waste-toner-receptacle-almost-full",
    )
    DRUM_NEAR_END = "the drum is nearly worn out", False, "opc-near-eol"
    OUTPUT_NEARLY_FULL = "the output tray is nearly full", False, "output-area-almost-full"
    SETTINGS_CHANGED = "its settings were changed", False, "configuration-change"
    IDENTIFY = "somebody is looking for it", False, "identify-printer-requested"


class JobReason(Sentence):
    """What a printer says of a job beyond its state, and its keywords for it."""

    keywords: tuple[str, ...]

    def __new__(cls, text: str, *keywords: str) -> Self:
        """A row of its text, and what printers call it."""
        row = str.__new__(cls, text)
        row._value_ = text
        row.keywords = keywords
        return row

    WAITS_FOR_DOCUMENT = "it waits for the document", DATA_INSUFFICIENT
    PRINTER_STOPPED = "the printer is stopped", "printer-stopped"
    PRINTER_STOPPED_PARTLY = "a part of the printer is stopped", "printer-stopped-partly"
    RESOURCES = "film or another thing that it needs is not there", "resources-are-not-ready"
    HOLD_UNTIL = "it is held at the printer", "job-hold-until-specified"
    HELD_REVIEW = "it is held at the printer for review", "job-held-for-review"
    AUTHORIZATION = "it is held at the printer for a permission", "job-held-for-authorization"
    PASSWORD = "the printer wants a password at its panel", "job-password-wait"
    RELEASE_WAIT = "somebody must release it at the printer's panel", "job-release-wait"
    ACCOUNT_LIMIT = "the printer's account is used up", "account-limit-reached"
    ACCOUNT_CLOSED = "the printer's account is closed", "account-closed"
    ABORTED_BY_SYSTEM = "the printer gave it up", "aborted-by-system"
    CANNOT_READ = (
        "the printer could not read the document",
        "document-format-error",
        "compression-error",
    )
    UNSUPPORTED_FORMAT = "the printer does not read such documents", "unsupported-document-format"
    ACCESS_ERROR = "the printer did not get the document", "document-access-error"
    CANCELED_BY_USER = "somebody canceled it", "job-canceled-by-user"
    CANCELED_BY_OPERATOR = "an operator canceled it", "job-canceled-by-operator"
    CANCELED_AT_DEVICE = "it was canceled at the printer", "job-canceled-at-device"
    IS_BEING_CANCELED = "it is being canceled", TO_STOP_POINT
    ERRORS = "the printer reports errors", "job-completed-with-errors"
    WARNINGS = "the printer reports warnings", "job-completed-with-warnings"
    QUEUED = "it waits in the printer itself", "queued-in-device"


SAY_NO_MORE = frozenset(
    {
        "none",
        "job-incoming",
        "job-spooling",
        "job-printing",
        "job-queued",
        "job-transforming",
        "job-interpreting",
        "job-completed-successfully",
        "job-restartable",
        "job-retained",
        "job-fetchable",
    }
)
"""Keywords of jobs that say no more than the job's state."""


class OwnWord(Sentence):
    """What a printer says in a word of its own."""

    SAYS = "the printer says “{word}”"


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
        else:
            known.add(row)
    ordered = [row.say() for row in PrinterReason if row in known]
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
        if keyword not in SAY_NO_MORE:
            row = _BY_KEYWORD.get(keyword)
            told.append(_as_it_came(keyword) if row is None else row.say())
    return list(dict.fromkeys(told))


def film_is_low(keywords: Iterable[str]) -> bool:
    """True if a printer says that a tray will soon be empty.

    >>> film_is_low(["media-low-warning"]), film_is_low(["toner-low", "media-empty-error"])
    (True, False)
    """
    return any(
        _row_of(keyword) is PrinterReason.MEDIA_LOW
        or bool(_FILM_LOW.search(_SEVERITY.sub("", keyword)))
        for keyword in keywords
    )


_BY_KEYWORD = {keyword: row for row in JobReason for keyword in row.keywords}


def _row_of(keyword: str) -> PrinterReason | None:
    """The row one of whose keywords this is or begins with, the longest."""
    plain = _SEVERITY.sub("", keyword)
    rows = [
        (len(known), row)
        for row in PrinterReason
        for known in row.keywords
        if plain == known or plain.startswith(f"{known}-")
    ]
    return max(rows, default=(0, None), key=lambda pair: pair[0])[1]


def _as_it_came(keyword: str) -> str:
    return OwnWord.SAYS.say(word=_SHOWN.sub("_", keyword)[:80])
