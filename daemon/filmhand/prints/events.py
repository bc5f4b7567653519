"""The log of prints, `records/prints.jsonl`: one line an event.

Where several hosts share the folder each writes a log of its own. It is never appended to through
a link, as :func:`filmhand.disk.atomic.append_line` says.
"""

from __future__ import annotations

import json
from typing import Any

from filmhand.disk import atomic, forms
from filmhand.disk.beneath import Beneath
from filmhand.jobs.context import JobContext
from filmhand.jobs.failpoints import failpoint
from filmhand.jobs.job import utc_text
from filmhand.jobs.print_order import Order

PRINT_SCHEMA = "filmhand-print/1"
_OF_A_JOB = ("film", "printer", "printer_job", "state")
_TAIL = 1 << 20


def print_event(
    order: Order, state: str, why: str, context: JobContext, *, at: str | None = None
) -> dict[str, Any]:
    """What a line tells of an order; `at` is now unless it is given."""
    return {
        "schema": PRINT_SCHEMA,
        "at": at or utc_text(context.now()),
        "film": order.film,
        "printer": order.printer,
        "printer_job": order.number,
        "state": state,
        "why": why or None,
        "sheets": order.sheets,
        "for": order.person,
    }


def write_event(event: dict[str, Any], context: JobContext, *, once: bool = False) -> None:
    """Append a line; `once`: unless the log's end has it already, from before a kill.

    What is told of one job of a printer comes once; other lines differ by their time.
    """
    if once and any(_tells(log, event) for log in print_logs(context.folders.output("records"))):
        return
    name = f"prints.{context.host}.jsonl" if context.shared() else "prints.jsonl"
    aside = context.folders.hidden / "set-aside"
    line = json.dumps(event).encode()
    atomic.append_line(context.folders.output("records") / name, line, aside=aside)
    failpoint("print event written")


def print_logs(records: Beneath) -> list[Beneath]:
    """The logs of all hosts, by name."""
    try:
        names = records.names()
    except OSError:
        return []
    return [
        records / name
        for name in sorted(names)
        if name == "prints.jsonl" or (name.startswith("prints.") and name.endswith(".jsonl"))
    ]


def _tells(log: Beneath, event: dict[str, Any]) -> bool:
    try:
        lines = log.read_end(_TAIL).splitlines()
    except OSError:
        return False
    return any(_is_same(line, event) for line in reversed(lines))


def _is_same(line: bytes, event: dict[str, Any]) -> bool:
    try:
        told = forms.parsed(line)
    except ValueError:
        return False
    parts = _OF_A_JOB if event["printer_job"] is not None else event.keys()
    return isinstance(told, dict) and all(told.get(part) == event[part] for part in parts)
