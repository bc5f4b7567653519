"""``filmhand check``: what each profile gives, and what its mesh holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil, floor
from pathlib import Path
from typing import Any

import click

from filmhand.cli import options
from filmhand.errors import ExitCode, ProfileError

_MIDDLE = 50  # the tone that a sentence tells of
_TOLD = 0.5  # points between what can be printed and bare or solid that are worth telling


@click.command(epilog=options.example("filmhand check profiles/*.yaml"))
@click.argument("files", type=options.PATH, nargs=-1, required=True, metavar="FILE...")
@options.json_option
def check(files: Sequence[Path], *, as_json: bool) -> ExitCode:
    """Read profiles; print the screen that each gives, and what its mesh holds."""
    from filmhand.pipeline.profile_report import describe_profile  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    described = []
    faulty = False
    for file in files:
        try:
            described.append(describe_profile(load_profile(file)))
        except ProfileError as error:
            faulty = True
            options.say_faults(error.faulty)
            continue
        if not as_json:
            print_profile(described[-1])
    if as_json:
        options.print_json(described)
    return ExitCode.PROFILE if faulty else ExitCode.DONE


def print_profile(told: Mapping[str, Any]) -> None:
    """One profile of ``filmhand check``."""
    sheet, pixels = told["sheet_mm"], told["sheet_px"]
    click.echo(f"{told['name']}")
    options.print_row(
        "sheet",
        f"{sheet[0]:g} x {sheet[1]:g} mm, {pixels[0]} x {pixels[1]} px, "
        f"{options.dpi_text(told['dpi'])} dpi",
    )
    screen, mesh, holds, moire = told["screen"], told["mesh"], told["holds"], told["moire"]
    if screen is None:
        options.print_row("screen", "none: line art only")
    else:
        options.print_row(
            "screen",
            f"{screen['lpi_made']:.3f} lpi (asked {screen['lpi_asked']:g}), "
            + ("no angle" if screen["angle_made"] is None else f"{screen['angle_made']:.3f} deg")
            + f" (asked {screen['angle_asked']:g}), {screen['dot']}, "
            f"a dot can take {screen['levels']} sizes",
        )
    if mesh is None:
        options.print_row("mesh", "none: films are not judged")
    else:
        _print_mesh(mesh)
    if holds is not None:
        _print_holds(holds, screened=screen is not None)
    if moire["period_mm"] is not None:
        _print_moire(told)
    options.print_row("tone", told["tone"])
    if told["press"] is not None:
        _print_tones(told["press"])
    if told["workers"] != "own":
        options.print_row("made by", f"the cluster at {told['workers']}")
    for warning in told["warnings"]:
        options.print_row("warning", warning)
    click.echo()


def _print_mesh(mesh: Mapping[str, Any]) -> None:
    stretch = mesh["stretch_pct"]
    options.print_row(
        "mesh",
        f"{mesh['label']}{', thread assumed' if mesh['assumed'] else ''}, opening "
        f"{mesh['opening_um']:g} µm, open area {mesh['open_area_pct']:g} %, thickness "
        f"{mesh['thickness_um']:g} µm, ink volume {mesh['ink_volume_cm3_m2']:g} cm3/m2"
        + ("" if stretch is None else f", stretched {stretch:g} %"),
    )


def _print_holds(holds: Mapping[str, Any], *, screened: bool) -> None:
    """What the mesh holds, rounded to the side on which it still does."""
    best = holds["best_lpi"]
    options.print_row(
        "holds",
        f"dots from {ceil(holds['smallest_dot_um'])} µm, shadow dots from "
        f"{ceil(holds['smallest_shadow_dot_um'])} µm"
        + (f", {_tones(holds)}" if screened else "")
        + ("" if best is None else f"; finest advisable ruling {floor(best)} lpi"),
    )
    for place, part in enumerate(holds["by_lpi"]):
        options.print_row(
            "" if place else "by lpi",
            f"{part['lpi']:5g} lpi  {part['ratio']:5.2f} : 1  {_tones(part)}",
        )


def _tones(part: Mapping[str, Any]) -> str:
    if part["tone_min_pct"] is None:
        return "no tone that prints evenly"
    low, high = ceil(part["tone_min_pct"] * 10) / 10, floor(part["tone_max_pct"] * 10) / 10
    return f"tones {low:.1f} to {high:.1f} %"


def _print_tones(press: Mapping[str, Any]) -> None:
    """What the art's tones become on film and in print."""
    tones = press["tones"]
    middle = next(tone for tone in tones if tone["art_pct"] == _MIDDLE)
    options.print_row(
        "",
        f"{_MIDDLE} % in the art is {middle['film_pct']:.0f} % on the film and "
        f"{middle['print_pct']:.0f} % in print",
    )
    for what, key in (("art", "art_pct"), ("film", "film_pct"), ("print", "print_pct")):
        row = "".join(f"{tone[key]:6.0f}" for tone in tones)
        options.print_row("", f"{what + ' %':8}{row}")
    low, high = press["reach_pct"]
    beyond = [f"lighter than {low:g} %"] * (low >= _TOLD) + [f"darker than {high:g} %"] * (
        high <= 100 - _TOLD
    )
    if beyond:
        options.print_row(
            "",
            f"no film of this profile prints {' or '.join(beyond)}, but for bare and solid "
            "(tone.hold)",
        )


def _print_moire(told: Mapping[str, Any]) -> None:
    for place, bands in enumerate(told["bands"]):
        orders = "/".join(",".join(str(n) for n in bands[f"{of}_order"]) for of in ("mesh", "dot"))
        options.print_row(
            "" if place else "moire",
            f"bands {bands['period_mm']:.1f} mm apart at {bands['direction']:.0f} deg, changing "
            f"the ink by {bands['strength_pct']:.1f} %, visibility {bands['visibility']:.2g}, at "
            f"{bands['stretch_pct']:.1f} % stretch (mesh/dot order {orders})",
        )
    for place, offer in enumerate(told["less_moire"]):
        finer = offer["sharpness_pct"]
        options.print_row(
            "" if place else "less at",
            f"{offer['change'].replace('_', ' ')} {offer['value']:g}: visibility "
            f"{offer['visibility']:.2g}, bands {offer['worst_period_mm']:.1f} mm apart changing "
            f"the ink by {offer['strength_pct']:.1f} %, "
            + (
                "as sharp"
                if not finer
                else f"{abs(finer):.0f} % {'finer' if finer > 0 else 'softer'}"
            )
            + ("" if offer["passes"] else "; still warns"),
        )
