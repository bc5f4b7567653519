"""Lines of the log as sentences, for people at a terminal.

Every event has a row here, named after it, or is told by its own name with its facts behind it, so
that nothing that is logged goes untold.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from filmhand.disk.file_names import shown
from filmhand.language import Sentence, translated


class LogWord(Sentence):
    """A row for each event; its parts are facts of the line, and one that is missing is empty.

    One that ends in WHY is for lines that say why, where that is no sentence of its own, and one
    that ends in HELD for jobs that were held before.
    """

    # The service and its station
    STARTS = "Working in {station}. See what goes on in a browser: {page}"
    PAGE = "The same page for other computers: {address}"
    STOPS = "Stopped; files made or refused: {made_or_refused}."
    STATION_IS_NOT_THERE = "{why}"
    STATION_IS_THERE_AGAIN = "The station {station} is there again."
    LEDGER = "The ledger: {why}"
    STATUS_NOT_WRITTEN = "The file {file} cannot be written. {why}"
    METRICS_NOT_WRITTEN = "The figures in {file} cannot be written. {why}"
    FILMHAND_ITSELF_FAILED = (
        "{profile}{printer}: filmhand itself failed, by a fault of its own: {traceback}"
    )
    LOOKING_FAILED = (
        "{profile}: filmhand itself failed while it looked at the drop folder: {traceback}"
    )
    MEASURING_FAILED = (
        "Filmhand itself failed while it measured how much room art takes on a sheet: {traceback}"
    )
    # Profiles
    PROFILE_READ = "{profile} is ready: drop art into {drop}"
    PROFILE_READ_AGAIN = "{profile} was read again after a change."
    PROFILE_GONE = "{profile} is gone; what waits in its folder stays there."
    PROFILE_NOT_RIGHT = "A profile is not right: {why}"
    PAUSED = "{profile} waits: {why}"
    GOES_ON = "{profile} goes on."
    UNREACHABLE = "{profile} cannot be reached: {why}"
    ANSWERS_AGAIN = "{profile} answers again."
    LOW_ON_SPACE = "{where}{profile}: low on space. {why}"
    SPACE_AGAIN = "{where}{profile}: there is room again. {why}"
    NOT_TIDIED = "{profile}: {why}"
    # Jobs
    MADE = "{name}: made, the film {stem} is in positives of {profile} (after {seconds} s)."
    READ = "{name}: read, its figures are in curves of {profile} as {stem} (after {seconds} s)."
    MADE_HELD = "{name}: no longer held, the film {stem} is in positives of {profile}."
    REFUSED = "{name}: no film for {profile}. {say}"
    PARTED = "{arts} files share the film {stem}."
    GIVEN_BACK = "{name}: back in the drop folder. {why}"
    HELD = "{name}: made for {profile}, and held. {why}"
    LEFT_HELD = "{name} is left held in {profile}: {why}"
    LEFT_WAITING = "{name} is left waiting in {profile}: {why}"
    LEFT_UNPRINTED = "{why}"
    GOES_ALONE = "{name}: gets a sheet of its own. {why}"
    ONE_BY_ONE = "{name}: the files of this sheet are made one by one. {why}"
    WORKER_FAILED = "{name}: the program that reads it failed ({how})."
    WORKER_ENDED_FROM_OUTSIDE = "{name}: its work was ended from outside, and is tried again."
    CHANGED_AFTER_IT_WAS_TAKEN = "{name}: changed after it was taken; it is made again."
    STAGED_FILES_WERE_SPOILED_THE_FILMS_ARE_MADE_AGAIN = (
        "{name}: a finished film was changed or taken away before it was let out; it is made again."
    )
    A_JOB_LOST_ITS_NOTES_ITS_FILE_IS_BACK_IN_DROP = (
        "{name}: filmhand's notes on it were lost; it is back in the drop folder and is made again."
    )
    A_JOB_LOST_ITS_NOTES_ITS_SCAN_IS_BACK_IN_CALIBRATE = (
        "{name}: filmhand's notes on it were lost; it is back in calibrate and is read again."
    )
    WAITS_BY_ITSELF = "Job {job} of {profile} waits: {why}"
    TOOK_OVER = "{profile}: the jobs of the silent computer {host} were taken over: {jobs}."
    ANOTHER_HOST_TOOK_THIS_JOB_OVER = "Job {job} was taken over by another computer."
    SET_ASIDE = "Something strange was put aside as {what}."
    # Printing
    PRINT_WAITING = "{film} of {profile} waits to be printed. {why}"
    PRINT_SENT = "{film} of {profile} was sent to the printer (its job {printer_job})."
    PRINT_PRINTING = "{film} of {profile} is being printed."
    PRINT_PRINTING_WHY = "{film} of {profile} is being printed; the printer says: {why}"
    PRINT_STOPPED = "{film} of {profile} is at the printer, which has stopped."
    PRINT_STOPPED_WHY = "{film} of {profile} is at the printer, which has stopped: {why}"
    PRINT_PRINTED = "{film} of {profile} is printed."
    PRINT_PRINTED_WHY = "{film} of {profile} is printed; the printer says: {why}"
    PRINT_CANCELED = "{film} of {profile} is printed no further ({why})."
    PRINT_DOUBTFUL = (
        "Nobody knows whether {film} of {profile} was printed: {why}. If it was, or nobody needs "
        "it: filmhand cancel STATION {film}; if not: filmhand reprint STATION {film}"
    )
    PRINT_WARNING = "{film} of {profile}, before it is printed: {why}"
    PRINTER_WAITS = "The printer {printer} prints nothing for now: {why}"
    PRINTER_GOES_ON = "The printer {printer} goes on."
    PRINTING_PAUSED = "{profile}: its films do not go to the printer {printer} for now: {why}"
    # Messages to people
    MESSAGE_NOT_SENT = "A message to {to} did not go out, and is tried again: {why}"
    MESSAGES_GO_OUT_AGAIN = "Messages to {to} go out again."
    MESSAGES_NOT_KEPT = (
        "Messages that have not gone out cannot be kept for the next start of filmhand. {why}"
    )


_TOLD = {"event", "level", "timestamp", "pid", "sha256"}  # stand elsewhere, or tell people nothing
_LONGEST = 600  # letters of one fact, such as a failure's details


class _Facts(dict[str, str]):
    """Facts for a sentence; one that a line lacks is left out."""

    def __missing__(self, key: str) -> str:
        return ""


def row_of(event: str, *, why: bool = False, held: bool = False) -> LogWord | None:
    """The row of an event, which has its letters, where the line says ``why``, ``held`` or neither.

    >>> row_of("profile gone")
    <LogWord.PROFILE_GONE: '{profile} is gone; what waits in its folder stays there.'>
    """
    rows, name = LogWord.__members__, re.sub(r"[^a-z]+", "_", event).upper()
    ends = ["_WHY"] * why + ["_HELD"] * held + [""]
    return next((rows[name + end] for end in ends if name + end in rows), None)


def event_in_words(line: Mapping[str, Any]) -> str:
    """A line of the log as a sentence behind its local time, with ! where it is a warning.

    >>> event_in_words({"event": "profile gone", "profile": "a4", "level": "info"})
    'a4 is gone; what waits in its folder stays there.'
    >>> event_in_words({"event": "odd", "level": "warning", "why": "so\\x1b", "times": 2})
    '! odd: why so\ufffd, times 2'
    """
    facts = _Facts({str(key): _plain(value) for key, value in line.items()})
    seconds = line.get("seconds")
    if isinstance(seconds, float):
        facts["seconds"] = f"{seconds:.1f}" if seconds >= 1 else f"{seconds:.2g}"
    event = facts["event"]
    row = row_of(event, why=bool(facts["why"]), held=bool(facts["held"]))
    if row is None:
        rest = ", ".join(f"{key} {value}" for key, value in facts.items() if key not in _TOLD)
        told = f"{event}: {rest}" if rest else event
    else:
        told = " ".join(translated(row).format_map(facts).split())
    mark = "! " if facts["level"] == "warning" else ""
    when = _local_time(facts["timestamp"])
    return f"{when}  {mark}{told}" if when else mark + told


def _plain(value: object) -> str:
    text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return shown(" ".join(text.split()))[:_LONGEST]


def _local_time(timestamp: str) -> str:
    try:
        return datetime.fromisoformat(timestamp).astimezone().strftime("%Y-%m-%d %H:%M:%S")
    except ValueError:
        return ""
