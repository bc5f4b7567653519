"""``filmhand retry``: refused art, tried again."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli import options


@click.command(epilog=options.example("filmhand retry /srv/films 20260301T100000-1a2b3c4d"))
@options.station_argument
@click.argument("job")
@options.profiles_option
@options.state_option
def retry(station: Path, job: str, profiles: Path | None, state: Path | None) -> None:
    """Put the refused file of JOB in STATION back into its drop folder, to be tried again.

    Ticket and mask go along; the note beside it is taken away. `history` tells the jobs of a file.
    """
    from filmhand.service import Station  # noqa: PLC0415

    click.echo(Station(station, profiles, state).retry(job))
