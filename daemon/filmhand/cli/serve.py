"""``filmhand serve``: the service of a station."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from filmhand.cli import options

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(
    epilog=options.example("filmhand serve /srv/films --profiles /etc/filmhand/profiles")
)
@options.with_station
@click.option(
    "--metrics", type=options.PATH, help="Text file with figures for a monitoring system."
)
def serve(station: Station, metrics: Path | None) -> int:
    """Work through what waits in STATION, then watch it until stopped.

    SIGTERM finishes the job in hand and stops, a second one stops at once; SIGHUP reads the
    profiles again.
    """
    return station.serve(metrics=metrics)
