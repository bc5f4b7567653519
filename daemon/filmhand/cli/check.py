"""``filmhand check``: what each profile gives, and what its mesh holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from math import ceil, floor
from pathlib import Path
from textwrap import wrap
from typing import Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.report_words import ReportCaption, ReportWord, TableHead
from filmhand.errors import ExitCode, ProfileError
from filmhand.language import or_list
from filmhand.units import MM_PER_INCH, SheetSize, length_text, size_text

_MIDDLE = 50  # the tone that a sentence tells of
_TOLD = 0.5  # points between what can be printed and bare or solid that are worth telling
_CHANGES = {"angle": ReportWord.ANGLE, "lpi": ReportWord.LPI, "mesh_angle": ReportWord.MESH_ANGLE}
_KEYS = {"angle": "angle: {}", "lpi": "lpi: {}", "mesh_angle": "press: {{mesh_angle: {}}}"}

Row = tuple[ReportCaption, str]


@command(HelpWord.CHECK, "filmhand check profiles/small-sheet.yaml --more")
@click.argument("files", type=options.PATH, nargs=-1, required=True, metavar="FILE...")
@option(HelpWord.ALL_OF_IT, "--more", is_flag=True)
@options.json_option
def check(files: Sequence[Path], *, more: bool, as_json: bool) -> ExitCode:
    """Tell of one profile the main figures, of several a table."""
    from filmhand.pipeline.profile_report import describe_profile  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415

    every = list(_profiles_in(files))
    described = []
    for file in options.with_progress(
        every, CommandWord.READING_PROFILES, len(every), quiet=as_json
    ):
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
                CommandWord.NO_PROFILE_IN.say(folder=place, endings=or_list(PROFILE_SUFFIXES))
            )
        yield from inside


def print_table(several: Sequence[Mapping[str, Any]]) -> None:
    """Several profiles, two lines each at most, and below them what they warn of."""
    head = (
        TableHead.PROFILE,
        TableHead.SHEET,
        TableHead.MESH,
        TableHead.SCREEN,
        TableHead.TONES,
        TableHead.WARNS,
    )
    rows = [tuple((caption.say(),) for caption in head), *map(_table_row, several)]
    widths = [
        max(len(line) for cell in column for line in cell) for column in zip(*rows, strict=True)
    ]
    for row in rows:
        for cells in zip_longest(*row, fillvalue=""):
            line = "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
            click.echo(line.rstrip())
    for told in several:
        for warning in told["warnings"]:
            click.echo(f"{told['name']}:")
            options.print_row(None, warning)
    click.echo(TableHead.MORE_OF_ONE.say())


def _table_row(told: Mapping[str, Any]) -> tuple[tuple[str, ...], ...]:
    """The cells, each with its lines."""
    screen, holds = told["screen"], told["holds"]
    size = told["sheet"].replace(" ", "\xa0").replace("\xa0(", " (")
    dpi = TableHead.DPI.say(dpi=options.dpi_text(told["dpi"]))
    tones = ""
    if screen is not None and holds is not None:
        tones = TableHead.NONE.say() if holds["tone_min_pct"] is None else _whole_tones(holds)
    return (
        (told["name"],),
        tuple(line.replace("\xa0", " ") for line in wrap(size, 20)),
        (TableHead.NONE.say() if told["mesh"] is None else told["mesh"]["label"],),
        (_screen_cell(screen), dpi),
        (tones,),
        (str(len(told["warnings"])) if told["warnings"] else TableHead.NO.say(),),
    )


def _screen_cell(screen: Mapping[str, Any] | None) -> str:
    if screen is None:
        return TableHead.LINE_ART.say()
    lpi = f"{screen['lpi_asked']:g}"
    if screen["angle_made"] is None:
        return TableHead.LPI.say(lpi=lpi)
    return TableHead.LPI_AT.say(lpi=lpi, angle=f"{screen['angle_asked']:g}")


def _whole_tones(part: Mapping[str, Any]) -> str:
    return f"{ceil(part['tone_min_pct'])}-{floor(part['tone_max_pct'])} %"


_SCREEN = 22  # rows of a terminal of 24, without the name above and the prompt below


def print_in_short(told: Mapping[str, Any], file: Path) -> None:
    """One profile on one screen: every warning, and of the figures as many as there is room for."""
    kept = [*_main_rows(told), (ReportCaption.MORE, f"filmhand check {file} --more")]
    for dropped in (
        ReportCaption.LESS_AT,
        ReportCaption.TONE,
        ReportCaption.TONES_AT,
        ReportCaption.MOIRE,
        ReportCaption.FRAME,
    ):
        if sum(len(options.row_lines(*row)) for row in kept) <= _SCREEN:
            break
        kept = [row for row in kept if row[0] is not dropped]
    click.echo(told["name"])
    for row in kept:
        options.print_row(*row)


def _main_rows(told: Mapping[str, Any]) -> Iterator[Row]:
    dpi = options.dpi_text(told["dpi"])
    yield ReportCaption.SHEET, ReportWord.SHEET.say(size=told["sheet"], dpi=dpi)
    yield from _scale_and_frame(told)
    screen = told["screen"]
    yield ReportCaption.SCREEN, ReportWord.NO_SCREEN.say() if screen is None else _screen(screen)
    yield from _set(told["set"])
    yield ReportCaption.MESH, _mesh(told["mesh"])
    if told["holds"] is not None:
        yield from _main_limits(told["holds"], screened=screen is not None)
        yield from ((ReportCaption.MEASURED, said) for said in told["holds"]["measured"])
    yield from _main_bands(told)
    if told["press"] is not None:
        yield ReportCaption.TONE, _middle_tone(told["press"])
    yield from _cluster_and_warnings(told)
    if not told["warnings"]:
        yield ReportCaption.WARNING, ReportWord.NONE.say()


def _scale_and_frame(told: Mapping[str, Any]) -> Iterator[Row]:
    if told["scale_pct"] != [100.0, 100.0]:
        across, down = (f"{one:g}" for one in told["scale_pct"])
        yield ReportCaption.SCALE, ReportWord.SCALE.say(across=across, down=down)
    if told["frame"] is not None:
        sheet = _sheet(told)
        inside, prints = (
            size_text(told["frame"][key], sheet, decimals=1, cut=cut)
            for key, cut in (("inside_mm", round), ("prints_mm", floor))
        )
        yield ReportCaption.FRAME, ReportWord.FRAME.say(inside=inside, prints=prints)


def _cluster_and_warnings(told: Mapping[str, Any]) -> Iterator[Row]:
    if told["workers"] != "own":
        yield ReportCaption.MADE_BY, ReportWord.MADE_BY_CLUSTER.say(address=told["workers"])
    for warning in told["warnings"]:
        yield ReportCaption.WARNING, warning


def _sheet(told: Mapping[str, Any]) -> SheetSize:
    """The sheet again, in whose unit lengths are told."""
    width, height = (round(100 * side) for side in told["sheet_mm"])
    return SheetSize(width, height, in_inches=told["unit"] == "in")


def _screen(screen: Mapping[str, Any]) -> str:
    row = ReportWord.SCREEN if screen["angle_made"] is None else ReportWord.SCREEN_AT
    lpi, angle = f"{screen['lpi_asked']:g}", f"{screen['angle_asked']:g}"
    return row.say(lpi=lpi, angle=angle, dot=screen["dot"], levels=screen["levels"])


def _set(told: Mapping[str, Any] | None) -> Iterator[Row]:
    """A row for each film of a set."""
    if told is None:
        return
    if told["films"] is None:
        yield ReportCaption.INKS, ReportWord.SET_FOUND.say(mode=told["mode"])
        return
    for film in told["films"]:
        row = ReportWord.SET_FILM_AT
        if film["angle"] is None:
            row = ReportWord.SET_LINE if film["lpi"] is None else ReportWord.SET_FILM
        said = row.say(
            k=film["k"],
            ink=film["ink"],
            lpi=f"{film['lpi'] or 0:.3g}",
            angle=f"{film['angle'] or 0:.3g}",
            mesh=film["mesh"] or ReportWord.NO_MESH_OF_INK.say(),
        )
        yield ReportCaption.INK, ReportWord.OVERPRINTS.say(ink=said) if film["overprint"] else said


def _mesh(mesh: Mapping[str, Any] | None) -> str:
    if mesh is None:
        return ReportWord.NO_MESH.say()
    count = mesh["threads_per_cm"]
    return ReportWord.MESH.say(
        mesh=_mesh_label(mesh),
        opening=f"{mesh['opening_um']:g}",
        per_inch=f"{count * MM_PER_INCH / 10:.0f}",
        per_cm=f"{count:g}",
    )


def _mesh_label(mesh: Mapping[str, Any]) -> str:
    label: str = mesh["label"]
    return ReportWord.THREAD_ASSUMED.say(mesh=label) if mesh["assumed"] else label


def _main_limits(holds: Mapping[str, Any], *, screened: bool) -> Iterator[Row]:
    """What the mesh holds at the profile's ruling, and the tones at others in one row."""
    if not screened:
        stroke, gap = (ceil(holds[f"narrowest_{thing}_um"]) for thing in ("stroke", "gap"))
        same = stroke == gap
        row = ReportWord.STROKES_ALIKE if same else ReportWord.STROKES
        yield ReportCaption.HOLDS, row.say(stroke=stroke, gap=gap, size=stroke)
        yield from _lost(holds)
        return
    dot, shadow_dot = (ceil(holds[f"smallest_{thing}_um"]) for thing in ("dot", "shadow_dot"))
    row = ReportWord.DOTS_ALIKE if dot == shadow_dot else ReportWord.DOTS
    sizes = row.say(dot=dot, shadow_dot=shadow_dot, size=dot)
    yield ReportCaption.HOLDS, ReportWord.HOLDS_TONES.say(sizes=sizes, tones=_tones(holds))
    if holds["best_lpi"] is not None:
        yield ReportCaption.FINEST, ReportWord.FINEST.say(lpi=floor(holds["best_lpi"]))
    held = [part for part in holds["by_lpi"] if part["tone_min_pct"] is not None]
    if held:
        rulings = (f"{part['lpi']:g} lpi {_whole_tones(part)}" for part in held)
        yield ReportCaption.TONES_AT, ", ".join(one.replace(" ", "\xa0") for one in rulings)


