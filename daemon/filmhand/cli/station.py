"""The commands that have to do with a station: its service, and what people ask about it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.printers import list_printers
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.service import Station

_MOST = 20  # rows of one kind in the report of `status`


@click.command(
    epilog=options.example("filmhand serve /srv/films --profiles /etc/filmhand/profiles")
)
@options.with_station
@click.option(
    "--metrics", type=options.PATH, help="Text file with figures for a monitoring system."
)
@click.option(
    "--page", metavar="HOST:PORT", help="Serve the station's page there, such as 127.0.0.1:8080."
)
@click.option(
    "--page-name",
    "names",
    multiple=True,
    metavar="NAME",
    help="Another name under which browsers ask for the page; may be given several times.",
)
def serve(station: Station, metrics: Path | None, page: str | None, names: tuple[str, ...]) -> int:
    """Work through what waits in STATION, then watch it until stopped.

    SIGTERM finishes the job in hand and stops, a second one stops at once; SIGHUP reads the
    profiles again. The page can only be read, by everybody who reaches HOST:PORT: there is no
    password.
    """
    from filmhand.service.page_server import PageWish  # noqa: PLC0415

    try:
        wish = None if page is None else PageWish.read(page, names)
    except ValueError as allowed:
        raise click.UsageError(f"--page must be {allowed}, not {page!r}.") from None
    return station.serve(metrics=metrics, page=wish)


@click.command(epilog=options.example("filmhand once /srv/films"))
@options.with_station
def once(station: Station) -> int:
    """Work through all that waits in STATION, then end."""
    return station.once()


@click.command(epilog=options.example('filmhand status /srv/films "class 4"'))
@options.with_station
@click.argument("person", required=False)
@options.json_option
def status(station: Station, person: str | None, *, as_json: bool) -> ExitCode:
    """Tell what waits in STATION, what was made and refused, and what is wrong.

    With PERSON only their art: that with the name in the first sub-folder of drop, or after `for`
    in its ticket.
    """
    told = station.status(person)
    options.print_told(told, print_status, as_json=as_json)
    return ExitCode.DONE if told["running"] else ExitCode.NOT_RUNNING


def print_status(told: Mapping[str, Any]) -> None:
    """The report of ``filmhand status``."""
    counts = told["counts"]
    click.echo("running" if told["running"] else "not running")
    options.print_row("counts", ", ".join(f"{value} {key}" for key, value in counts.items()))
    for fault in told["faults"]:
        options.print_row("fault", fault if isinstance(fault, str) else json.dumps(fault))
    for part in told["profiles"]:
        click.echo(f"{part['name']}: {part['paused'] or part['state']}")
        for key in ("working", "waiting", "left_alone"):
            for item in part[key][:_MOST]:
                options.print_row(key.replace("_", " "), _item(item))
            if len(part[key]) > _MOST:
                options.print_row("", f"and {len(part[key]) - _MOST} more")
        _print_held(part)
    for printer in told.get("printers", ()):
        _print_printer(printer)
    for entry in told["made"][:_MOST]:
        films = ", ".join(file for film in entry["films"] for file in film["files"])
        options.print_row("made", f"{entry['profile']}: {entry['name']} as {films}")
    for entry in told["refused"][:_MOST]:
        options.print_row(
            "refused", f"{entry['profile']}: {entry['name']}: {entry['say']} {entry['do']}"
        )


def _print_held(profile: Mapping[str, Any]) -> None:
    held = profile.get("held", [])
    for one in held[:_MOST]:
        whose = f" for {one['for']}" if one["for"] else ""
        options.print_row("held", f"{one['film']}{whose}: {one['why']} Until: {one['until']}.")
    if profile.get("held_count", 0) > len(held[:_MOST]):
        options.print_row("", f"and {profile['held_count'] - len(held[:_MOST])} more")


def _print_printer(printer: Mapping[str, Any]) -> None:
    why = f": {printer['why']}" if printer["why"] else ""
    click.echo(f"{printer['printer']}: {printer['state']}{why}")
    options.print_row(
        "films", f"{printer['waiting']} waiting, for {', '.join(printer['profiles'])}"
    )
    for one in printer["printing"]:
        number = "" if one["printer_job"] is None else f", the printer's job {one['printer_job']}"
        options.print_row("at it", f"{one['profile']}: {one['film']}{number}")
    for one in printer["held"]:
        options.print_row("held", f"{one['profile']}: {one['why']}")
    for profile in printer["paused"]:
        options.print_row("paused", f"{profile}: filmhand resume STATION {profile}")
    for one in printer["doubtful"]:
        options.print_row("doubtful", f"{one['profile']}: {one['film']}: {one['why']} {one['do']}")
    if printer["doubtful_count"] > len(printer["doubtful"]):
        options.print_row("", f"and {printer['doubtful_count'] - len(printer['doubtful'])} more")


def _item(item: str | Mapping[str, Any]) -> str:
    if isinstance(item, str):
        return item
    return ", ".join(str(value) for value in item.values() if value not in (None, ""))


@click.command(epilog=options.example("filmhand doctor /srv/films --init"))
@options.with_station_or_none
@click.option("--init", is_flag=True, help="Prepare the folders that profiles name elsewhere.")
@click.option("--notify", is_flag=True, help="Send a trial message to whoever the profiles tell.")
@click.option("--printers", is_flag=True, help="Look for printers instead; needs no STATION.")
@options.json_option
def doctor(
    station: Station | None, *, init: bool, notify: bool, printers: bool, as_json: bool
) -> ExitCode:
    """Try all that the service needs in STATION, and tell what is wrong and what to do.

    Makes, renames and removes files of its own in hidden folders, and leaves nothing behind.
    With --printers it lists the printers of the network instead, what each can do for film, and
    the lines that a profile needs for it.
    """
    if printers:
        return list_printers(as_json=as_json)
    if station is None:
        raise click.UsageError("Missing argument 'STATION'.")
    findings = []
    for one in station.doctor(init=init, notify=notify):
        findings.append(one.as_dict())
        if not as_json:
            options.print_line(f"{one.level.say():6}", one.told())
            if one.do:
                options.print_line("", one.do)
    if as_json:
        options.print_json(findings)
    wrong = any(one["level"] == "wrong" for one in findings)
    return ExitCode.REFUSED if wrong else ExitCode.DONE


@click.command(epilog=options.example("filmhand history /srv/films poster.jpg"))
@options.with_station
@click.argument("name")
@options.json_option
def history(station: Station, name: str, *, as_json: bool) -> ExitCode:
    """Tell what happened in STATION to files called NAME, oldest first.

    NAME is that of the art, with or without folder and suffix, that of a film, or a job.
    """
    history_of = station.history(name)
    told = history_of.found
    if as_json:
        options.print_json(told)
    for one in told if not as_json else ():
        options.print_line(f"{one['outcome']}", f" {one['name']} for {one['profile']}".strip())
        options.print_line("", f"job {one['job']}, {one['at']}" if one["at"] else one["job"])
        for film in one.get("films", []):
            options.print_line(
                "", film["file"] + ("" if film["there"] else " (no longer in positives)")
            )
        if one.get("say"):
            options.print_line("", f"{one['say']} {one['do']}")
    if history_of.lacks:
        click.echo(history_of.lacks, err=True)
    if not told:
        click.echo(f"Nothing is known of {name!r} at this station.", err=True)
    return ExitCode.DONE if told else ExitCode.REFUSED


@click.command(epilog=options.example("filmhand retry /srv/films 'class 4/poster.jpg'"))
@options.with_station
@click.argument("name")
def retry(station: Station, name: str) -> None:
    """Put the refused file NAME in STATION back into its drop folder, to be tried again.

    NAME is as `status` shows it or as it lies in rejected/, with or without sub-folder, or a job.
    Where several files are called so, all are listed with their jobs. Ticket and mask go along;
    the note beside it is taken away.
    """
    click.echo(station.retry(name))


@click.command(epilog=options.example("filmhand health /srv/films --state /var/lib/filmhand"))
@options.with_station
@options.json_option
def health(station: Station, *, as_json: bool) -> ExitCode:
    """Tell whether the service of STATION is alive: 0 if it is, 1 if it hangs or is not running.

    For containers and monitors. A full disk or a missing share is no illness of the service;
    `status` tells those.
    """
    told = station.health()
    if as_json:
        options.print_json(told)
    else:
        for line in told["wrong"] or ["healthy"]:
            click.echo(line)
    return ExitCode.DONE if told["healthy"] else ExitCode.REFUSED


@click.command(epilog=options.example("filmhand log /srv/films --lines 200"))
@options.with_station
@click.option("--lines", type=click.IntRange(1, 100_000), default=50, show_default=True,
              help="How many of the last lines.")  # fmt: skip
@options.json_option
def log(station: Station, *, lines: int, as_json: bool) -> ExitCode:
    """Tell what the service of STATION said last, in sentences, oldest first.

    A ! stands before what somebody should look at. The log itself is kept as JSON, a line an event.
    """
    from filmhand.service.log_words import event_in_words  # noqa: PLC0415

    found = station.log_lines(lines)
    if as_json:
        options.print_json(found)
    elif not found:
        options.say_error("No service has said anything here yet: filmhand serve starts one.")
    for line in found if not as_json else ():
        click.echo(event_in_words(line))
    return ExitCode.DONE if found else ExitCode.REFUSED
