"""``filmhand ruler`` and ``filmhand device-sheet``: films that show what a printer does."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.make import replace_file
from filmhand.disk.file_names import clean_stem
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.film.formats import Format
    from filmhand.profile.model import Profile

    MakeFilm = Callable[[Profile, Path], tuple[dict[Format, Path], dict[str, Any]]]

_profile_option = click.option(
    "--profile", "profile_file", type=options.PATH, required=True, help="The printer's profile."
)
_out_option = click.option(
    "--out", type=options.PATH, default=Path(), show_default="this folder", help="Where it goes."
)


@click.command(epilog=options.example("filmhand ruler --profile profiles/small-sheet.yaml"))
@_profile_option
@_out_option
@options.json_option
def ruler(profile_file: Path, out: Path, *, as_json: bool) -> ExitCode:
    """Make a film with long bars to measure with a steel rule.

    Writes ruler-PROFILE in the profile's formats, and says how to turn the two lengths into
    print.scale. It is made without the scale that the profile has.
    """
    from filmhand.pipeline.printer_films.ruler_film import make_ruler  # noqa: PLC0415

    told = _put("ruler", make_ruler, profile_file, out)
    options.print_told(told, _print_ruler, as_json=as_json)
    return ExitCode.DONE


@click.command(
    "device-sheet", epilog=options.example("filmhand device-sheet --profile profiles/a4.yaml")
)
@_profile_option
@_out_option
@options.json_option
def device_sheet(profile_file: Path, out: Path, *, as_json: bool) -> ExitCode:
    """Make a film that shows what the printer really resolves.

    Writes device-sheet-PROFILE in the profile's formats: lines, gaps, checkers and dots of whole
    pixels, a solid and a clear field; and says what to look for.
    """
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
    across, down = told["across_mm"], told["down_mm"]
    reads = told["reads_to_pct"]
    now = told["scale_now_pct"]
    click.echo(f"""
Print it at 100 %, not fitted to the page, on the film you use. Let it cool and lie flat. Then:
  across   from the left edge of line 0 to the left edge of line {across} on the upper bar
           scale across = measured mm x 100 / {across}
  down     from the upper edge of line 0 to the upper edge of line {down} on the left bar
           scale down = measured mm x 100 / {down}
and write both into the profile, across first, such as
  print: {{scale: [99.6 %, 100.2 %]}}

A steel rule reads a quarter of a millimeter: {reads[0]:g} % across and {reads[1]:g} % down.
Where both come out within that of 100 %, leave the scale at 100 %.""")
    if now != [100.0, 100.0]:
        click.echo(
            f"The profile's scale of {now[0]:g} x {now[1]:g} % was left out of this film, so what "
            "you measure is the whole scale: write it in place of that one."
        )


def _print_device_sheet(told: Mapping[str, Any]) -> None:
    for file in told["files"].values():
        click.echo(file)
    click.echo("\nPrint it at 100 % on the film you use. What to look for, with a loupe:")
    for row in told["legend"]:
        click.echo(f"\n  {row['seen']}\n    {row['means']}\n    {row['do']}")
