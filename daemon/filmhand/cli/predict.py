"""``filmhand predict``: how any film is expected to print."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord, MakeRefusal
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.make import replace_file
from filmhand.cli.report_words import ReportCaption, ReportWord
from filmhand.errors import ExitCode
from filmhand.units import SheetSize, length_text
from filmhand.worker.cores import usable_cores

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh
    from filmhand.profile.model import Profile
    from filmhand.units import Resolution


@command(HelpWord.PREDICT, "filmhand predict positives/poster.pdf --mesh 43-80")
@options.film_argument
@option(HelpWord.MESH_OF_PRINT, "--mesh", "mesh_name")
@option(HelpWord.PROFILE_OF_PRINT, "--profile", "profile_file", type=options.PATH)
@options.dpi_option
@option(HelpWord.PICTURE_GOES, "--out", type=options.PATH)
@options.json_option
def predict(
    film: Path,
    mesh_name: str | None,
    profile_file: Path | None,
    dpi_text: str | None,
    out: Path | None,
    *,
    as_json: bool,
) -> ExitCode:
    """Show how a film is expected to print."""
    from filmhand.mesh.table import read_mesh  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415
    from filmhand.units import read_resolution  # noqa: PLC0415

    mesh = options.read_option("--mesh", mesh_name, read_mesh)
    dpi = options.read_option("--dpi", dpi_text, read_resolution)
    profile = None if profile_file is None else load_profile(profile_file)
    if mesh is None and (profile is None or profile.mesh is None):
        raise click.UsageError(CommandWord.NAME_THE_MESH.say())
    picture = out or Path(film.stem + ".print.png")
    if picture.resolve() == film.resolve():
        raise click.UsageError(CommandWord.WOULD_REPLACE_FILM.say(film=film))
    told = predict_file(film, picture, mesh=mesh, profile=profile, resolution=dpi)
    options.print_told(told, print_prediction, as_json=as_json)
    return ExitCode.DONE


def predict_file(
    film: Path,
    picture: Path,
    *,
    mesh: Mesh | None,
    profile: Profile | None,
    resolution: Resolution | None,
) -> dict[str, Any]:
    """The expected print of a finished film; see
    :func:`filmhand.pipeline.predict.predict_print.predict_print`.

    Parameters
    ----------
    picture : where the PNG goes; an older one there is replaced
    mesh : what the film is printed through; the profile's if None
    profile : how light and ink behave, and the screen of the film if it was made with it

    Raises
    ------
    Refused
        the file is not a 1-bit film, or says no resolution and none is given
    ValueError
        neither mesh nor profile names a mesh
    """
    from filmhand.film.foreign_pdf import read_any_film  # noqa: PLC0415
    from filmhand.page.predicted_print import write_predicted_print  # noqa: PLC0415
    from filmhand.pipeline.predict.flat_tints import conditions_for  # noqa: PLC0415
    from filmhand.pipeline.predict.predict_print import predict_print  # noqa: PLC0415

    conditions = conditions_for(mesh, profile)
    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        otherwise = profile.dpi if profile is not None else None
        found = read_any_film(film, Path(folder), resolution=resolution, otherwise=otherwise)
        with found.bits as bits:
            dpi = found.dpi
            if dpi is None:
                raise MakeRefusal.NO_DPI.refused(name=film.name)
            scaled = dpi if profile is None else dpi.scaled(*profile.scale)
            told, seen = predict_print(
                bits, scaled, conditions, profile=profile, threads=usable_cores()
            )
            part = Path(folder) / "print.png"
            write_predicted_print(
                seen.printed, part, inches=(bits.width / scaled.x, bits.height / scaled.y)
            )
        replace_file(picture, part.read_bytes())
    if found.notes:
        told["notes"] = [*found.notes, *told.get("notes", [])]
    unit = "in" if profile is not None and profile.sheet.in_inches else "mm"
    return {"film": film.name, "picture": str(picture), "unit": unit, **told}


def print_prediction(told: Mapping[str, Any]) -> None:
    """What a film is expected to print, and where the picture of it is."""
    for row in _predicted(told):
        options.print_row(*row)


def _predicted(told: Mapping[str, Any]) -> Iterator[tuple[ReportCaption, str]]:
    press = told["press"]
    yield (
        ReportCaption.MESH,
        ReportWord.PRESS.say(
            mesh=told["mesh"],
            angle=f"{press['mesh_angle']:g}",
            undercut=f"{press['undercut_um']:g}",
            passage=f"{press['passage_um']:g}",
            spread=f"{press['spread_um']:g}",
        ),
    )
    for note in told.get("notes", []):
        yield ReportCaption.NOTE, note
    film, printed = f"{told['film_pct']:.1f}", f"{told['print_pct']:.1f}"
    yield ReportCaption.COVERAGE, ReportWord.COVERAGE.say(film=film, print=printed)
    dots, shadow_dots = told["dots"], told["shadow_dots"]
    row = ReportWord.LOST_SHARE if dots["lost"] else ReportWord.LOST
    yield ReportCaption.DOTS, _lost(row, dots, "lost")
    row = ReportWord.FILLED_SHARE if shadow_dots["filled"] else ReportWord.FILLED
    yield ReportCaption.SHADOW_DOTS, _lost(row, shadow_dots, "filled")
    yield ReportCaption.BANDS, _bands(told)
    yield from _curve(told)
    yield ReportCaption.PICTURE, told["picture"]


def _lost(row: ReportWord, part: Mapping[str, Any], how: str) -> str:
    return row.say(count=part["count"], lost=part[how], percent=f"{part[f'{how}_pct']:g}")


def _bands(told: Mapping[str, Any]) -> str:
    bands = told["bands"]
    if told["flats"] is None:
        return ReportWord.BANDS_NOT_LOOKED_FOR.say()
    if bands is None:
        return ReportWord.NO_BANDS.say()
    unit = SheetSize(0, 0, in_inches=told["unit"] == "in")
    return ReportWord.BANDS_IN_PRINT.say(
        apart=length_text(bands["period_mm"], unit, decimals=1),
        direction=f"{bands['direction']:.0f}",
        change=f"{bands['change_points']:.1f}",
        tone=f"{bands['tone_pct']:g}",
    )


def _curve(told: Mapping[str, Any]) -> Iterator[tuple[ReportCaption, str]]:
    """The tone curve: one row for what the film has itself, one for what was printed aside."""
    for source, row in (("film", ReportWord.TONES_MEASURED), ("flats", ReportWord.TONES_OF_FLATS)):
        pairs = [
            ReportWord.TONE_TO.say(
                film=f"{point['film_pct']:.0f}", print=f"{point['print_pct']:.0f}"
            )
            for point in told["curve"]
            if point["from"] == source
        ]
        if pairs:
            yield ReportCaption.TONE, row.say(tones=", ".join(pairs), flats=told["flats"])
