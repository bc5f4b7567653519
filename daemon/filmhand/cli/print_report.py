"""Reports for a person at a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

import click


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
            f"{screen['angle_made']:.3f} deg (asked {screen['angle_asked']:g}), {screen['dot']}, "
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
    click.echo("running" if told["running"] else "not running")
    for name, part in told["profiles"].items():
        click.echo(name)
        for key, value in part.items():
            if value in (None, [], {}, ""):
                continue
            if isinstance(value, list):
                _row(key, f"{len(value)}")
                for item in value[:20]:
                    text = (
                        item
                        if isinstance(item, str)
                        else ", ".join(f"{v}" for v in item.values() if v not in (None, ""))
                    )
                    click.echo(f"    {text}")
            else:
                _row(key, str(value))
    for fault in told.get("faults", []):
        _row("fault", str(fault))


def _dpi(pair: list[int]) -> str:
    return str(pair[0]) if pair[0] == pair[1] else f"{pair[0]} x {pair[1]}"


def _row(name: str, text: str) -> None:
    lines = textwrap.wrap(text, 78) or [""]
    click.echo(f"  {name:9} {lines[0]}")
    for line in lines[1:]:
        click.echo(f"  {'':9} {line}")
