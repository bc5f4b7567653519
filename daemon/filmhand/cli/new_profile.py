"""``filmhand new-profile``: a first profile, from questions in plain words or from options.

The questions are click's, which the commands need anyway: it shows the default and asks again until
an answer can be read. A library for prompts would add menus to move through with the arrow keys,
and every question here is one that people type the answer to.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from filmhand.cli import options
from filmhand.cli.check import print_in_short
from filmhand.errors import ProfileError
from filmhand.mesh.table import read_mesh
from filmhand.profile.model import COARSEST_LPI
from filmhand.profile.read.values import read_dot, read_margin
from filmhand.profile.terms import Treat
from filmhand.service.log import is_terminal
from filmhand.units import read_frame, read_resolution, read_sheet

_WORK = {"both": Treat.AUTO, "photographs": Treat.TONE, "drawings": Treat.LINE}


def _reads(read: Callable[[Any], object]) -> Callable[[Any], str]:
    """For click: the answer itself if it can be read, else a sentence on what is allowed."""

    def take(answer: Any) -> str:
        text = " ".join(str(answer).split())
        try:
            read(int(text) if text.isdigit() else text)
        except ValueError as error:
            raise click.BadParameter(f"{text!r} cannot be read; it must be {error}.") from None
        return text

    return take


def _option(name: str, read: Callable[[Any], object], help_text: str) -> Callable[..., Any]:
    def callback(_context: click.Context, _parameter: click.Parameter, given: str | None) -> Any:
        return None if given is None else _reads(read)(given)

    return click.option(name, callback=callback, help=help_text)


@click.command(
    "new-profile",
    epilog=options.example(
        "filmhand new-profile profiles/shirts.yaml --sheet letter --dpi 600 --mesh 156"
    ),
)
@click.argument("file", type=options.PATH, required=False)
@_option("--sheet", read_sheet, "Sheet of film: letter, tabloid, a4, a3 or 13 x 19 in.")
@_option("--dpi", read_resolution, "What the printer lays down, such as 600 or 600 x 1200.")
@_option("--margin", read_margin, "White edge that the printer leaves, such as 0.25 in.")
@_option("--mesh", read_mesh, "Mesh: 110, 43-80, or none.")
@click.option("--treat", type=click.Choice([str(Treat.AUTO), str(Treat.TONE), str(Treat.LINE)]),
              help="Kind of work: any, photographs (tone) or drawings only (line).")  # fmt: skip
@click.option("--lpi", type=click.FloatRange(COARSEST_LPI, 200), help="Ruling of the dots.")
@click.option("--angle", type=click.FloatRange(0, 180), help="Angle of the dots.")
@_option("--dot", read_dot, "Shape of the dots.  [default: round]")
@_option("--frame", read_frame, "Inside of the screen's frame, such as 16 x 20 in.")
@click.option("--replace", is_flag=True, help="Write over FILE if it is there.")
@options.json_option
def new_profile(
    file: Path | None, *, replace: bool, as_json: bool, treat: str | None, **given: Any
) -> None:
    """Write a first profile to FILE: for your printer, sheet, mesh and kind of work.

    Asks for what no option tells, if it is called on a terminal. What is left open is chosen so
    that printer and mesh hold it. A FILE that is there already is kept without --replace.
    """
    from filmhand.pipeline.new_profile import ProfileAnswers, new_profile_text  # noqa: PLC0415
    from filmhand.pipeline.profile_report import describe_profile  # noqa: PLC0415
    from filmhand.profile.read.load import faults_of_name, read_profile  # noqa: PLC0415

    _refuse_taken(file, replace=replace)
    asks = is_terminal(sys.stdin) and is_terminal(sys.stdout) and not as_json
    if not asks:
        _refuse_missing(given)
    try:
        if asks:
            treat = _ask(given, treat)
        given["margin"] = given["margin"] or _usual_margin(given["sheet"])
        known = {key: value for key, value in given.items() if value is not None}
        answers = ProfileAnswers(**known, treat=Treat(treat or Treat.AUTO))
        target = _target(file, answers.sheet, answers.mesh)
        _refuse_taken(target, replace=replace)
        faults = faults_of_name(target.stem)
        if faults:
            raise click.UsageError(f"{target}: {faults[0]}.")
        text = new_profile_text(answers, file=target.name)
        told = describe_profile(read_profile(text, name=target.stem, file=str(target)))
    except ProfileError as error:
        sentences = "; ".join(fault.message for fault in error.faulty.faults)
        raise click.UsageError(f"These do not go together: {sentences}.") from None
    _write(target, text, replace=replace)
    if as_json:
        options.print_json(told | {"file": str(target)})
        return
    click.echo(f"Wrote {target}.\n")
    print_in_short(told, target)
    click.echo(f"\nA first film:  filmhand make ART --profile {target}")


def _ask(given: dict[str, Any], treat: str | None) -> str:
    """Fill in what no option told; the kind of work comes back."""
    click.echo("A profile says what your films are for. Press Enter to take what is in brackets.\n")

    def ask(key: str, question: str, default: str, read: Callable[[Any], object]) -> None:
        if given[key] is None:
            given[key] = click.prompt(question, default=default, value_proc=_reads(read))

    ask("sheet", "Sheet of film (letter, tabloid, a4, a3, or 13 x 19 in)", "letter", read_sheet)
    ask(
        "dpi",
        "Dots to the inch that the printer really lays down (in doubt the lower number)",
        "600",
        read_resolution,
    )
    edge = _usual_margin(given["sheet"])
    ask("margin", "White edge that the printer leaves on a full page", edge, read_margin)
    ask(
        "mesh",
        "Mesh on the screen: threads to the inch (110), or as the roll says (43-80), or none",
        "110",
        read_mesh,
    )
    if treat is None:
        answer = click.prompt(
            "What will you print? photographs, drawings and lettering, or both",
            default="both",
            value_proc=_work,
        )
        treat = str(answer)
    if treat != Treat.LINE and given["lpi"] is None:
        _ask_lpi(given, Treat(treat))
    return treat


def _ask_lpi(given: dict[str, Any], treat: Treat) -> None:
    from filmhand.pipeline.new_profile import ProfileAnswers, advised_lpi  # noqa: PLC0415

    known = {key: value for key, value in given.items() if value is not None}
    advised = advised_lpi(ProfileAnswers(**known, treat=treat))
    given["lpi"] = click.prompt(
        "Lines of dots to the inch (fewer forgive more; this is the finest usual that holds)",
        default=advised,
        type=click.FloatRange(COARSEST_LPI, 200),
    )


def _usual_margin(sheet: str) -> str:
    """The edge of office printers, in the unit of the sheet (common practice, no source)."""
    return "0.25 in" if read_sheet(sheet).in_inches else "6 mm"


def _work(answer: str) -> Treat:
    """The kind of work, by as much of its word as was typed."""
    found = [treat for word, treat in _WORK.items() if word.startswith(answer.strip().lower())]
    if len(found) != 1:
        raise click.BadParameter(f"{answer!r} is none of photographs, drawings and both.")
    return found[0]


def _target(file: Path | None, sheet: str, mesh: str) -> Path:
    """Where the profile goes: in a folder, or without a FILE, under a name that tells it apart."""
    name = "-".join(f"{sheet} {mesh}".lower().replace("(", "").replace(")", "").split()) + ".yaml"
    if file is None:
        return Path(name)
    return file / name if file.is_dir() else file


def _refuse_missing(given: dict[str, Any]) -> None:
    missing = [f"--{key}" for key in ("sheet", "dpi", "mesh") if given[key] is None]
    if missing:
        raise click.UsageError(
            f"Nobody can be asked here, so say {', '.join(missing)} too, such as: "
            "filmhand new-profile --sheet letter --dpi 600 --mesh 110"
        )


def _refuse_taken(target: Path | None, *, replace: bool) -> None:
    if target is None or target.is_dir():
        return
    if target.suffix.lower() not in {".yaml", ".yml"}:
        raise click.UsageError(f"{target} must end in .yaml; name it {target}.yaml.")
    if target.exists() and not replace:
        raise click.UsageError(
            f"{target} is there already and stays as it is; choose another name, or say --replace."
        )


def _write(target: Path, text: str, *, replace: bool) -> None:
    """Never over a file that came in between, unless that is asked for."""
    target.parent.mkdir(parents=True, exist_ok=True)
    if replace:
        from filmhand.cli.make import replace_file  # noqa: PLC0415

        replace_file(target, text.encode())
        return
    try:
        with target.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError:
        _refuse_taken(target, replace=False)
        raise
