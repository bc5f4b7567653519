"""``filmhand new-profile``: a first profile, from questions in plain words or from options.

The questions are click's, which the commands need anyway: it shows the default and asks again until
an answer can be read. A library for prompts would add menus to move through with the arrow keys,
and every question here is one that people type the answer to.
"""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import Any

import click

from filmhand.cli import options
from filmhand.cli.answers import (
    DEGREES_UNIT,
    DPI_UNIT,
    LPI_UNIT,
    THREADS_UNIT,
    Answer,
    NumberOf,
    edge_units,
    sheet_units,
)
from filmhand.cli.check import print_in_short
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import Decorator, command, option
from filmhand.cli.help_words import HelpWord
from filmhand.errors import ProfileError
from filmhand.language import and_list
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.profile.model import COARSEST_LPI
from filmhand.profile.read.values import read_dot, read_margin
from filmhand.profile.terms import Treat
from filmhand.service.terminal import is_terminal
from filmhand.units import read_frame, read_resolution, read_sheet

_WORK = {
    CommandWord.BOTH: Treat.AUTO,
    CommandWord.PHOTOGRAPHS: Treat.TONE,
    CommandWord.DRAWINGS: Treat.LINE,
}


_SHEET = Answer(read_sheet, lengths=sheet_units)
_DPI = Answer(read_resolution, DPI_UNIT)
_MARGIN = Answer(read_margin, lengths=edge_units)
_MESH = Answer(read_mesh, THREADS_UNIT)
_LPI = NumberOf(LPI_UNIT, COARSEST_LPI, 200)


def _option(help_row: HelpWord, name: str, how: Answer) -> Decorator:
    def callback(_context: click.Context, _parameter: click.Parameter, given: str | None) -> Any:
        return None if given is None else how.take(given)

    return option(help_row, name, callback=callback)


@command(
    HelpWord.NEW_PROFILE,
    "filmhand new-profile profiles/shirts.yaml --sheet letter --dpi 600 --mesh 156",
)
@click.argument("file", type=options.PATH, required=False)
@_option(HelpWord.SHEET, "--sheet", _SHEET)
@_option(HelpWord.DPI, "--dpi", _DPI)
@_option(HelpWord.MARGIN, "--margin", _MARGIN)
@_option(HelpWord.MESH, "--mesh", _MESH)
@option(HelpWord.TREAT, "--treat", type=click.Choice(list(map(str, _WORK.values()))))
@option(HelpWord.LPI, "--lpi", type=_LPI)
@option(HelpWord.ANGLE, "--angle", type=NumberOf(DEGREES_UNIT, 0, 180))
@_option(HelpWord.DOT, "--dot", Answer(read_dot))
@_option(HelpWord.FRAME, "--frame", Answer(read_frame, lengths=sheet_units))
@option(HelpWord.REPLACE, "--replace", is_flag=True)
@options.json_option
def new_profile(
    file: Path | None, *, replace: bool, as_json: bool, treat: str | None, **given: Any
) -> None:
    """Write a first profile, asking for what no option tells."""
    from filmhand.pipeline.new_profile import ProfileAnswers, new_profile_text  # noqa: PLC0415
    from filmhand.pipeline.profile_report import describe_profile  # noqa: PLC0415
    from filmhand.profile.read.load import faults_of_name, read_profile  # noqa: PLC0415

    _refuse_taken(file, replace=replace)
    asks = is_terminal(sys.stdin) and is_terminal(sys.stdout) and not as_json
    if not asks:
        _refuse_missing(given, file)
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
        says = "; ".join(fault.message for fault in error.faulty.faults)
        raise click.UsageError(CommandWord.DO_NOT_GO_TOGETHER.say(faults=says)) from None
    _write(target, text, replace=replace)
    if as_json:
        options.print_json(told | {"file": str(target)})
        return
    click.echo(CommandWord.WROTE.say(file=target))
    _tell_other_name(answers.mesh)
    click.echo()
    print_in_short(told, target)
    click.echo(f"\n{CommandWord.FIRST_FILM.say(file=target)}")


