"""Commands and options whose help is a row, said in the language in force when it is shown.

click takes a help text when a command is defined, which is when its module is loaded.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from filmhand.cli.cli_words import CommandWord
from filmhand.cli.help_words import HelpWord
from filmhand.language import translated

_KEYS = {"sheet", "dpi", "lpi", "dot", "threshold", "mesh", "margin", "angle", "copies", "write"}
Decorator = Callable[[Callable[..., Any]], Any]


class _RowAsHelp:
    """What click reads as ``help`` is the row's translation."""

    _row: str | None = None

    @property
    def help(self) -> str | None:
        return self._row and translated(self._row)

    @help.setter
    def help(self, row: str | None) -> None:
        self._row = row


class WordedCommand(_RowAsHelp, click.Command):
    """A command whose ``help`` is a row, and whose ``epilog`` a line to type as an example."""

    def parse_args(self, context: click.Context, args: list[str]) -> list[str]:
        """As click's; of an option that is a key of profiles it is said where that stands."""
        try:
            return super().parse_args(context, args)
        except click.NoSuchOption as error:
            key = error.option_name.lstrip("-")
            if key not in _KEYS:
                raise
            says = CommandWord.KEY_OF_PROFILE.say(option=error.option_name, key=key)
            raise click.UsageError(says, context) from None

    def get_help_option(self, context: click.Context) -> click.Option | None:
        """As click's, with our row."""
        option = super().get_help_option(context)
        if option is not None:
            option.help = HelpWord.SHOW_HELP.say()
        return option

    def format_epilog(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """The example, on a line of its own."""
        if self.epilog:
            formatter.write_paragraph()
            with formatter.indentation():
                formatter.write_text(f"\b\n{HelpWord.EXAMPLE.say()}\n  {self.epilog}")


class WordedOption(_RowAsHelp, click.Option):
    """An option whose ``help`` is a row."""


def command(help_row: HelpWord, example: str, *, name: str | None = None) -> Decorator:
    """Make a command of a function, with an example of how it is typed."""
    return click.command(name, cls=WordedCommand, help=help_row, epilog=example)


def option(help_row: HelpWord, *names: str, **about: Any) -> Decorator:
    """Give a command an option."""
    return click.option(*names, cls=WordedOption, help=help_row, **about)
