"""``filmhand check``: what each profile gives, and what its mesh holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import ceil, floor
from pathlib import Path
from typing import Any

import click

from filmhand.cli import options
from filmhand.errors import ExitCode, ProfileError
from filmhand.units import MM_PER_INCH

_MIDDLE = 50  # the tone that a sentence tells of
_TOLD = 0.5  # points between what can be printed and bare or solid that are worth telling


@click.command(epilog=options.example("filmhand check profiles/small-sheet.yaml --more"))
@click.argument("files", type=options.PATH, nargs=-1, required=True, metavar="FILE...")
@click.option("--more", is_flag=True, help="Tell of each profile all that is known.")
@options.json_option
def check(files: Sequence[Path], *, more: bool, as_json: bool) -> ExitCode:
    """Read profiles; print the screen that each gives, and what its mesh holds.

    FILE may be a folder of profiles. Of one profile the main figures are told, of several a table.
    """
    from filmhand.pipeline.profile_report import describe_profile  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    every = list(_profiles_in(files))
    described = []
    for file in options.with_progress(every, "reading profiles", len(every), quiet=as_json):
        try:
            described.append(describe_profile(load_profile(file)))
        except ProfileError as error:
            options.say_faults(error.faulty)
    if as_json:
        options.print_json(described)
    elif more:
        for told in described:
            print_profile(told)
    elif len(every) > 1:
        print_table(described)
    elif described:
        print_in_short(described[0], every[0])
    return ExitCode.PROFILE if len(described) < len(every) else ExitCode.DONE


def _profiles_in(places: Sequence[Path]) -> Iterator[Path]:
    """The files themselves, and the profiles of each folder."""
    from filmhand.profile.read.load import PROFILE_SUFFIXES, profile_files  # noqa: PLC0415

    for place in places:
        if not place.is_dir():
            yield place
            continue
        inside = profile_files(place)
        if not inside:
            raise click.UsageError(
                f"There is no profile in the folder {place}: profiles end in "
                f"{' or '.join(PROFILE_SUFFIXES)}. filmhand new-profile writes one."
            )
        yield from inside


def print_table(several: Sequence[Mapping[str, Any]]) -> None:
    """Several profiles, a line each, and below them what they warn of."""
    head = ("profile", "sheet, in", "dpi", "mesh", "lpi", "angle", "tones, %", "warns")
    rows = [_table_row(told) for told in several]
    widths = [max(len(row[n]) for row in [head, *rows]) for n in range(len(head))]
    for row in [head, *rows]:
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        click.echo(line.rstrip())
    for told in several:
        for warning in told["warnings"]:
            click.echo(f"{told['name']}:")
            options.print_row("", warning)
    click.echo("Tell more of one with: filmhand check FILE")


def _table_row(told: Mapping[str, Any]) -> tuple[str, ...]:
    screen, holds = told["screen"], told["holds"]
    lpi, angle = ("line art", "") if screen is None else _asked(screen)
    tones = ""
    if screen is not None and holds is not None:
        tones = _tones(holds).removeprefix("tones ").removesuffix(" %").replace(" to ", "-")
    return (
        told["name"],
        " x ".join(f"{side / MM_PER_INCH:.4g}" for side in told["sheet_mm"]),
        options.dpi_text(told["dpi"]).replace(" ", ""),
        "none" if told["mesh"] is None else told["mesh"]["label"],
        lpi,
        angle,
        "none" if tones.startswith("no ") else tones,
        str(len(told["warnings"]) or "no"),
    )


def _asked(screen: Mapping[str, Any]) -> tuple[str, str]:
    angle = "" if screen["angle_made"] is None else f"{screen['angle_asked']:g}"
    return f"{screen['lpi_asked']:g}", angle


_SCREEN = 22  # rows of a terminal of 24, without the name above and the prompt below


def print_in_short(told: Mapping[str, Any], file: Path) -> None:
    """One profile on one screen: every warning, and of the figures as many as there is room for."""
    kept = [*_main_rows(told), ("more", f"filmhand check {file} --more")]
    for dropped in ("less at", "tone", "tones at", "moire", "frame"):
        if sum(len(options.row_lines(*row)) for row in kept) <= _SCREEN:
            break
        kept = [row for row in kept if row[0] != dropped]
    click.echo(told["name"])
    for row in kept:
        options.print_row(*row)


def _main_rows(told: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    screen, mesh = told["screen"], told["mesh"]
    dpi = options.dpi_text(told["dpi"])
    yield "sheet", f"{told['sheet']}, {dpi} dpi"
    if told["scale_pct"] != [100.0, 100.0]:
        yield "scale", _scale_text(told["scale_pct"])
    if told["frame"] is not None:
        yield "frame", _frame_text(told["frame"])
    if screen is None:
        yield "screen", "none: line art only"
    else:
        lpi, angle = _asked(screen)
        turned = f" at {angle} degrees" if angle else ""
        sizes = f"a dot can take {screen['levels']} sizes"
        yield "screen", f"{lpi} lpi{turned}, {screen['dot']}, {sizes}"
    if mesh is None:
        yield "mesh", "none: films are not judged"
    else:
        count = mesh["threads_per_cm"]
        thread = ", thread assumed" if mesh["assumed"] else ""
        yield (
            "mesh",
            f"{mesh['label']}{thread}, opening {mesh['opening_um']:g} µm: "
            f"{count * MM_PER_INCH / 10:.0f} threads an inch, {count:g} a cm",
        )
    if told["holds"] is not None:
        yield from _main_limits(told["holds"], screened=screen is not None)
    yield from _main_bands(told)
    if told["press"] is not None:
        yield "tone", _middle_tone(told["press"])
    if told["workers"] != "own":
        yield "made by", f"the cluster at {told['workers']}"
    for warning in told["warnings"] or ["none"]:
        yield "warning", warning


def _main_limits(holds: Mapping[str, Any], *, screened: bool) -> Iterator[tuple[str, str]]:
    """What the mesh holds at the profile's ruling, and the tones at others in one row."""
    things = ("dot", "shadow_dot") if screened else ("stroke", "gap")
    size = "smallest" if screened else "narrowest"
    first, second = (ceil(holds[f"{size}_{thing}_um"]) for thing in things)
    one, other = (f"{thing.replace('_', ' ')}s" for thing in things)
    sizes = f"{one} from {first} µm, {other} from {second} µm"
    if first == second:
        sizes = f"{one} and {other} from {first} µm"
    if not screened:
        yield "holds", sizes
        return
    yield "holds", f"{sizes}, {_tones(holds)}"
    if holds["best_lpi"] is not None:
        yield "finest", f"{floor(holds['best_lpi'])} lpi is advisable on this mesh"
    held = [part for part in holds["by_lpi"] if part["tone_min_pct"] is not None]
    if held:
        rulings = (
            f"{part['lpi']:g} lpi {ceil(part['tone_min_pct'])}-{floor(part['tone_max_pct'])} %"
            for part in held
        )
        yield "tones at", ", ".join(one.replace(" ", "\xa0") for one in rulings)


