"""``filmhand history``: what became of a file."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli import options
from filmhand.errors import ExitCode


@click.command(epilog=options.example("filmhand history /srv/films poster.jpg"))
@options.station_argument
@click.argument("name")
@options.profiles_option
@options.state_option
@options.json_option
@click.pass_context
def history(
    context: click.Context,
    station: Path,
    name: str,
    profiles: Path | None,
    state: Path | None,
    *,
    as_json: bool,
) -> None:
    """Tell what happened in STATION to files called NAME, oldest first.

    NAME is that of the art, with or without folder and suffix, that of a film, or a job.
    """
    from filmhand.service import Station  # noqa: PLC0415

    told = Station(station, profiles, state).history(name)
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
    context.exit(ExitCode.DONE if told else ExitCode.REFUSED)
