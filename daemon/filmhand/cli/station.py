"""The commands that have to do with a station: its service, and what people ask about it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandCount, CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.report_words import ReportCaption
from filmhand.disk.file_names import compared
from filmhand.errors import ExitCode
from filmhand.language import and_list, translated
from filmhand.page.page_entries import since_refused
from filmhand.page.page_profiles import curves_lacking, duration_text
from filmhand.page.page_words import PageWord
from filmhand.service.service_words import FileOutcome

if TYPE_CHECKING:
    from filmhand.service.station import Station

_MOST = 20  # rows of one kind in the report of `status`
_STATES = {
    "working": PageWord.WORKING_STATE,
    "paused": PageWord.PAUSED_STATE,
    "unreachable": PageWord.UNREACHABLE_STATE,
    "not running": PageWord.NOT_RUNNING_STATE,
}
_LISTS = {
    "working": ReportCaption.WORKING,
    "waiting": ReportCaption.WAITING,
    "left_alone": ReportCaption.LEFT_ALONE,
}


@command(HelpWord.SERVE, "filmhand serve /srv/films --profiles /etc/filmhand/profiles")
@options.with_station
@option(HelpWord.METRICS, "--metrics", type=options.PATH)
@option(HelpWord.PAGE, "--page", metavar="HOST:PORT")
@option(HelpWord.PAGE_NAME, "--page-name", "names", multiple=True, metavar="NAME")
def serve(station: Station, metrics: Path | None, page: str | None, names: tuple[str, ...]) -> int:
    """Work through what waits, then watch until stopped."""
    from filmhand.service.page_server import PageWish  # noqa: PLC0415

    try:
        wish = None if page is None else PageWish.read(page, names)
    except ValueError as allowed:
        says = CommandWord.PAGE_MUST_BE.say(allowed=allowed, given=page)
        raise click.UsageError(says) from None
    return station.serve(metrics=metrics, page=wish)


@command(HelpWord.ONCE, "filmhand once /srv/films")
@options.with_station
def once(station: Station) -> int:
    """Work through all that waits."""
    return station.once()


@command(HelpWord.STATUS, 'filmhand status /srv/films "class 4"')
@options.with_station
@click.argument("person", required=False)
@options.json_option
def status(station: Station, person: str | None, *, as_json: bool) -> ExitCode:
    """Tell what waits, what was made and refused, and what is wrong."""
    told = station.status(person)
    options.print_told(told, print_status, as_json=as_json)
    if person is not None and not any(told["counts"].values()):
        _say_who_is_known(person, station.people())
    return ExitCode.DONE if told["running"] else ExitCode.NOT_RUNNING


def _say_who_is_known(person: str, people: list[str]) -> None:
    """A word where nothing is somebody's: the name may be written otherwise."""
    if compared(person) in map(compared, people):
        return  # such as of somebody whose films are held
    row = CommandWord.NOBODYS_ART_BUT if people else CommandWord.NOBODYS_ART
    options.say_error(row.say(person=person, people=", ".join(people)))


def print_status(told: Mapping[str, Any]) -> None:
    """The report of ``filmhand status``."""
    running = CommandWord.RUNNING if told["running"] else PageWord.NOT_RUNNING_STATE
    click.echo(running.say())
    options.print_row(ReportCaption.COUNTS, CommandWord.COUNTS.say(**told["counts"]))
    for fault in told["faults"]:
        says = fault if isinstance(fault, str) else json.dumps(fault)
        options.print_row(ReportCaption.FAULT, says)
    for part in told["profiles"]:
        state = _STATES.get(part["state"], PageWord.WORKING_STATE)
        # What is said of the whole station is not said of each profile again.
        stopped = not told["running"] and part["state"] == "not running"
        says = part["paused"] or ("" if stopped else state.say())
        click.echo(f"{part['name']}: {says}" if says else part["name"])
        for key, caption in _LISTS.items():
            for item in part[key][:_MOST]:
                options.print_row(caption, _item(item))
            _print_more(len(part[key]) - _MOST)
        _print_held(part)
        # What was last told of one that ended may have been read since.
        for says in curves_lacking(part) if told["running"] else ():
            options.print_row(ReportCaption.NOTE, says)
    for printer in told.get("printers", ()):
        _print_printer(printer)
    for entry in told["made"][:_MOST]:
        films = ", ".join(_films_made(entry["films"]))
        row = CommandWord.MADE_AS if films else CommandWord.READ
        says = row.say(profile=entry["profile"], name=entry["name"], films=films)
        options.print_row(ReportCaption.MADE, says)
    for entry in told["refused"][:_MOST]:
        since = since_refused(entry)
        says = f"{entry['say']} {entry['do']}" if since is None else since.say()
        options.print_row(ReportCaption.REFUSED, f"{entry['profile']}: {entry['name']}: {says}")


