"""What several commands share: their options, defined once, and the way they speak."""

from __future__ import annotations

import functools
import json
import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import click

from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import option
from filmhand.cli.help_words import HelpWord
from filmhand.errors import FaultyFile, ProgramFailed
from filmhand.language import Sentence
from filmhand.service.terminal import is_terminal

_Value = TypeVar("_Value")
_COLUMNS = 80  # of the narrowest terminal that is usual

PATH = click.Path(path_type=Path)

film_argument = click.argument("film", type=PATH)
json_option = option(HelpWord.JSON, "--json", "as_json", is_flag=True)
dpi_option = option(HelpWord.DPI_OF_FILM, "--dpi", "dpi_text")


def with_station(command: Callable[..., _Value]) -> Callable[..., _Value]:
    """Give the command its STATION, with the folders of profiles and state that are named."""
    return _station_given(command, required=True)


def with_station_or_none(command: Callable[..., _Value]) -> Callable[..., _Value]:
    """The same for a command that can do something without one: it is None then."""
    return _station_given(command, required=False)


def _station_given(command: Callable[..., _Value], *, required: bool) -> Callable[..., _Value]:
    @functools.wraps(command)
    def run(station: Path | None, profiles: Path | None, state: Path | None, **rest: Any) -> _Value:
        from filmhand.service.station import Station  # noqa: PLC0415

        return command(station and Station(station, profiles, state), **rest)

    for parameter in (
        option(HelpWord.STATE, "--state", type=PATH),
        option(HelpWord.PROFILES, "--profiles", type=PATH),
        click.argument("station", type=PATH, required=required),
    ):
        run = parameter(run)
    return run


def read_option(name: str, text: str | None, read: Callable[[Any], _Value]) -> _Value | None:
    """An option's value through one of the readers, or a usage error that says what is allowed."""
    if text is None:
        return None
    from filmhand.cli.answers import DPI_UNIT, THREADS_UNIT, without_unit  # noqa: PLC0415

    units = {"--mesh": THREADS_UNIT, "--dpi": DPI_UNIT}
    text = without_unit(text.strip(), units[name]) if name in units else text
    try:
        return read(int(text) if text.isdigit() else text)
    except ValueError as error:
        says = CommandWord.MUST_BE.say(allowed=error, given=text)
        raise click.BadParameter(says, param_hint=name) from error


def say_error(sentence: str) -> None:
    """A sentence on standard error."""
    click.echo(sentence, err=True)


def echo_styled(text: str) -> None:
    """Text with a terminal's codes, which are left out elsewhere and under NO_COLOR.

    no-color.org: any value of that variable but an empty one asks for it.
    """
    click.echo(text, color=False if os.environ.get("NO_COLOR") else None)


def say_faults(faulty: FaultyFile) -> None:
    """One line on standard error for each fault of a profile."""
    for line in faulty.lines():
        say_error(line)


def print_json(told: Any) -> None:
    """For programs."""
    click.echo(json.dumps(told, indent=2))


def print_told(told: _Value, as_people_read_it: Callable[[_Value], None], *, as_json: bool) -> None:
    """A report, in the form that was asked for."""
    (print_json if as_json else as_people_read_it)(told)


def with_progress(
    items: Iterable[_Value], doing: Sentence, total: int, *, quiet: bool = False
) -> Iterator[_Value]:
    """The items, with a line on a terminal's standard error while the next one is worked on.

    The line is gone before an item comes, so that what is printed of it stands by itself.
    """
    if quiet or not is_terminal(sys.stderr):
        yield from items
        return
    coming = iter(items)
    for number in range(1, total + 2):
        line = doing.say(number=number, total=total) if number <= total else ""
        click.echo(line, err=True, nl=False)
        try:
            item = next(coming)
        except StopIteration:
            return
        finally:
            click.echo(f"\r{' ' * len(line)}\r", err=True, nl=False)
        yield item


def row_lines(caption: Sentence | None, text: str) -> list[str]:
    """A row of a report, wrapped beside its caption to 80 columns; None goes on with a row."""
    # A space that does not break holds together what is read together.
    texts = [line.replace("\xa0", " ") for line in textwrap.wrap(text, _COLUMNS - 12)] or [""]
    heads = [caption.say() if caption else "", *[""] * (len(texts) - 1)]
    return [f"  {head:9} {line}" for head, line in zip(heads, texts, strict=True)]


def print_row(caption: Sentence | None, text: str) -> None:
    """Print a row of a report."""
    for line in row_lines(caption, text):
        click.echo(line)


def print_line(head: str, text: str) -> None:
    """A line of a list, wrapped beside its head to 80 columns."""
    for line in textwrap.wrap(text, _COLUMNS - 8, break_long_words=False) or [""]:
        click.echo(f"{head:7} {line}")
        head = ""


def dpi_text(pair: list[int]) -> str:
    """One number, or two where the directions differ."""
    return str(pair[0]) if pair[0] == pair[1] else f"{pair[0]} x {pair[1]}"


def program_failed(over: str, how: str, details: str) -> ProgramFailed:
    """The failure as a sentence, with the details in the log of the user's own commands.

    Parameters
    ----------
    over : what was worked on
    how : the last word of the details
    details : all that is known, for whoever mends the program
    """
    import tempfile  # noqa: PLC0415 - only where something failed
    from datetime import UTC, datetime  # noqa: PLC0415

    from filmhand.disk.folders import user_folder  # noqa: PLC0415

    base = user_folder("XDG_STATE_HOME", ".local/state") or Path(tempfile.gettempdir())
    log = base / "filmhand" / "commands.log"
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    try:
        log.parent.mkdir(parents=True, exist_ok=True)
        with log.open("a", encoding="utf-8") as stream:
            stream.write(f"{now} {over}\n{details.rstrip()}\n\n")
    except OSError:
        return ProgramFailed(over, how, CommandWord.DETAILS.say(details=details.strip()))
    return ProgramFailed(over, how, CommandWord.DETAILS_ARE_IN.say(log=log))
