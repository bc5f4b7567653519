"""The commands of filmhand, and what all of them do where something goes wrong."""

from __future__ import annotations

import sys
import traceback
from typing import Any

import click

from filmhand import __version__
from filmhand.cli import options
from filmhand.cli.check import check
from filmhand.cli.guide import guide
from filmhand.cli.held_commands import discard, release, usage
from filmhand.cli.make import make
from filmhand.cli.measure import measure
from filmhand.cli.new_profile import new_profile
from filmhand.cli.predict import predict
from filmhand.cli.print_commands import cancel, pause, reprint, resume
from filmhand.cli.printer_films import device_sheet, ruler
from filmhand.cli.station import doctor, health, history, log, once, retry, serve, status
from filmhand.errors import ExitCode, FilmhandError, ProfileError

_RENAMED = {"foresee": "predict"}


class _Plain(click.Group):
    """A group whose unknown commands come with the nearest known one."""

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
            options.say_error(
                f"{error.filename}: {error.strerror}. Check the path and your rights to it."
            )
            context.exit(ExitCode.REFUSED)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            return self._failed(context, error)
        return context.exit(code or ExitCode.DONE)

    def resolve_command(self, context: click.Context, args: list[str]) -> Any:
        if args and args[0] in _RENAMED:
            raise click.UsageError(f"{args[0]} is now {_RENAMED[args[0]]}.")
        return super().resolve_command(context, args)

    def _failed(self, context: click.Context, error: Exception) -> None:
        """A bug of ours: one sentence, and the details where somebody can find them."""
        how = f"{type(error).__name__}: {error}"
        options.say_error(str(options.program_failed("this command", how, traceback.format_exc())))
        context.exit(ExitCode.REFUSED)


_BEGIN = """\
filmhand makes film positives for screen printing from pictures in a folder.

Where to begin:
  filmhand new-profile shirts.yaml             your printer, sheet and mesh
  filmhand make art.jpg --profile shirts.yaml  one film: look at its proof
  filmhand serve films --profiles FOLDER       a folder that does it by itself

  filmhand guide start      the first film, in ten minutes
  filmhand guide stencil    from the installation to the first stencil
  filmhand guide WORD       where a word stands in the guide
  filmhand --help           every command
"""


@click.group(
    cls=_Plain,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="filmhand")
@click.pass_context
def main(context: click.Context) -> None:
    """Make film positives for screen printing from pictures dropped in a folder.

    \b
    Start with:
      filmhand new-profile                what your printer, sheet and mesh are
      filmhand check profiles             what each profile gives, and what its mesh holds
      filmhand make art.jpg --profile profiles/small-sheet.yaml
      filmhand serve station --profiles profiles
      filmhand guide                      the longer pages
    """
    if context.invoked_subcommand is None:
        click.echo(_BEGIN, nl=False)


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