def _films_made(films: Sequence[Mapping[str, Any]]) -> list[str]:
    """The films of a job by the names of their files, and of a set in one phrase."""
    told: dict[str, list[str]] = {}
    for film in films:
        stem = (film.get("set") or {}).get("stem")
        around = film.get("folder")
        if stem is None:
            for file in film["files"]:
                told["/".join(filter(None, (around, file)))] = []
        else:
            inks = told.setdefault("/".join(filter(None, (around, stem))), [])
            inks.append(film["set"]["ink"])
    return [_set_told(name, inks) if inks else name for name, inks in told.items()]


def _set_told(name: str, inks: Sequence[str]) -> str:
    named = list(dict.fromkeys(inks))
    return CommandCount.FILMS_OF_SET.say(len(named), film_set=name, inks=", ".join(named))


def _files_told(films: Sequence[Mapping[str, Any]], *, each: bool) -> Iterator[str]:
    """A line for each file of a job, and one for each set unless `each` film is to be told."""
    sets: dict[str, list[str]] = {}
    for film in films:
        place = film.get("set") or {}
        file = film["file"] if film["there"] else CommandWord.GONE.say(file=film["file"])
        if each or place.get("stem") is None:
            yield file
        else:
            folder = film["file"].rpartition("/")[0]
            inks = sets.setdefault("/".join(filter(None, (folder, place["stem"]))), [])
            inks.append(place["ink"] if film["there"] else CommandWord.GONE.say(file=place["ink"]))
    for name, inks in sets.items():
        yield _set_told(name, inks)


def _print_more(count: int) -> None:
    if count > 0:
        options.print_row(None, CommandCount.MORE.say(count))


def _print_held(profile: Mapping[str, Any]) -> None:
    held = profile.get("held", [])[:_MOST]
    for one in held:
        row = CommandWord.HELD_FOR if one["for"] else CommandWord.HELD
        says = row.say(film=one["film"], person=one["for"], why=one["why"], until=one["until"])
        options.print_row(ReportCaption.HELD, says)
    _print_more(profile.get("held_count", 0) - len(held))


def _print_printer(printer: Mapping[str, Any]) -> None:
    why = f": {printer['why']}" if printer["why"] else ""
    click.echo(f"{printer['printer']}: {translated(str(printer['state']))}{why}")
    profiles = and_list(printer["profiles"])
    waiting = CommandCount.WAIT_FOR_PRINTER.say(printer["waiting"], profiles=profiles)
    options.print_row(ReportCaption.FILMS, waiting)
    for one in printer["printing"]:
        says, job = f"{one['profile']}: {one['film']}", one["printer_job"]
        if job is not None:
            says = CommandWord.AT_PRINTER.say(profile=one["profile"], film=one["film"], job=job)
        options.print_row(ReportCaption.AT_PRINTER, says)
    for one in printer["held"]:  # nothing to release: the printer waits for something
        options.print_row(ReportCaption.PRINTER_WAITS, f"{one['profile']}: {one['why']}")
    for profile in printer["paused"]:
        options.print_row(ReportCaption.PAUSED, f"{profile}: filmhand resume STATION {profile}")
    for one in printer["doubtful"]:
        says = f"{one['profile']}: {one['film']}: {one['why']} {one['do']}"
        options.print_row(ReportCaption.DOUBTFUL, says)
    _print_more(printer["doubtful_count"] - len(printer["doubtful"]))


