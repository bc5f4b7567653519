"""``filmhand ruler`` and ``filmhand device-sheet``: films that show what a printer does."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.make import replace_file
from filmhand.disk.file_names import clean_stem
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.film.formats import Format
    from filmhand.profile.model import Profile

    MakeFilm = Callable[[Profile, Path], tuple[dict[Format, Path], dict[str, Any]]]

_profile_option = option(
    HelpWord.PROFILE_OF_PRINTER, "--profile", "profile_file", type=options.PATH, required=True
)
_out_option = option(HelpWord.IT_GOES, "--out", type=options.PATH, default=Path())


@command(HelpWord.RULER, "filmhand ruler --profile profiles/small-sheet.yaml")
@_profile_option
@_out_option
@options.json_option
def ruler(profile_file: Path, out: Path, *, as_json: bool) -> ExitCode:
    """Make a film with long bars to measure."""
    from filmhand.pipeline.printer_films.ruler_film import make_ruler  # noqa: PLC0415

    told = _put("ruler", make_ruler, profile_file, out)
    options.print_told(told, _print_ruler, as_json=as_json)
    return ExitCode.DONE


@command(HelpWord.DEVICE_SHEET, "filmhand device-sheet --profile profiles/a4.yaml")
@_profile_option
@_out_option
@options.json_option
def device_sheet(profile_file: Path, out: Path, *, as_json: bool) -> ExitCode:
    """Make a film that shows what the printer resolves."""
    from filmhand.pipeline.printer_films.device_film import make_device_sheet  # noqa: PLC0415

    told = _put("device-sheet", make_device_sheet, profile_file, out)
    options.print_told(told, _print_device_sheet, as_json=as_json)
    return ExitCode.DONE


def _put(kind: str, make: MakeFilm, profile_file: Path, out: Path) -> dict[str, Any]:
    """Make a film, put its files where they are wanted in place of older ones, and tell of it."""
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    profile = load_profile(profile_file)
    stem = clean_stem(f"{kind}-{profile.name}.film")
    with tempfile.TemporaryDirectory(prefix="filmhand-") as scratch:
        made, told = make(profile, Path(scratch))
        out.mkdir(parents=True, exist_ok=True)
        files = {}
        for format_, path in made.items():
            files[str(format_)] = str(out / f"{stem}{format_.suffix}")
            replace_file(Path(files[str(format_)]), path.read_bytes())
    return {"files": files, **told}


def _print_ruler(told: Mapping[str, Any]) -> None:
    for file in told["files"].values():
        click.echo(file)
    (reads_across, reads_down), now = told["reads_to_pct"], told["scale_now_pct"]
    says = CommandWord.RULER.say(
        across=told["across_mm"],
        down=told["down_mm"],
        reads_across=f"{reads_across:g}",
        reads_down=f"{reads_down:g}",
    )
    click.echo(f"\n{says}")
    if now != [100.0, 100.0]:
        click.echo(CommandWord.SCALE_LEFT_OUT.say(across=f"{now[0]:g}", down=f"{now[1]:g}"))


def _print_device_sheet(told: Mapping[str, Any]) -> None:
    for file in told["files"].values():
        click.echo(file)
    click.echo(f"\n{CommandWord.LOOK_WITH_A_LOUPE.say()}")
    for row in told["legend"]:
        click.echo(f"\n  {row['seen']}\n    {row['means']}\n    {row['do']}")
