"""The commands on films that wait, and on the sheets that were used: release, discard, usage."""

from __future__ import annotations

import csv
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandCount, CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.language import and_list

if TYPE_CHECKING:
    from filmhand.service.station import Station

_COLUMNS = ("date", "person", "profile", "film", "sheets")
# What a spreadsheet takes for the beginning of a formula; a leading apostrophe makes text of it
# (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@command(HelpWord.RELEASE, "filmhand release /srv/films 'class 4/poster'")
@options.with_station
@click.argument("name")
def release(station: Station, name: str) -> None:
    """Let a held film go on."""
    click.echo(station.held_films().release(name))


@command(HelpWord.DISCARD, "filmhand discard /srv/films 'class 4/poster'")
@options.with_station
@click.argument("name")
def discard(station: Station, name: str) -> None:
    """Give a held film up."""
    click.echo(station.held_films().discard(name, datetime.now(UTC)))


@command(HelpWord.USAGE, "filmhand usage /srv/films --since 2026-03-01")
@options.with_station
@option(HelpWord.SINCE, "--since", metavar="DATE")
@options.json_option
def usage(station: Station, *, since: str | None, as_json: bool) -> None:
    """Print which sheets were used."""
    from filmhand.disk.forms import is_day  # noqa: PLC0415

    if since is not None and not is_day(since):
        says = CommandWord.DAY_MUST_BE.say(given=since)
        raise click.BadParameter(says, param_hint="--since")
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
            CommandCount.NOT_COUNTED.say(len(uncounted), profiles=and_list(uncounted))
        )


def _cell(value: object) -> str:
    text = str(value)
    return f"'{text}" if text.startswith(_FORMULA) else text