def _lost(holds: Mapping[str, Any]) -> Iterator[Row]:
    """The strokes and gaps that do not print at all, far below those that print evenly."""
    stroke, gap = (floor(holds[f"lost_{thing}_um"]) for thing in ("stroke", "gap"))
    yield ReportCaption.LOST, ReportWord.LOST_LINES.say(stroke=stroke, gap=gap)


def _main_bands(told: Mapping[str, Any]) -> Iterator[Row]:
    """The bands that are seen most, and what makes less of them."""
    if told["bands"]:
        bands = told["bands"][0]
        apart = length_text(bands["period_mm"], _sheet(told), decimals=1)
        says = ReportWord.BANDS_SEEN_MOST.say(apart=apart, visibility=f"{bands['visibility']:.2g}")
        yield ReportCaption.MOIRE, says
    offers = told["less_moire"]
    enough = [offer for offer in offers if offer["passes"]]
    if offers:
        keys = or_list(
            [_KEYS[one["change"]].format(f"{one['value']:g}") for one in enough or offers]
        )
        row = ReportWord.LESS_WITH if enough else ReportWord.STILL_WARNS_WITH
        yield ReportCaption.LESS_AT, row.say(keys=keys)


def _middle_tone(press: Mapping[str, Any]) -> str:
    """What half becomes, on the press that the profile tells of."""
    middle = next(tone for tone in press["tones"] if tone["art_pct"] == _MIDDLE)
    film, printed = (f"{middle[key]:.0f}" for key in ("film_pct", "print_pct"))
    gain = press["gain"]
    row = ReportWord.MIDDLE_TONE_MEASURED
    if not isinstance(gain, list):
        row = ReportWord.MIDDLE_TONE_OF_GAIN if gain else ReportWord.MIDDLE_TONE
        gain = f"{gain:g}"
    return row.say(art=_MIDDLE, film=film, print=printed, gain=gain)


