"""``filmhand retry``: refused art, tried again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from filmhand.cli import options

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand retry /srv/films 20260301T100000-1a2b3c4d"))
@options.with_station
@click.argument("job")
def retry(station: Station, job: str) -> None:
    """Put the refused file of JOB in STATION back into its drop folder, to be tried again.

    Ticket and mask go along; the note beside it is taken away. `history` tells the jobs of a file.
    """
    click.echo(station.retry(job))
