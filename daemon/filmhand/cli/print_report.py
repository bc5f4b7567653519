"""Reports for a person at a terminal."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping
from typing import Any

import click

_MOST = 20


def print_profile(told: Mapping[str, Any]) -> None:
    """One profile of ``filmhand check``."""
    sheet, pixels = told["sheet_mm"], told["sheet_px"]
    click.echo(f"{told['name']}")
    _row(
        "sheet",
        f"{sheet[0]:g} x {sheet[1]:g} mm, {pixels[0]} x {pixels[1]} px, {_dpi(told['dpi'])} dpi",
    )
    screen, mesh, holds, beat = told["screen"], told["mesh"], told["holds"], told["beat"]
    if screen is None:
        _row("screen", "none: line art only")
    else:
        _row(
            "screen",
            f"{screen['lpi_made']:.3f} lpi (asked {screen['lpi_asked']:g}), "
            + ("no angle" if screen["angle_made"] is None else f"{screen['angle_made']:.3f} deg")
            + f" (asked {screen['angle_asked']:g}), {screen['dot']}, "
            f"a dot can take {screen['levels']} sizes",
        )
    if mesh is None:
        _row("mesh", "none: films are not judged")
    else:
        _row(
            "mesh",
            f"{mesh['label']}, opening {mesh['opening_um']:g} um, "
            f"open area {mesh['open_area_pct']:g} %",
        )
    if holds is not None:
        tones = ""
        if holds["tone_min_pct"] is not None:
            tones = f", tones {holds['tone_min_pct']:.1f} to {holds['tone_max_pct']:.1f} %"
            if holds["tone_min_pct"] >= holds["tone_max_pct"]:
                tones = ", no tone that it prints evenly at this lpi"
        _row(
            "holds",
            f"dots from {holds['smallest_dot_um']:.0f} um, holes from "
            f"{holds['smallest_hole_um']:.0f} um{tones}; finest advisable ruling "
            f"{holds['best_lpi']:.0f} lpi",
        )
    if beat is not None:
        angles = ", ".join(f"{angle:g}" for angle in beat["better_angles"])
        _row(
            "beat",
            f"{beat['period_mm']:.1f} mm slack, {beat['worst_period_mm']:.1f} mm at worst "
            f"while stretched" + (f"; less at {angles} deg" if angles else ""),
        )
    _row("tone", told["tone"])
    for warning in told["warnings"]:
        _row("warning", warning)
    click.echo()


def print_measured(told: Mapping[str, Any]) -> None:
    """The report of ``filmhand measure``."""
    sheet = told["sheet_mm"]
    _row(
        "sheet",
        f"{told['width_px']} x {told['height_px']} px at {_dpi(told['dpi'])} dpi, "
        f"{sheet[0]:g} x {sheet[1]:g} mm",
    )
    _row("coverage", f"{told['coverage_pct']:.3f} %")
    if told["lpi"] is None:
        _row("screen", "none found")
    else:
        _row("screen", f"{told['screen']}, {told['lpi']:.3f} lpi at {told['angle']:.3f} deg")
    for name in ("dots", "holes"):
        part = told[name]
        text = "none"
        if part["count"]:
            text = (
                f"{part['count']}, smallest {part['smallest_um']:g} um, "
                f"median {part['median_um']:g} um"
            )
        _row(name, text)
    _row("strokes", f"narrowest {told['narrowest_stroke_um']:g} um")
    _row("gaps", f"narrowest {told['narrowest_gap_um']:g} um")
    for check in told.get("checks", []):
        limit = check["fail_limit"] if check["fail_limit"] is not None else check["warn_limit"]
        measured = (
            "nothing to measure"
            if check["measured"] is None
            else (f"{check['measured']:g} {check['unit']}")
        )
        _row(check["verdict"], f"{check['name']}: {measured} (limit {limit:g})")


def print_status(told: Mapping[str, Any]) -> None:
    """The report of ``filmhand status``."""
    counts = told["counts"]
    click.echo("running" if told["running"] else "not running")
    _row("counts", ", ".join(f"{value} {key}" for key, value in counts.items()))
    for fault in told["faults"]:
        _row("fault", fault if isinstance(fault, str) else json.dumps(fault))
    for part in told["profiles"]:
        click.echo(f"{part['name']}: {part['paused'] or part['state']}")
        for key in ("working", "waiting", "left_alone"):
            for item in part[key][:_MOST]:
                _row(key.replace("_", " "), _item(item))
            if len(part[key]) > _MOST:
                _row("", f"and {len(part[key]) - _MOST} more")
    for entry in told["made"][:_MOST]:
        stems = ", ".join(film["stem"] for film in entry["films"])
        _row("made", f"{entry['profile']}: {entry['name']} as {stems}")
    for entry in told["refused"][:_MOST]:
        _row("refused", f"{entry['profile']}: {entry['name']}: {entry['say']} {entry['do']}")


def _item(item: str | Mapping[str, Any]) -> str:
    if isinstance(item, str):
        return item
    return ", ".join(str(value) for value in item.values() if value not in (None, ""))


def _dpi(pair: list[int]) -> str:
    return str(pair[0]) if pair[0] == pair[1] else f"{pair[0]} x {pair[1]}"


def _row(name: str, text: str) -> None:
    lines = textwrap.wrap(text, 78) or [""]
    click.echo(f"  {name:9} {lines[0]}")
    for line in lines[1:]:
        click.echo(f"  {'':9} {line}")
