"""Reports for a person at a terminal."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping
from typing import Any

import click

_MOST = 20
# What the report of a beat gives for dots and threads in step.
_ENDLESS_MM = 1000


def print_profile(told: Mapping[str, Any]) -> None:
    """One profile of ``filmhand check``."""
    sheet, pixels = told["sheet_mm"], told["sheet_px"]
    click.echo(f"{told['name']}")
    _row(
        "sheet",
        f"{sheet[0]:g} x {sheet[1]:g} mm, {pixels[0]} x {pixels[1]} px, {_dpi(told['dpi'])} dpi",
    )
    screen, mesh, holds, moire = told["screen"], told["mesh"], told["holds"], told["moire"]
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
        _print_mesh(mesh)
    if holds is not None:
        _print_holds(holds)
    if moire["period_mm"] is not None:
        _print_moire(moire)
    _row("tone", told["tone"])
    if told["workers"] != "own":
        _row("made by", f"the cluster at {told['workers']}")
    for warning in told["warnings"]:
        _row("warning", warning)
    click.echo()


def _print_mesh(mesh: Mapping[str, Any]) -> None:
    stretch = mesh["stretch_pct"]
    _row(
        "mesh",
        f"{mesh['label']}{' (thread assumed)' if mesh['assumed'] else ''}, opening "
        f"{mesh['opening_um']:g} µm, open area {mesh['open_area_pct']:g} %, thickness "
        f"{mesh['thickness_um']:g} µm, ink volume {mesh['ink_volume_cm3_m2']:g} cm3/m2"
        + ("" if stretch is None else f", stretched {stretch:g} %"),
    )


def _print_holds(holds: Mapping[str, Any]) -> None:
    best = holds["best_lpi"]
    _row(
        "holds",
        f"dots from {holds['smallest_dot_um']:.0f} µm, shadow dots from "
        f"{holds['smallest_shadow_dot_um']:.0f} µm"
        + ("" if holds["tone_min_pct"] is None else f", {_tones(holds)}")
        + ("" if best is None else f"; finest advisable ruling {best:.0f} lpi"),
    )
    for place, part in enumerate(holds["by_lpi"]):
        _row(
            "" if place else "by lpi",
            f"{part['lpi']:5g} lpi  {part['ratio']:5.2f} : 1  {_tones(part)}",
        )


def _tones(part: Mapping[str, Any]) -> str:
    if part["tone_min_pct"] >= part["tone_max_pct"]:
        return "no tone that prints evenly"
    return f"tones {part['tone_min_pct']:.1f} to {part['tone_max_pct']:.1f} %"


def _print_moire(beat: Mapping[str, Any]) -> None:
    orders = "/".join(",".join(str(n) for n in beat[key]) for key in ("mesh_order", "dot_order"))
    _row(
        "moire",
        f"{_period(beat['period_mm'])} slack, {_period(beat['worst_period_mm'])} at worst while "
        f"stretched, changing the ink by up to {beat['modulation_pct']:.1f} % (mesh/dot order "
        f"{orders})",
    )
    for key, value, name in (
        ("angles", "angle", "angle"),
        ("rulings", "lpi", "lpi"),
        ("mesh_angles", "mesh_angle", "mesh angle"),
    ):
        for place, choice in enumerate(beat[key]):
            _row(
                "" if place else "less at",
                f"{name} {choice[value]:g}: {_period(choice['worst_period_mm'])} at worst, "
                f"{choice['modulation_pct']:.1f} % of the ink, "
                + ("passes" if choice["passes"] else "still warns"),
            )


def _period(mm: float) -> str:
    return f"over {mm:.0f} mm" if mm >= _ENDLESS_MM else f"{mm:.1f} mm"


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
    for name in ("dots", "shadow dots"):
        part = told[name.replace(" ", "_")]
        text = "none"
        if part["count"]:
            text = (
                f"{part['count']}, smallest {part['smallest_um']:g} µm, "
                f"median {part['median_um']:g} µm"
            )
        _row(name, text)
    _row("strokes", f"narrowest {told['narrowest_stroke_um']:g} µm")
    _row("gaps", f"narrowest {told['narrowest_gap_um']:g} µm")
    for check in told.get("checks", []):
        limit = check["fail_limit"] if check["verdict"] == "fail" else check["warn_limit"]
        measured = (
            "nothing to measure"
            if check["measured"] is None
            else (f"{check['measured']:g} {check['unit'].replace('um', 'µm')}")
        )
        _row(check["verdict"], f"{check['name']}: {measured} (limit {limit:g})")
    for note in told.get("notes", []):
        _row("note", note)
    for spot in told.get("worst", []):
        _row(
            "worst",
            f"{spot['what']} of {spot['width_um']:g} µm at {spot['x_mm']:g} x {spot['y_mm']:g} mm "
            "from the sheet's top left corner",
        )


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
        films = ", ".join(file for film in entry["films"] for file in film["files"])
        _row("made", f"{entry['profile']}: {entry['name']} as {films}")
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
