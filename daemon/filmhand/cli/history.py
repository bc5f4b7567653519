"""``filmhand history``: what became of a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand history /srv/films poster.jpg"))
@options.with_station
@click.argument("name")
@options.json_option
def history(station: Station, name: str, *, as_json: bool) -> ExitCode:
    """Tell what happened in STATION to files called NAME, oldest first.

    NAME is that of the art, with or without folder and suffix, that of a film, or a job.
    """
    told = station.history(name)
    if as_json:
        options.print_json(told)
    for one in told if not as_json else ():
        options.print_line(f"{one['outcome']}", f" {one['name']} for {one['profile']}".strip())
        options.print_line("", f"job {one['job']}, {one['at']}" if one["at"] else one["job"])
        for film in one.get("films", []):
            options.print_line(
                "", film["file"] + ("" if film["there"] else " (no longer in positives)")
            )
        if one.get("say"):
            options.print_line("", f"{one['say']} {one['do']}")
    if not told:
        click.echo(f"Nothing is known of {name!r} at this station.", err=True)
    return ExitCode.DONE if told else ExitCode.REFUSED
