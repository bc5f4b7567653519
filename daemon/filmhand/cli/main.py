"""The commands of filmhand, and what all of them do where something goes wrong."""

from __future__ import annotations

import errno
import importlib
import sys
from collections import UserDict
from collections.abc import Iterator
from typing import Any

import click
from click.formatting import HelpFormatter

from filmhand import __version__
from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import WordedCommand, option
from filmhand.cli.help_words import ClickWord, HelpWord
from filmhand.errors import ExitCode, FilmhandError, ProfileError
from filmhand.language import python_speaking

# Each command's module in this room, and its help. The module is loaded when the command is asked
# for: no command is to wait for what another one needs.
_ROWS = {
    "make": ("make", HelpWord.MAKE),
    "check": ("check", HelpWord.CHECK),
    "new-profile": ("new_profile", HelpWord.NEW_PROFILE),
    "measure": ("measure", HelpWord.MEASURE),
    "predict": ("predict", HelpWord.PREDICT),
    "ruler": ("press.printer_films", HelpWord.RULER),
    "device-sheet": ("press.printer_films", HelpWord.DEVICE_SHEET),
    "wedge": ("press.wedge", HelpWord.WEDGE),
    "exposure": ("press.wedge", HelpWord.EXPOSURE),
    "calibrate": ("press.calibrate", HelpWord.CALIBRATE),
    "curves": ("press.curves", HelpWord.CURVES),
    "serve": ("station", HelpWord.SERVE),
    "once": ("station", HelpWord.ONCE),
    "status": ("station", HelpWord.STATUS),
    "doctor": ("station", HelpWord.DOCTOR),
    "history": ("station", HelpWord.HISTORY),
    "retry": ("station", HelpWord.RETRY),
    "release": ("held_commands", HelpWord.RELEASE),
    "discard": ("held_commands", HelpWord.DISCARD),
    "usage": ("held_commands", HelpWord.USAGE),
    "cancel": ("print_commands", HelpWord.CANCEL),
    "reprint": ("print_commands", HelpWord.REPRINT),
    "pause": ("print_commands", HelpWord.PAUSE),
    "resume": ("print_commands", HelpWord.RESUME),
    "health": ("station", HelpWord.HEALTH),
    "log": ("station", HelpWord.LOG),
    "guide": ("guide", HelpWord.GUIDE),
}
_RENAMED = {"foresee": "predict"}
_TROUBLES = {
    errno.ENOENT: CommandWord.NOT_THERE,
    errno.EACCES: CommandWord.NO_RIGHTS,
    errno.EPERM: CommandWord.NO_RIGHTS,
}


class _CommandsByName(UserDict[str, click.Command]):
    """All commands by name; one that is not there yet is loaded."""

    def __contains__(self, name: object) -> bool:
        return name in _ROWS

    def __iter__(self) -> Iterator[str]:
        return iter(_ROWS)

    def __len__(self) -> int:
        return len(_ROWS)

    def __missing__(self, name: str) -> click.Command:
        if name not in _ROWS:
            raise KeyError(name)
        module, _ = _ROWS[name]
        loaded = importlib.import_module(f"filmhand.cli.{module}")
        command: click.Command = getattr(loaded, name.replace("-", "_"))
        self.data[name] = command
        return command


class _Commands(WordedCommand, click.Group):
    """All commands; what goes wrong in one ends in a sentence."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """As click's, whose own words are then in the language in force too."""
        with python_speaking():
            return super().main(*args, **extra)

    def format_help_text(self, context: click.Context, formatter: HelpFormatter) -> None:
        """The help, and what to type first."""
        super().format_help_text(context, formatter)
        formatter.write_paragraph()
        with formatter.indentation():
            formatter.write_text(f"\b\n{HelpWord.START_WITH.say()}")

    def format_commands(self, context: click.Context, formatter: HelpFormatter) -> None:
        """As click's, from the rows: no command is loaded to be listed."""
        width = formatter.width - 6 - max(map(len, _ROWS))
        with formatter.section(ClickWord.COMMANDS.say()):
            formatter.write_dl(
                [
                    (name, click.Command(name, help=row.say()).get_short_help_str(width))
                    for name, (_, row) in sorted(_ROWS.items())
                ]
            )

    def invoke(self, context: click.Context) -> Any:
        try:
            code = super().invoke(context)
        except ProfileError as error:
            options.say_faults(error.faulty)
            context.exit(ExitCode.PROFILE)
        except FilmhandError as error:
            options.say_error(str(error))
            context.exit(error.exit_code)
        except BrokenPipeError:
            sys.stderr.close()  # whoever read our output has gone; nothing is wrong
            context.exit(ExitCode.DONE)
        except OSError as error:
            if error.filename is None:
                return self._failed(context, error)
            row = _TROUBLES.get(error.errno or 0, CommandWord.CHECK_THE_PATH)
            options.say_error(row.say(path=error.filename, error=error.strerror))
            context.exit(ExitCode.REFUSED)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            return self._failed(context, error)
        return context.exit(code or ExitCode.DONE)

    def resolve_command(self, context: click.Context, args: list[str]) -> Any:
        if args and args[0] in _RENAMED:
            raise click.UsageError(CommandWord.RENAMED.say(old=args[0], new=_RENAMED[args[0]]))
        return super().resolve_command(context, args)

    def _failed(self, context: click.Context, error: Exception) -> None:
        """A bug of ours: one sentence, and the details where somebody can find them."""
        import traceback  # noqa: PLC0415 - only where something failed

        how = f"{type(error).__name__}: {error}"
        over = CommandWord.THIS_COMMAND.say()
        options.say_error(str(options.program_failed(over, how, traceback.format_exc())))
        context.exit(ExitCode.REFUSED)


def _show_version(context: click.Context, _option: click.Parameter, asked: bool) -> None:
    if asked:
        click.echo(CommandWord.VERSION.say(version=__version__))
        context.exit()


@click.group(
    cls=_Commands,
    commands=_CommandsByName(),
    help=HelpWord.FILMHAND,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@option(
    HelpWord.SHOW_VERSION,
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
)
@click.pass_context
def main(context: click.Context) -> None:
    """Show where to begin, where no command is given."""
    if context.invoked_subcommand is None:
        click.echo(CommandWord.BEGIN.say())
