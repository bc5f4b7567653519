"""What `filmhand doctor --printers` tells."""

from __future__ import annotations

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.errors import ExitCode
from filmhand.printer.discovery import find_printers
from filmhand.printer.session import IppPrinter
from filmhand.printer.suggestion import PrinterReport, report_on


def list_printers(*, as_json: bool) -> ExitCode:
    """The printers of the network, each with what it can do for film and its lines to paste."""
    announced = find_printers()
    reports = [report_on(one.name, one.uri, IppPrinter) for one in announced]
    if as_json:
        options.print_json([one.as_dict() for one in reports])
        return ExitCode.DONE
    for one in reports:
        print_report(one)
    if not reports:
        options.say_error(CommandWord.NONE_ANNOUNCED.say())
    return ExitCode.DONE if reports else ExitCode.REFUSED


def print_report(one: PrinterReport) -> None:
    """One printer, as people read it; the lines to paste stand as they are to be pasted."""
    click.echo(one.name)
    for say in one.says:
        options.print_line("", say)
    if one.group:
        click.echo()
        for line in one.group:
            click.echo(line)
    click.echo()
