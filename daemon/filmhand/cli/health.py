"""``filmhand health``: whether the service is alive."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand health /srv/films --state /var/lib/filmhand"))
@options.with_station
@options.json_option
def health(station: Station, *, as_json: bool) -> ExitCode:
    """Tell whether the service of STATION is alive: 0 if it is, 1 if it hangs or is not running.

    For containers and monitors. A full disk or a missing share is no illness of the service;
    `status` tells those.
    """
    told = station.health()
    if as_json:
        options.print_json(told)
    else:
        for line in told["wrong"] or ["healthy"]:
            click.echo(line)
    return ExitCode.DONE if told["healthy"] else ExitCode.REFUSED