def print_profile(told: Mapping[str, Any]) -> None:
    """All of one profile, as ``filmhand check --more`` tells it."""
    click.echo(told["name"])
    for row in _all_rows(told):
        options.print_row(*row)
    click.echo()


def _all_rows(told: Mapping[str, Any]) -> Iterator[tuple[ReportCaption | None, str]]:
    across, down = told["sheet_px"]
    yield (
        ReportCaption.SHEET,
        ReportWord.SHEET_IN_PIXELS.say(
            size=told["sheet"], across=across, down=down, dpi=options.dpi_text(told["dpi"])
        ),
    )
    yield from _scale_and_frame(told)
    screen, mesh, holds = told["screen"], told["mesh"], told["holds"]
    made = ReportWord.NO_SCREEN.say() if screen is None else _screen_made(screen)
    yield ReportCaption.SCREEN, made
    yield from _set(told["set"])
    yield ReportCaption.MESH, ReportWord.NO_MESH.say() if mesh is None else _mesh_in_full(mesh)
    if holds is not None:
        yield from _all_limits(holds, screened=screen is not None)
        yield from ((ReportCaption.MEASURED, said) for said in holds["measured"])
    if told["moire"]["period_mm"] is not None:
        yield from _all_bands(told)
    yield ReportCaption.TONE, told["tone"]
    if told["press"] is not None:
        yield from ((None, line) for line in _press(told["press"]))
    yield from _cluster_and_warnings(told)


