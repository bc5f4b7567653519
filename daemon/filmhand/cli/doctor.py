"""``filmhand doctor``: tries all that the service needs."""

from __future__ import annotations

from pathlib import Path

import click

from filmhand.cli import options
from filmhand.errors import ExitCode


@click.command(epilog=options.example("filmhand doctor /srv/films --init"))
@options.station_argument
@options.profiles_option
@options.state_option
@click.option("--init", is_flag=True, help="Prepare the folders that profiles name elsewhere.")
@options.json_option
@click.pass_context
def doctor(
    context: click.Context,
    station: Path,
    profiles: Path | None,
    state: Path | None,
    *,
    init: bool,
    as_json: bool,
) -> None:
    """Try all that the service needs in STATION, and tell what is wrong and what to do.

    Makes, renames and removes files of its own in hidden folders, and leaves nothing behind.
    """
    from filmhand.service import Station  # noqa: PLC0415

    findings = []
    for one in Station(station, profiles, state).doctor(init=init):
        findings.append(one.as_dict())
        if not as_json:
            options.print_line(f"{one.level.value:6}", f"{one.where}, {one.what}: {one.say}")
            if one.do:
                options.print_line("", one.do)
    if as_json:
        options.print_json(findings)
    wrong = any(one["level"] == "wrong" for one in findings)
    context.exit(ExitCode.REFUSED if wrong else ExitCode.DONE)
