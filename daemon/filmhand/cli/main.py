"""The commands of filmhand, and what all of them do where something goes wrong."""

from __future__ import annotations

import errno
import sys
import traceback
from typing import Any

import click

from filmhand import __version__
from filmhand.cli import options
from filmhand.cli.check import check
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import WordedCommand, option
from filmhand.cli.guide import guide
from filmhand.cli.held_commands import discard, release, usage
from filmhand.cli.help_words import HelpWord
from filmhand.cli.make import make
from filmhand.cli.measure import measure
from filmhand.cli.new_profile import new_profile
from filmhand.cli.predict import predict
from filmhand.cli.print_commands import cancel, pause, reprint, resume
from filmhand.cli.printer_films import device_sheet, ruler
from filmhand.cli.station import doctor, health, history, log, once, retry, serve, status
from filmhand.errors import ExitCode, FilmhandError, ProfileError
from filmhand.language import python_speaking

_RENAMED = {"foresee": "predict"}
_TROUBLES = {
    errno.ENOENT: CommandWord.NOT_THERE,
    errno.EACCES: CommandWord.NO_RIGHTS,
    errno.EPERM: CommandWord.NO_RIGHTS,
}


class _Commands(WordedCommand, click.Group):
    """All commands; what goes wrong in one ends in a sentence."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """As click's, whose own words are then in the language in force too."""
        with python_speaking():
            return super().main(*args, **extra)

    def format_help_text(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """The help, and what to type first."""
        super().format_help_text(context, formatter)
        formatter.write_paragraph()
        with formatter.indentation():
            formatter.write_text(f"\b\n{HelpWord.START_WITH.say()}")

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


for _command in (
    make,
    check,
    new_profile,
    measure,
    predict,
    ruler,
    device_sheet,
    serve,
    once,
    status,
    doctor,
    history,
    retry,
    release,
    discard,
    usage,
    cancel,
    reprint,
    pause,
    resume,
    health,
    log,
    guide,
):
    main.add_command(_command)
