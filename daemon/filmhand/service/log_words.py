"""Lines of the log as sentences, for people at a terminal.

Every event has a sentence here or is told by its own name with its facts behind it, so that nothing
that is logged goes untold.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from filmhand.disk.file_names import shown

_SENTENCES: Mapping[str, str] = {
    "starts": "Working in {station}. See what goes on in a browser: {page}",
    "page": "The same page for other computers: {address}",
    "stops": "Stopped; {made_or_refused} files were made or refused.",
    "profile read": "{profile} is ready: drop art into {drop}",
    "profile read again": "{profile} was read again after a change.",
    "profile gone": "{profile} is gone; what waits in its folder stays there.",
    "profile not right": "A profile is not right: {why}",
    "made": "{name}: made, the film {stem} is in positives of {profile} (after {seconds} s).",
    "refused": "{name}: no film for {profile}. {say}",
    "parted": "{arts} files share the film {stem}.",
    "given back": "{name}: back in the drop folder. {why}",
    "worker failed": "{name}: the program that reads it failed ({how}).",
    "worker ended from outside": "{name}: its work was ended from outside, and is tried again.",
    "changed after it was taken": "{name}: changed after it was taken; it is made again.",
    "waits by itself": "Job {job} of {profile} waits: {why}",
    "held": "{name}: made for {profile}, and held. {why}",
    "left held": "{name} is left held in {profile}: {why}",
    "left waiting": "{name} is left waiting in {profile}: {why}",
    "goes alone": "{name}: gets a sheet of its own. {why}",
    "one by one": "{name}: the files of this sheet are made one by one. {why}",
    "paused": "{profile} waits: {why}",
    "goes on": "{profile} goes on.",
    "unreachable": "{profile} cannot be reached: {why}",
    "answers again": "{profile} answers again.",
    "took over": "{profile}: {jobs} jobs of the silent computer {host} were taken over.",
    "set aside": "Something strange was put aside as {what}.",
    "low on space": "{where}{profile}: low on space. {why}",
    "space again": "{where}{profile}: there is room again. {why}",
    "station is not there": "{why}",
    "station is there again": "The station {station} is there again.",
    "ledger": "The ledger: {why}",
}
_TOLD = {"event", "level", "timestamp", "pid", "sha256"}  # stand elsewhere, or tell people nothing
_LONGEST = 600  # letters of one fact, such as a failure's details


class _Facts(dict[str, str]):
    """Facts for a sentence; one that a line lacks is left out."""

    def __missing__(self, key: str) -> str:
        return ""


def event_in_words(line: Mapping[str, Any]) -> str:
    """A line of the log as a sentence behind its local time, with ! where it is a warning.

    >>> event_in_words({"event": "profile gone", "profile": "a4", "level": "info"})
    'a4 is gone; what waits in its folder stays there.'
    >>> event_in_words({"event": "odd", "level": "warning", "why": "so\\x1b", "times": 2})
    '! odd: why so\ufffd, times 2'
    """
    facts = _Facts({str(key): _plain(value) for key, value in line.items()})
    event = facts["event"]
    sentence = _SENTENCES.get(event)
    if sentence is None:
        rest = ", ".join(f"{key} {value}" for key, value in facts.items() if key not in _TOLD)
        told = f"{event}: {rest}" if rest else event
    else:
        told = " ".join(sentence.format_map(facts).split())
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
