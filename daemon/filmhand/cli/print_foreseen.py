"""The report of ``filmhand foresee`` for a person at a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

import click


def print_foreseen(told: Mapping[str, Any]) -> None:
    """What a film is expected to print, and where the picture of it is."""
    press = told["press"]
    _row(
        "mesh",
        f"{told['mesh']} at {press['mesh_angle']:g} deg; light takes {press['undercut_um']:g} µm "
        f"off every edge, ink spreads {press['spread_um']:g} µm",
    )
    _row("coverage", f"film {told['film_pct']:.1f} %, print {told['print_pct']:.1f} %")
    for name, word in (("dots", "lost"), ("shadow_dots", "filled")):
        part = told[name]
        share = f" ({part[f'{word}_pct']:g} %)" if part[word] else ""
        _row(name.replace("_", " "), f"{part['count']}, {part[word]} {word}{share}")
    bands = told["bands"]
    if told["flats"] is None:
        _row("bands", "not looked for: no screen was found on the film")
    elif bands is None:
        _row("bands", "none that would show")
    else:
        _row(
            "bands",
            f"every {bands['period_mm']:.1f} mm, running at {bands['direction']:.0f} deg, "
            f"{bands['change_points']:.1f} tone points up and down at {bands['tone_pct']:g} %",
        )
    _curve(told)
    _row("picture", told["picture"])


def _curve(told: Mapping[str, Any]) -> None:
    """The tone curve: one row for what the film has itself, one for what was printed aside."""
    sources = (
        ("film", "tones, film to print, measured on this film"),
        ("flats", f"tones, film to print, of flats of {told['flats']}"),
    )
    for source, what in sources:
        pairs = [
            f"{point['film_pct']:.0f} to {point['print_pct']:.0f}"
            for point in told["curve"]
            if point["from"] == source
        ]
        if pairs:
            _row("tone", f"{what}: {', '.join(pairs)}")


def _row(name: str, text: str) -> None:
    lines = textwrap.wrap(text, 76) or [""]
    click.echo(f"  {name:11} {lines[0]}")
    for line in lines[1:]:
        click.echo(f"  {'':11} {line}")