def _screen_made(screen: Mapping[str, Any]) -> str:
    none = screen["angle_made"] is None
    row = ReportWord.SCREEN_MADE if none else ReportWord.SCREEN_MADE_AT
    return row.say(
        lpi=f"{screen['lpi_made']:.3f}",
        lpi_asked=f"{screen['lpi_asked']:g}",
        angle="" if none else f"{screen['angle_made']:.3f}",
        angle_asked=f"{screen['angle_asked']:g}",
        dot=screen["dot"],
        levels=screen["levels"],
    )


def _mesh_in_full(mesh: Mapping[str, Any]) -> str:
    says = ReportWord.MESH_IN_FULL.say(
        mesh=_mesh_label(mesh),
        opening=f"{mesh['opening_um']:g}",
        open_area=f"{mesh['open_area_pct']:g}",
        thickness=f"{mesh['thickness_um']:g}",
        ink=f"{mesh['ink_volume_cm3_m2']:g}",
    )
    stretch = mesh["stretch_pct"]
    if stretch is None:
        return says
    return ReportWord.STRETCHED.say(mesh=says, stretch=f"{stretch:g}")


def _all_limits(
    holds: Mapping[str, Any], *, screened: bool
) -> Iterator[tuple[ReportCaption | None, str]]:
    """What the mesh holds, rounded to the side on which it still does."""
    dot, shadow_dot = (ceil(holds[f"smallest_{thing}_um"]) for thing in ("dot", "shadow_dot"))
    says = ReportWord.DOTS.say(dot=dot, shadow_dot=shadow_dot)
    if screened:
        says = ReportWord.HOLDS_TONES.say(sizes=says, tones=_tones(holds))
    if holds["best_lpi"] is not None:
        says = ReportWord.HOLDS_FINEST.say(holds=says, lpi=floor(holds["best_lpi"]))
    yield ReportCaption.HOLDS, says
    for place, part in enumerate(holds["by_lpi"]):
        ruling = f"{part['lpi']:5g} lpi  {part['ratio']:5.2f} : 1  {_tones(part)}"
        yield None if place else ReportCaption.BY_LPI, ruling


def _tones(part: Mapping[str, Any]) -> str:
    if part["tone_min_pct"] is None:
        return ReportWord.NO_TONE.say()
    low, high = ceil(part["tone_min_pct"] * 10) / 10, floor(part["tone_max_pct"] * 10) / 10
    return ReportWord.TONES.say(low=f"{low:.1f}", high=f"{high:.1f}")


def _press(press: Mapping[str, Any]) -> Iterator[str]:
    """What the art's tones become on film and in print."""
    yield _middle_tone(press)
    heads = {
        "art_pct": ReportWord.ART_PERCENT.say(),
        "film_pct": ReportWord.FILM_PERCENT.say(),
        "print_pct": ReportWord.PRINT_PERCENT.say(),
    }
    width = max(8, *map(len, heads.values()))
    for key, head in heads.items():
        yield head.ljust(width) + "".join(f"{tone[key]:6.0f}" for tone in press["tones"])
    low, high = press["reach_pct"]
    light, dark = low >= _TOLD, high <= 100 - _TOLD
    if light or dark:
        row = ReportWord.NOT_LIGHTER if light else ReportWord.NOT_DARKER
        row = ReportWord.NEITHER if light and dark else row
        yield row.say(light=f"{low:g}", dark=f"{high:g}")


def _all_bands(told: Mapping[str, Any]) -> Iterator[tuple[ReportCaption | None, str]]:
    sheet = _sheet(told)
    for place, bands in enumerate(told["bands"]):
        says = ReportWord.BANDS.say(
            apart=length_text(bands["period_mm"], sheet, decimals=1),
            direction=f"{bands['direction']:.0f}",
            ink=f"{bands['strength_pct']:.1f}",
            visibility=f"{bands['visibility']:.2g}",
            stretch=f"{bands['stretch_pct']:.1f}",
            orders="/".join(",".join(map(str, bands[f"{of}_order"])) for of in ("mesh", "dot")),
        )
        yield None if place else ReportCaption.MOIRE, says
    for place, offer in enumerate(told["less_moire"]):
        yield None if place else ReportCaption.LESS_AT, _offer(offer, sheet)


def _offer(offer: Mapping[str, Any], sheet: SheetSize) -> str:
    finer = offer["sharpness_pct"]
    row = ReportWord.FINER if finer > 0 else ReportWord.SOFTER if finer else ReportWord.AS_SHARP
    says = row.say(
        change=_CHANGES[offer["change"]].say(value=f"{offer['value']:g}"),
        visibility=f"{offer['visibility']:.2g}",
        apart=length_text(offer["worst_period_mm"], sheet, decimals=1),
        ink=f"{offer['strength_pct']:.1f}",
        percent=f"{abs(finer):.0f}",
    )
    return says if offer["passes"] else ReportWord.STILL_WARNS.say(offer=says)