def _ask(given: dict[str, Any], treat: str | None) -> str:
    """Fill in what no option told; the kind of work comes back."""
    click.echo(f"{CommandWord.PRESS_ENTER.say()}\n")

    def ask(key: str, row: CommandWord, default: str, how: Answer) -> None:
        if given[key] is None:
            given[key] = click.prompt(row.say(), default=default, value_proc=how.take)

    ask("sheet", CommandWord.ASK_SHEET, "letter", _SHEET)
    ask("dpi", CommandWord.ASK_DPI, "600", _DPI)
    ask("margin", CommandWord.ASK_MARGIN, _usual_margin(given["sheet"]), _MARGIN)
    ask("mesh", CommandWord.ASK_MESH, "110", _MESH)
    if treat is None:
        question = CommandWord.ASK_WORK.say(**_work_words())
        answer = click.prompt(question, default=CommandWord.BOTH.say(), value_proc=_work)
        treat = str(answer)
    if treat != Treat.LINE and given["lpi"] is None:
        _ask_lpi(given, Treat(treat))
    return treat


def _ask_lpi(given: dict[str, Any], treat: Treat) -> None:
    from filmhand.pipeline.new_profile import ProfileAnswers, advised_lpi  # noqa: PLC0415

    known = {key: value for key, value in given.items() if value is not None}
    advised = advised_lpi(ProfileAnswers(**known, treat=treat))
    given["lpi"] = click.prompt(CommandWord.ASK_LPI.say(), default=f"{advised:g}", type=_LPI)


def _tell_other_name(typed: str) -> None:
    """A word where films will call the mesh otherwise than it was typed: 156 is 157 (62-64)."""
    mesh = _MESH.read(int(typed) if typed.isdigit() else typed)
    if isinstance(mesh, Mesh) and mesh.count_given is not None:
        inch_label = mesh.label.partition(" ")[0]
        if typed != inch_label:
            click.echo(CommandWord.MESH_IS_CALLED.say(given=typed, label=mesh.label))


def _usual_margin(sheet: str) -> str:
    """The edge of office printers, in the unit of the sheet (common practice, no source)."""
    return "0.25 in" if read_sheet(sheet).in_inches else "6 mm"


def _work(answer: str) -> Treat:
    """The kind of work, by as much of its word as was typed."""
    typed = answer.strip().lower()
    found = [treat for row, treat in _WORK.items() if row.say().lower().startswith(typed)]
    if len(found) != 1:
        raise click.BadParameter(CommandWord.NO_WORK.say(given=answer, **_work_words()))
    return found[0]


def _work_words() -> dict[str, str]:
    """The words to answer with, as the parts of a sentence."""
    return {row.name.lower(): row.say() for row in _WORK}


def _target(file: Path | None, sheet: str, mesh: str) -> Path:
    """Where the profile goes: in a folder, or without a FILE, under a name that tells it apart."""
    name = "-".join(f"{sheet} {mesh}".lower().replace("(", "").replace(")", "").split()) + ".yaml"
    if file is None:
        return Path(name)
    return file / name if file.is_dir() else file


def _refuse_missing(given: dict[str, Any], file: Path | None) -> None:
    """Without what no option told: the whole line to type, with what was told already in it."""
    usual = {"sheet": "letter", "dpi": "600", "mesh": "110"}
    missing = [f"--{key}" for key in usual if given[key] is None]
    if missing:
        told = [word for key in usual for word in (f"--{key}", given[key] or usual[key])]
        line = shlex.join(["filmhand", "new-profile", *([str(file)] if file else []), *told])
        raise click.UsageError(CommandWord.NOBODY_TO_ASK.say(options=and_list(missing), line=line))


def _refuse_taken(target: Path | None, *, replace: bool) -> None:
    if target is None or target.is_dir():
        return
    if target.suffix.lower() not in {".yaml", ".yml"}:
        better = target.with_suffix(".yaml")
        raise click.UsageError(CommandWord.MUST_END_IN_YAML.say(file=target, better=better))
    if target.exists() and not replace:
        raise click.UsageError(CommandWord.IS_THERE.say(file=target))


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
