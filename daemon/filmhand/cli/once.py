"""``filmhand once``: one pass over a station."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli.options import (
    example,
    profiles_option,
    state_option,
    station_argument,
)


@click.command(epilog=example("filmhand once /srv/films"))
@station_argument
@profiles_option
@state_option
@click.pass_context
def once(context: click.Context, station: Path, profiles: Path | None, state: Path | None) -> None:
    """Work through all that waits in STATION, then end."""
    from filmhand.service import Station  # noqa: PLC0415

    context.exit(Station(station, profiles, state).once())