def _main_bands(told: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """The bands that are seen most, and what makes less of them."""
    if told["bands"]:
        bands = told["bands"][0]
        apart, visible = f"{bands['period_mm']:.1f} mm", f"{bands['visibility']:.2g}"
        yield "moire", f"seen most: bands {apart} apart, visibility {visible}"
    changes: dict[str, list[str]] = {}
    for offer in told["less_moire"]:
        changes.setdefault(offer["change"].replace("_", " "), []).append(f"{offer['value']:g}")
    if changes:
        ways = (f"{change} {' or '.join(values)}" for change, values in changes.items())
        yield "less at", "; ".join(ways)


def _frame_text(frame: Mapping[str, Any]) -> str:
    inside, prints = (
        f"{two[0]:g} x {two[1]:g} mm" for two in (frame["inside_mm"], frame["prints_mm"])
    )
    return f"{inside} inside, prints at most {prints}"


def _middle_tone(press: Mapping[str, Any]) -> str:
    middle = next(tone for tone in press["tones"] if tone["art_pct"] == _MIDDLE)
    return (
        f"{_MIDDLE} % in the art is {middle['film_pct']:.0f} % on the film and "
        f"{middle['print_pct']:.0f} % in print"
    )


def _scale_text(scale: Sequence[float]) -> str:
    across, down = scale
    return f"{across:g} % across, {down:g} % down: taken off, so lengths are right on film"


def print_profile(told: Mapping[str, Any]) -> None:
    """All of one profile, as ``filmhand check --more`` tells it."""
    pixels = told["sheet_px"]
    click.echo(f"{told['name']}")
    options.print_row(
        "sheet",
        f"{told['sheet']}, {pixels[0]} x {pixels[1]} px, {options.dpi_text(told['dpi'])} dpi",
    )
    if told["scale_pct"] != [100.0, 100.0]:
        options.print_row("scale", _scale_text(told["scale_pct"]))
    if told["frame"] is not None:
        options.print_row("frame", _frame_text(told["frame"]))
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
    options.print_row("", _middle_tone(press))
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
