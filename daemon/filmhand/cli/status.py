"""``filmhand status``: what waits, what was made and refused, what is wrong."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.errors import ExitCode

if TYPE_CHECKING:
    from filmhand.service import Station


@click.command(epilog=options.example("filmhand status /srv/films --json"))
@options.with_station
@options.json_option
def status(station: Station, *, as_json: bool) -> ExitCode:
    """Tell what waits in STATION, what was made and refused, and what is wrong."""
    told = station.status()
    if as_json:
        options.print_json(told)
    else:
        print_status(told)
    return ExitCode.DONE if told["running"] else ExitCode.NOT_RUNNING


_MOST = 20


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
    for entry in told["made"][:_MOST]:
        films = ", ".join(file for film in entry["films"] for file in film["files"])
        options.print_row("made", f"{entry['profile']}: {entry['name']} as {films}")
    for entry in told["refused"][:_MOST]:
        options.print_row(
            "refused", f"{entry['profile']}: {entry['name']}: {entry['say']} {entry['do']}"
        )


def _item(item: str | Mapping[str, Any]) -> str:
    if isinstance(item, str):
        return item
    return ", ".join(str(value) for value in item.values() if value not in (None, ""))