def _item(item: str | Mapping[str, Any]) -> str:
    if isinstance(item, str):
        return item
    why, seconds = item["why"], item.get("in_s")
    if seconds is not None:
        why = PageWord.WAITS_ABOUT.say(why=why, time=duration_text(seconds))
    return f"{item['name']}, {why}"


@command(HelpWord.DOCTOR, "filmhand doctor /srv/films --init")
@options.with_station_or_none
@option(HelpWord.INIT, "--init", is_flag=True)
@option(HelpWord.NOTIFY, "--notify", is_flag=True)
@option(HelpWord.PRINTERS, "--printers", is_flag=True)
@options.json_option
def doctor(
    station: Station | None, *, init: bool, notify: bool, printers: bool, as_json: bool
) -> ExitCode:
    """Try all that the service needs, or list the printers of the network."""
    if printers:
        from filmhand.cli.printers import list_printers  # noqa: PLC0415

        return list_printers(as_json=as_json)
    if station is None:
        raise click.UsageError(CommandWord.NO_STATION.say())
    findings = []
    for one in station.doctor(init=init, notify=notify):
        findings.append(one.as_dict())
        if not as_json:
            options.print_line(one.level.say(), one.told())
            if one.do:
                options.print_line("", one.do)
    if as_json:
        options.print_json(findings)
    wrong = any(one["level"] == "wrong" for one in findings)
    return ExitCode.REFUSED if wrong else ExitCode.DONE


@command(HelpWord.HISTORY, "filmhand history /srv/films poster.jpg")
@options.with_station
@click.argument("name")
@option(HelpWord.EACH_FILM, "--films", is_flag=True)
@options.json_option
def history(station: Station, name: str, *, films: bool, as_json: bool) -> ExitCode:
    """Tell what happened to files of a name."""
    history_of = station.history(name)
    told = history_of.found
    if as_json:
        options.print_json(told)
    for one in told if not as_json else ():
        names = CommandWord.NAME_FOR_PROFILE.say(name=one["name"], profile=one["profile"])
        options.print_line(FileOutcome(one["outcome"]).say(), names)
        if job := one["job"]:
            says = CommandWord.JOB_AT.say(job=job, at=one["at"]) if one["at"] else job
            options.print_line("", says)
        for says in _files_told(one.get("films", []), each=films):
            options.print_line("", says)
        if one.get("say"):
            options.print_line("", f"{one['say']} {one['do']}")
    if history_of.lacks:
        options.say_error(history_of.lacks)
    if not told:
        options.say_error(CommandWord.NOTHING_KNOWN.say(name=name))
    return ExitCode.DONE if told else ExitCode.REFUSED


@command(HelpWord.RETRY, "filmhand retry /srv/films 'class 4/poster.jpg'")
@options.with_station
@click.argument("name")
def retry(station: Station, name: str) -> None:
    """Put a refused file back into its drop folder."""
    click.echo(station.retry(name))


@command(HelpWord.HEALTH, "filmhand health /srv/films --state /var/lib/filmhand")
@options.with_station
@options.json_option
def health(station: Station, *, as_json: bool) -> ExitCode:
    """Tell whether the service is alive."""
    told = station.health()
    if as_json:
        options.print_json(told)
    else:
        for line in told["wrong"] or [CommandWord.HEALTHY.say()]:
            click.echo(line)
        for line in told.get("paused", ()):
            options.print_row(ReportCaption.PAUSED, line)
    return ExitCode.DONE if told["healthy"] else ExitCode.REFUSED


@command(HelpWord.LOG, "filmhand log /srv/films --lines 200")
@options.with_station
@option(HelpWord.LINES, "--lines", type=click.IntRange(1, 100_000), default=50, show_default=True)
@options.json_option
def log(station: Station, *, lines: int, as_json: bool) -> ExitCode:
    """Tell what the service said last, in sentences."""
    from filmhand.service.log_words import event_in_words  # noqa: PLC0415

    found = station.log_lines(lines)
    if as_json:
        options.print_json(found)
    elif not found:
        options.say_error(CommandWord.NOTHING_SAID.say())
    for line in found if not as_json else ():
        click.echo(event_in_words(line))
    return ExitCode.DONE if found else ExitCode.REFUSED
