"""``filmhand once``: one pass over a station."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli import options


@click.command(epilog=options.example("filmhand once /srv/films"))
@options.station_argument
@options.profiles_option
@options.state_option
@click.pass_context
def once(context: click.Context, station: Path, profiles: Path | None, state: Path | None) -> None:
    """Work through all that waits in STATION, then end."""
    from filmhand.service import Station  # noqa: PLC0415

    context.exit(Station(station, profiles, state).once())
