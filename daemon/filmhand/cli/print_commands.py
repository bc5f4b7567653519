"""The commands on films that go to a printer: cancel, reprint, pause, resume."""

from __future__ import annotations

import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import command
from filmhand.cli.help_words import HelpWord
from filmhand.errors import FilmhandError
from filmhand.worker.cores import usable_cores

if TYPE_CHECKING:
    from filmhand.service.station import Station


@command(HelpWord.CANCEL, "filmhand cancel /srv/films poster")
@options.with_station
@click.argument("name")
def cancel(station: Station, name: str) -> None:
    """Print a film no further."""
    click.echo(station.print_counter().cancel(name))


@command(HelpWord.REPRINT, "filmhand reprint /srv/films poster")
@options.with_station
@click.argument("name")
def reprint(station: Station, name: str) -> None:
    """Send the very bits of a film to its printer again."""
    now = datetime.now(UTC)
    click.echo(station.print_counter().reprint(name, printer_documents, now))


@command(HelpWord.PAUSE, "filmhand pause /srv/films small-sheet")
@options.with_station
@click.argument("profile")
def pause(station: Station, profile: str) -> None:
    """Send no more films of a profile to its printer."""
    click.echo(station.print_counter().pause(profile))


@command(HelpWord.RESUME, "filmhand resume /srv/films small-sheet")
@options.with_station
@click.argument("profile")
def resume(station: Station, profile: str) -> None:
    """Let the films of a profile go on to its printer."""
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
    from filmhand.pipeline.finished import DOCUMENTS  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="filmhand-") as scratch:
        bits, dpi = read_film(film, Path(scratch))
        if dpi is None:
            raise FilmhandError(CommandWord.NO_RESOLUTION.say(name=film.name))
        with bits:
            paths = {kind: folder / f"film{kind.suffix}" for kind in DOCUMENTS}
            write_films(bits, paths, dpi=dpi, threads=usable_cores())
            for kind, path in paths.items():
                verify_film(path, bits, format=kind, dpi=dpi)
    return {str(kind): path for kind, path in paths.items()}
