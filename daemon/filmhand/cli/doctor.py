"""``filmhand doctor``: tries all that the service needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand doctor /srv/films --init"))
@options.with_station
@click.option("--init", is_flag=True, help="Prepare the folders that profiles name elsewhere.")
@options.json_option
def doctor(station: Station, *, init: bool, as_json: bool) -> ExitCode:
    """Try all that the service needs in STATION, and tell what is wrong and what to do.

    Makes, renames and removes files of its own in hidden folders, and leaves nothing behind.
    """
    findings = []
    for one in station.doctor(init=init):
        findings.append(one.as_dict())
        if not as_json:
            options.print_line(f"{one.level.value:6}", f"{one.where}, {one.what}: {one.say}")
            if one.do:
                options.print_line("", one.do)
    if as_json:
        options.print_json(findings)
    wrong = any(one["level"] == "wrong" for one in findings)
    return ExitCode.REFUSED if wrong else ExitCode.DONE
