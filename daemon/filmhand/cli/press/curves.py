"""``filmhand curves``: the press curves that a profile was read to have, over time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.press.curve_report_words import CurveReportWord
from filmhand.disk.file_names import shown

if TYPE_CHECKING:
    from filmhand.profile.terms import GainCurve
    from filmhand.service.kept_curves import KeptCurve
    from filmhand.service.station import Station

_LEAST, _MOST = 30, 90  # print tones of 50 % between which the drift is drawn
_COLUMNS = 31


@command(HelpWord.CURVES, "filmhand curves /srv/films small-sheet")
@options.with_station
@click.argument("profile")
@option(HelpWord.PLOT, "--plot", type=options.PATH)
@options.json_option
def curves(station: Station, profile: str, *, plot: Path | None, as_json: bool) -> None:
    """Tell of every curve that was read, the oldest first."""
    from filmhand.service.kept_curves import curve_told  # noqa: PLC0415

    kept = station.curves(profile)
    told = [curve_told(one) for one in kept]
    if as_json:
        options.print_json(told)
    else:
        for line in curve_lines(told):
            click.echo(line)
    if plot is not None:
        for written in _write_plots(plot, profile, kept):
            if not as_json:
                click.echo(written)


def curve_lines(told: Sequence[dict[str, Any]]) -> Iterator[str]:
    """The report, a line a curve: its date, what 50 % prints, drawn too, and what it held."""
    if not told:
        yield CurveReportWord.NONE_YET.say()
        return
    rows = [one for one in told if one["fault"] is None]
    if rows:
        yield CurveReportWord.HEAD.say()
    for one in rows:
        held = one["smallest_held_um"]["dot"]
        size = "-" if held is None else f"{held:.0f}"
        end = f"  {CurveReportWord.IN_FORCE.say()}" if one["in_force"] else ""
        at_50 = one["print_at_50"]
        date = one["date"] or one["name"].rpartition("/")[2][:10]
        yield f"{date:10}  {at_50:5.1f}  {_drawn(at_50)}  {size:>5}  {shown(one['name'])}{end}"
    for one in told:
        if one["fault"] is not None:
            yield one["fault"]


def _drawn(at_50: float) -> str:
    """Where a tone lies between the ends, with a line at 50 %."""

    def column(tone: float) -> int:
        share = (tone - _LEAST) / (_MOST - _LEAST)
        return round(min(max(share, 0.0), 1.0) * (_COLUMNS - 1))

    line = ["."] * _COLUMNS
    line[column(50)] = "|"
    line[column(at_50)] = "*"
    return "".join(line)


def _write_plots(plot: Path, profile: str, kept: Sequence[KeptCurve]) -> Iterator[Path]:
    """Draw the profile's own curves over one another, and beside that those of each ink."""
    from filmhand.cli.make import replace_file  # noqa: PLC0415
    from filmhand.page.curve_plot import PlottedCurve, plot_curves  # noqa: PLC0415

    presses: dict[str, list[GainCurve]] = {}
    for one in kept:
        if one.curve is not None:
            presses.setdefault(one.ink, []).append(one.curve)
    if not presses:
        options.say_error(CurveReportWord.NONE_YET.say())
    for ink, read in presses.items():
        *older, newest = [PlottedCurve(curve.points) for curve in read]
        head = read[-1].head
        called = ", ".join(filter(None, (ink, profile, head.date)))
        lines = [called, ", ".join(filter(None, (head.mesh, head.screen)))]
        place = plot.with_stem(f"{plot.stem}-{ink}") if ink else plot
        replace_file(place, plot_curves(newest, lines=lines, older=older))
        yield place
