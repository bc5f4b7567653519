"""The commands on films that wait, and on the sheets that were used: release, discard, usage."""

from __future__ import annotations

import csv
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from filmhand.cli import options

if TYPE_CHECKING:
    from filmhand.service import Station

_COLUMNS = ("date", "person", "profile", "film", "sheets")
# What a spreadsheet takes for the beginning of a formula; a leading apostrophe makes text of it
# (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@click.command(epilog=options.example("filmhand release /srv/films 'class 4/poster'"))
@options.with_station
@click.argument("name")
def release(station: Station, name: str) -> None:
    """Let the held film NAME of STATION go on, also beyond its budget.

    NAME is the film's or its art's, with its sub-folder and profile where several are called so.
    It is the same as moving its proof from held/ to release/.
    """
    click.echo(station.held_films().release(name))


@click.command(epilog=options.example("filmhand discard /srv/films 'class 4/poster'"))
@options.with_station
@click.argument("name")
def discard(station: Station, name: str) -> None:
    """Give the held film NAME of STATION up; its art goes to rejected/, with a note.

    NAME is as for `filmhand release`.
    """
    click.echo(station.held_films().discard(name, datetime.now(UTC)))


@click.command(epilog=options.example("filmhand usage /srv/films --since 2026-03-01"))
@options.with_station
@click.option("--since", metavar="DATE", help="Only from this day on, as 2026-03-01.")
@options.json_option
def usage(station: Station, *, since: str | None, as_json: bool) -> None:
    """Print which sheets were used in STATION: date, person, profile, film, sheets, as CSV.

    A film counts when it goes on to positives/, where its profile prints, asks for approval or has
    a budget.
    """
    from filmhand.disk.forms import is_day  # noqa: PLC0415

    if since is not None and not is_day(since):
        raise click.BadParameter(
            f"must be a day as 2026-03-01, not {since!r}", param_hint="--since"
        )
    films = station.held_films()
    rows = films.usage(since or "")
    if as_json:
        options.print_json(rows)
    else:
        table = csv.writer(sys.stdout, lineterminator="\n")
        table.writerow(_COLUMNS)
        table.writerows([_cell(row[column]) for column in _COLUMNS] for row in rows)
    uncounted = films.uncounted()
    if uncounted:
        options.say_error(
            f"Not counted: the films of {', '.join(uncounted)}, since the profile has neither "
            "print, approve nor budget."
        )


def _cell(value: object) -> str:
    text = str(value)
    return f"'{text}" if text.startswith(_FORMULA) else text
