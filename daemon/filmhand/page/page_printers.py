"""The printers' part of the status page: what each does, what waits, what a person must settle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from filmhand.language import translated
from filmhand.page.markup import isolated
from filmhand.page.page_words import PageCount, PageWord


def printers_part(printers: Sequence[Mapping[str, Any]]) -> str:
    """One block a printer; nothing where no profile names any."""
    if not printers:
        return ""
    parts = "\n".join(map(_printer, printers))
    title = PageWord.PRINTERS.say()
    return f'<section aria-labelledby="printers"><h2 id="printers">{title}</h2>{parts}</section>'


def _printer(printer: Mapping[str, Any]) -> str:
    color = "bad" if printer["why"] or printer["doubtful"] else "good"
    count = printer["waiting"]
    head = (
        f'<div class="head"><h3>{isolated(printer["printer"])}</h3>'
        f'<span class="{color}">{isolated(translated(str(printer["state"])))}</span>'
        f'<span class="soft">{PageCount.FILMS_TO_PRINT.say(count)}</span></div>'
    )
    why = f'<p class="bad">{isolated(printer["why"])}</p>' if printer["why"] else ""
    rows = "".join(f"<li>{row}</li>" for row in _rows(printer))
    return f'<div class="part">{head}{why}{f"<ul>{rows}</ul>" if rows else ""}</div>'


def _rows(printer: Mapping[str, Any]) -> Iterator[str]:
    for one in printer["printing"]:
        yield f"{PageWord.AT_PRINTER.say()}: {isolated(one['film'])} ({isolated(one['profile'])})"
    for one in printer["held"]:
        yield f"{isolated(one['profile'])}: {isolated(one['why'])}"
    for profile in printer["paused"]:
        yield f"{isolated(profile)}: {PageWord.PRINTING_PAUSED.say()}"
    for one in printer["doubtful"]:
        film = f"<b>{isolated(one['film'])}</b> ({isolated(one['profile'])})"
        yield f"{film}: {isolated(one['why'])} {isolated(one['do'])}"
    more = printer["doubtful_count"] - len(printer["doubtful"])
    if more:
        yield PageCount.MORE_WAIT.say(more)
