"""``filmhand once``: one pass over a station."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from filmhand.cli import options

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand once /srv/films"))
@options.with_station
def once(station: Station) -> int:
    """Work through all that waits in STATION, then end."""
    return station.once()
