"""The commands of a station: serve, once, status, and those that look after it."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path

import click

from filmhand.errors import ExitCode

_PATH = click.Path(path_type=Path)
_EXAMPLE = "\b\nExample:\n  "

_station = click.argument("station", type=_PATH)
_profiles = click.option(
    "--profiles", type=_PATH, help="Folder of the profiles.  [default: STATION/profiles]"
)
_state = click.option(
    "--state", type=_PATH, help="Folder on a local disk for ledger and log; may be deleted."
)
_as_json = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")


@click.command(epilog=_EXAMPLE + "filmhand serve /srv/films --profiles /etc/filmhand/profiles")
@_station
@_profiles
@_state
@click.option("--metrics", type=_PATH, help="Text file with figures for a monitoring system.")
@click.pass_context
def serve(
    context: click.Context,
    station: Path,
    profiles: Path | None,
    state: Path | None,
    metrics: Path | None,
) -> None:
    """Work through what waits in STATION, then watch it until stopped.

    SIGTERM finishes the job in hand and stops, a second one stops at once; SIGHUP reads the
    profiles again.
    """
    from filmhand.service import Station  # noqa: PLC0415

    context.exit(Station(station, profiles, state).serve(metrics=metrics))


@click.command(epilog=_EXAMPLE + "filmhand once /srv/films")
@_station
@_profiles
@_state
@click.pass_context
def once(context: click.Context, station: Path, profiles: Path | None, state: Path | None) -> None:
    """Work through all that waits in STATION, then end."""
    from filmhand.service import Station  # noqa: PLC0415

    context.exit(Station(station, profiles, state).once())


@click.command(epilog=_EXAMPLE + "filmhand status /srv/films --json")
@_station
@_state
@_as_json
@click.pass_context
def status(context: click.Context, station: Path, state: Path | None, *, as_json: bool) -> None:
    """Tell what waits in STATION, what was made and refused, and what is wrong."""
    from filmhand.cli.print_report import print_status  # noqa: PLC0415
    from filmhand.service import Station  # noqa: PLC0415

    told = Station(station, None, state).status()
    if as_json:
        click.echo(json.dumps(told, indent=2))
    else:
        print_status(told)
    context.exit(ExitCode.DONE if told["running"] else ExitCode.NOT_RUNNING)


@click.command(epilog=_EXAMPLE + "filmhand doctor /srv/films --init")
@_station
@_profiles
@_state
@click.option("--init", is_flag=True, help="Prepare the folders that profiles name elsewhere.")
@_as_json
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
            _line(f"{one.level.value:6}", f"{one.where}, {one.what}: {one.say}")
            if one.do:
                _line("", one.do)
    if as_json:
        click.echo(json.dumps(findings, indent=2))
    wrong = any(one["level"] == "wrong" for one in findings)
    context.exit(ExitCode.REFUSED if wrong else ExitCode.DONE)


@click.command(epilog=_EXAMPLE + "filmhand history /srv/films poster.jpg")
@_station
@click.argument("name")
@_profiles
@_state
@_as_json
@click.pass_context
def history(
    context: click.Context,
    station: Path,
    name: str,
    profiles: Path | None,
    state: Path | None,
    *,
    as_json: bool,
) -> None:
    """Tell what happened in STATION to files called NAME, oldest first.

    NAME is that of the art, with or without folder and suffix, that of a film, or a job.
    """
    from filmhand.service import Station  # noqa: PLC0415

    told = Station(station, profiles, state).history(name)
    if as_json:
        click.echo(json.dumps(told, indent=2))
    for one in told if not as_json else ():
        _line(f"{one['outcome']}", f" {one['name']} for {one['profile']}".strip())
        _line("", f"job {one['job']}, {one['at']}" if one["at"] else one["job"])
        for film in one.get("films", []):
            _line("", film["file"] + ("" if film["there"] else " (no longer in positives)"))
        if one.get("say"):
            _line("", f"{one['say']} {one['do']}")
    if not told:
        click.echo(f"Nothing is known of {name!r} at this station.", err=True)
    context.exit(ExitCode.DONE if told else ExitCode.REFUSED)


@click.command(epilog=_EXAMPLE + "filmhand retry /srv/films 20260301T100000-1a2b3c4d")
@_station
@click.argument("job")
@_profiles
@_state
def retry(station: Path, job: str, profiles: Path | None, state: Path | None) -> None:
    """Put the refused file of JOB in STATION back into its drop folder, to be tried again.

    Ticket and mask go along; the note beside it is taken away. `history` tells the jobs of a file.
    """
    from filmhand.service import Station  # noqa: PLC0415

    click.echo(Station(station, profiles, state).retry(job))


@click.command(epilog=_EXAMPLE + "filmhand health /srv/films --state /var/lib/filmhand")
@_station
@_state
@_as_json
@click.pass_context
def health(context: click.Context, station: Path, state: Path | None, *, as_json: bool) -> None:
    """Tell whether the service of STATION is alive: 0 if it is, 1 if it hangs or is not running.

    For containers and monitors. A full disk or a missing share is no illness of the service;
    `status` tells those.
    """
    from filmhand.service import Station  # noqa: PLC0415

    told = Station(station, None, state).health()
    if as_json:
        click.echo(json.dumps(told, indent=2))
    else:
        for line in told["wrong"] or ["healthy"]:
            click.echo(line)
    context.exit(ExitCode.DONE if told["healthy"] else ExitCode.REFUSED)


def _line(head: str, text: str) -> None:
    lines = textwrap.wrap(text, 88, break_long_words=False) or [""]
    for line in lines:
        click.echo(f"{head:8}{line}")
        head = ""


COMMANDS = (serve, once, status, doctor, history, retry, health)
