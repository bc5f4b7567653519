"""``filmhand serve``: the service of a station."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli import options


@click.command(
    epilog=options.example("filmhand serve /srv/films --profiles /etc/filmhand/profiles")
)
@options.station_argument
@options.profiles_option
@options.state_option
@click.option(
    "--metrics", type=options.PATH, help="Text file with figures for a monitoring system."
)
@click.pass_context
def serve(
    context: click.Context,
    station: Path,
    profiles: Path | None,
    state: Path | None,
    metrics: Path | None,
) -> None:
    """Work through what waits in STATION, then watch it until stopped.

    SIGTERM finishes the job in hand and stops, a second one stops at once; SIGHUP reads the
    profiles again.
    """
    from filmhand.service import Station  # noqa: PLC0415

    context.exit(Station(station, profiles, state).serve(metrics=metrics))
