"""``filmhand health``: whether the service is alive."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli import options
from filmhand.errors import ExitCode


@click.command(epilog=options.example("filmhand health /srv/films --state /var/lib/filmhand"))
@options.station_argument
@options.state_option
@options.json_option
@click.pass_context
def health(context: click.Context, station: Path, state: Path | None, *, as_json: bool) -> None:
    """Tell whether the service of STATION is alive: 0 if it is, 1 if it hangs or is not running.

    For containers and monitors. A full disk or a missing share is no illness of the service;
    `status` tells those.
    """
    from filmhand.service import Station  # noqa: PLC0415

    told = Station(station, None, state).health()
    if as_json:
        options.print_json(told)
    else:
        for line in told["wrong"] or ["healthy"]:
            click.echo(line)
    context.exit(ExitCode.DONE if told["healthy"] else ExitCode.REFUSED)
