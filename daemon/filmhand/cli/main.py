"""The commands of filmhand."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

import click

from filmhand import __version__
from filmhand.cli import service_commands
from filmhand.errors import ExitCode, FaultyFile, FilmhandError, ProfileError, Refused

_PATH = click.Path(path_type=Path)
_EXAMPLES = "\b\nExample:\n  "


class _Plain(click.Group):
    """A group whose unknown commands come with the nearest known one."""

    def invoke(self, context: click.Context) -> Any:
        try:
            return super().invoke(context)
        except ProfileError as error:
            _say_faults(error.faulty)
            context.exit(ExitCode.PROFILE)
        except FilmhandError as error:
            _say(str(error))
            context.exit(error.exit_code)
        except BrokenPipeError:
            sys.stderr.close()  # whoever read our output has gone; nothing is wrong
            context.exit(ExitCode.DONE)
        except OSError as error:
            if error.filename is None:
                raise
            _say(f"{error.filename}: {error.strerror}. Check the path and your rights to it.")
            context.exit(ExitCode.REFUSED)


def _say(sentence: str) -> None:
    click.echo(sentence, err=True)


def _say_faults(faulty: FaultyFile) -> None:
    for line in faulty.lines():
        _say(line)


def _say_refusal(name: str, refusal: Refused) -> None:
    from filmhand.page.why_note import quantity_text  # noqa: PLC0415

    measured = [
        f"{word} {text}"
        for word, text in (
            ("found", quantity_text(refusal.found)),
            ("needed", quantity_text(refusal.needed)),
        )
        if text
    ]
    figures = f" ({', '.join(measured)})" if measured else ""
    _say(f"{name}: {refusal.say}{figures} {refusal.do}")


@click.group(cls=_Plain, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="filmhand")
def main() -> None:
    """Make film positives for screen printing from pictures dropped in a folder.

    \b
    Start with:
      filmhand check profiles/*.yaml      what each profile gives, and what its mesh holds
      filmhand make art.jpg --profile profiles/small-sheet.yaml
      filmhand serve station --profiles profiles
      filmhand guide                      the longer pages
    """


_as_json = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")


@main.command(epilog=_EXAMPLES + "filmhand make poster.jpg --profile profiles/small-sheet.yaml")
@click.argument("art", type=_PATH, nargs=-1, required=True)
@click.option("--profile", "profile_file", type=_PATH, required=True, help="The profile to make.")
@click.option(
    "--out", type=_PATH, default=Path(), show_default="this folder", help="Where films go."
)
@_as_json
@click.pass_context
def make(
    context: click.Context, art: Sequence[Path], profile_file: Path, out: Path, *, as_json: bool
) -> None:
    """Make films of ART without a station.

    Reads a ticket (ART.ticket.yaml) and a mask (ART.clear.png) beside the art. Writes the film,
    its proof and its record to the folder; a refusal goes to standard error. What an earlier run
    wrote there is replaced, but no other file: where one has the name, the film gets -2. A
    profile with gang lays several ART on one sheet at once.
    """
    from filmhand.by_hand import ByHand, is_companion  # noqa: PLC0415

    results: list[dict[str, Any]] = []
    refused = False
    with ByHand(len(art)) as hand:
        from filmhand.profile.read.load import load_profile  # noqa: PLC0415

        profile = load_profile(profile_file)
        out.mkdir(parents=True, exist_ok=True)
        arts = [path for path in art if not is_companion(path)]
        for path, films in hand.make_all(arts, profile, out):
            if isinstance(films, Refused):
                refused = True
                _say_refusal(path.name, films)
                continue
            for film in films:
                results.append(film.record)
                if not as_json:
                    for file in film.files:
                        click.echo(file)
                    for note in film.record["notes"]:
                        _say(f"{path.name}: {note}")
    if as_json:
        click.echo(json.dumps(results, indent=2))
    context.exit(ExitCode.REFUSED if refused else ExitCode.DONE)


@main.command(epilog=_EXAMPLES + "filmhand check profiles/*.yaml")
@click.argument("files", type=_PATH, nargs=-1, required=True, metavar="FILE...")
@_as_json
@click.pass_context
def check(context: click.Context, files: Sequence[Path], *, as_json: bool) -> None:
    """Read profiles; print the screen that each gives, and what its mesh holds."""
    from filmhand.cli.print_report import print_profile  # noqa: PLC0415
    from filmhand.pipeline.profile_report import describe_profile  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    described = []
    faulty = False
    for file in files:
        try:
            described.append(describe_profile(load_profile(file)))
        except ProfileError as error:
            faulty = True
            _say_faults(error.faulty)
            continue
        if not as_json:
            print_profile(described[-1])
    if as_json:
        click.echo(json.dumps(described, indent=2))
    context.exit(ExitCode.PROFILE if faulty else ExitCode.DONE)


@main.command(epilog=_EXAMPLES + "filmhand measure positives/poster.pdf --mesh 43-80")
@click.argument("film", type=_PATH)
@click.option("--mesh", "mesh_name", help="Judge it against this mesh, such as 43-80 or 110.")
@click.option("--dpi", "dpi_text", help="Its resolution, where the file does not say one.")
@_as_json
@click.pass_context
def measure(
    context: click.Context,
    film: Path,
    mesh_name: str | None,
    dpi_text: str | None,
    *,
    as_json: bool,
) -> None:
    """Read any 1-bit FILM and tell what is on it."""
    from filmhand.by_hand import measure_by_hand  # noqa: PLC0415
    from filmhand.cli.print_report import print_measured  # noqa: PLC0415
    from filmhand.mesh.table import read_mesh  # noqa: PLC0415
    from filmhand.units import read_resolution  # noqa: PLC0415

    mesh = _option("--mesh", mesh_name, read_mesh)
    dpi = _option("--dpi", dpi_text, read_resolution)
    found = measure_by_hand(film, mesh=mesh, resolution=dpi)
    if as_json:
        click.echo(json.dumps(found, indent=2))
    else:
        print_measured(found)
    context.exit(ExitCode.DONE)


@main.command(epilog=_EXAMPLES + "filmhand foresee positives/poster.pdf --mesh 43-80")
@click.argument("film", type=_PATH)
@click.option("--mesh", "mesh_name", help="The mesh, such as 43-80 or 110; else the profile's.")
@click.option("--profile", "profile_file", type=_PATH, help="How light, ink and screen are.")
@click.option("--dpi", "dpi_text", help="Its resolution, where the file does not say one.")
@click.option(
    "--out", type=_PATH, help="Where the picture goes.  [default: FILM's name, .print.png]"
)
@_as_json
@click.pass_context
def foresee(
    context: click.Context,
    film: Path,
    mesh_name: str | None,
    profile_file: Path | None,
    dpi_text: str | None,
    out: Path | None,
    *,
    as_json: bool,
) -> None:
    """Show how any 1-bit FILM is expected to print.

    Writes a picture of the whole sheet, and tells lost dots, filled shadow dots, bands and the
    tones that film tones become. Give a mesh, or a profile that names one.
    """
    from filmhand.by_hand import foresee_by_hand  # noqa: PLC0415
    from filmhand.cli.print_foreseen import print_foreseen  # noqa: PLC0415
    from filmhand.mesh.table import read_mesh  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415
    from filmhand.units import read_resolution  # noqa: PLC0415

    mesh = _option("--mesh", mesh_name, read_mesh)
    dpi = _option("--dpi", dpi_text, read_resolution)
    profile = None if profile_file is None else load_profile(profile_file)
    if mesh is None and (profile is None or profile.mesh is None):
        _usage("Name the mesh: --mesh 43-80, or --profile with a profile that has one.")
    picture = out or Path(film.stem + ".print.png")
    if picture.resolve() == film.resolve():
        _usage(f"The picture would replace the film {film}; give another name with --out.")
    told = foresee_by_hand(film, picture, mesh=mesh, profile=profile, resolution=dpi)
    if as_json:
        click.echo(json.dumps(told, indent=2))
    else:
        print_foreseen(told)
    context.exit(ExitCode.DONE)


def _option(name: str, text: str | None, read: Any) -> Any:
    """An option's value through one of the readers, or a usage error that says what is allowed."""
    if text is None:
        return None
    try:
        return read(int(text) if text.isdigit() else text)
    except ValueError as error:
        raise click.BadParameter(f"must be {error}, not {text!r}", param_hint=name) from error


@main.command(epilog=_EXAMPLES + "filmhand guide tickets")
@click.argument("page", required=False)
def guide(page: str | None) -> None:
    """Show the longer pages: all their names, or one PAGE."""
    from filmhand.guide import page_names, read_page  # noqa: PLC0415

    if page is None:
        for name, title in page_names():
            click.echo(f"{name:16} {title}")
        click.echo("\nShow one with: filmhand guide NAME")
        return
    try:
        click.echo(read_page(page))
    except KeyError:
        names = ", ".join(name for name, _ in page_names())
        _usage(f"There is no page {page!r} in the guide; there are {names}.")


def _usage(sentence: str) -> NoReturn:
    raise click.UsageError(sentence)


for _command in service_commands.COMMANDS:
    main.add_command(_command)
