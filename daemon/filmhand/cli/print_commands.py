"""The commands on films that go to a printer: cancel, reprint, pause, resume."""

from __future__ import annotations

import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.errors import FilmhandError
from filmhand.worker.parent import usable_cores

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand cancel /srv/films poster"))
@options.with_station
@click.argument("name")
def cancel(station: Station, name: str) -> None:
    """Print the film NAME of STATION no further, whether it waits or is at the printer.

    NAME is the film's, with its sub-folder and its profile where several are called so. A film of
    which nobody knows whether it was printed is given up. The film stays in positives/.
    """
    click.echo(station.print_counter().cancel(name))


@click.command(epilog=options.example("filmhand reprint /srv/films poster"))
@options.with_station
@click.argument("name")
def reprint(station: Station, name: str) -> None:
    """Send the very bits of the film NAME of STATION to its printer again.

    The film must lie in positives/ as it was made.
    """
    now = datetime.now(UTC)
    click.echo(station.print_counter().reprint(name, printer_documents, now))


@click.command(epilog=options.example("filmhand pause /srv/films small-sheet"))
@options.with_station
@click.argument("profile")
def pause(station: Station, profile: str) -> None:
    """Send no more films of PROFILE in STATION to its printer; films are made as before."""
    click.echo(station.print_counter().pause(profile))


@click.command(epilog=options.example("filmhand resume /srv/films small-sheet"))
@options.with_station
@click.argument("profile")
def resume(station: Station, profile: str) -> None:
    """Let the films of PROFILE in STATION go on to its printer."""
    click.echo(station.print_counter().resume(profile))


def printer_documents(film: Path, folder: Path) -> dict[str, Path]:
    """The bits of a finished film in each form that a printer takes, read back and compared.

    Raises
    ------
    Refused
        the file is not a film that can be read
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as for `measure`
    from filmhand.film.read import read_film  # noqa: PLC0415
    from filmhand.film.write import verify_film, write_films  # noqa: PLC0415
    from filmhand.pipeline.make import DOCUMENTS  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="filmhand-") as scratch:
        bits, dpi = read_film(film, Path(scratch))
        if dpi is None:
            raise FilmhandError(f"{film.name} says no resolution.")
        with bits:
            paths = {kind: folder / f"film{kind.suffix}" for kind in DOCUMENTS}
            write_films(bits, paths, dpi=dpi, threads=usable_cores())
            for kind, path in paths.items():
                verify_film(path, bits, format=kind, dpi=dpi)
    return {str(kind): path for kind, path in paths.items()}
