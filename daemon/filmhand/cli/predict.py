"""``filmhand predict``: how any film is expected to print."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.make import replace_file
from filmhand.cli.measure import no_resolution
from filmhand.errors import ExitCode
from filmhand.worker.parent import usable_cores

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh
    from filmhand.profile.model import Profile
    from filmhand.units import Resolution


@click.command(epilog=options.example("filmhand predict positives/poster.pdf --mesh 43-80"))
@options.film_argument
@click.option("--mesh", "mesh_name", help="The mesh, such as 43-80 or 110; else the profile's.")
@click.option("--profile", "profile_file", type=options.PATH, help="How light, ink and screen are.")
@options.dpi_option
@click.option(
    "--out", type=options.PATH, help="Where the picture goes.  [default: FILM's name, .print.png]"
)
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
    """Show how any 1-bit FILM is expected to print.

    Writes a picture of the whole sheet, and tells lost dots, filled shadow dots, bands and the
    tones that film tones become. Give a mesh, or a profile that names one.
    """
    from filmhand.mesh.table import read_mesh  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415
    from filmhand.units import read_resolution  # noqa: PLC0415

    mesh = options.read_option("--mesh", mesh_name, read_mesh)
    dpi = options.read_option("--dpi", dpi_text, read_resolution)
    profile = None if profile_file is None else load_profile(profile_file)
    if mesh is None and (profile is None or profile.mesh is None):
        raise click.UsageError(
            "Name the mesh: --mesh 43-80, or --profile with a profile that has one."
        )
    picture = out or Path(film.stem + ".print.png")
    if picture.resolve() == film.resolve():
        raise click.UsageError(
            f"The picture would replace the film {film}; give another name with --out."
        )
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
                raise no_resolution(film)
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
    return {"film": film.name, "picture": str(picture), **told}


def print_prediction(told: Mapping[str, Any]) -> None:
    """What a film is expected to print, and where the picture of it is."""
    press = told["press"]
    options.print_row(
        "mesh",
        f"{told['mesh']} at {press['mesh_angle']:g} deg; light takes {press['undercut_um']:g} µm "
        f"off every edge, ink needs openings of {press['passage_um']:g} µm and spreads "
        f"{press['spread_um']:g} µm",
    )
    for note in told.get("notes", []):
        options.print_row("note", note)
    options.print_row("coverage", f"film {told['film_pct']:.1f} %, print {told['print_pct']:.1f} %")
    for name, word in (("dots", "lost"), ("shadow_dots", "filled")):
        part = told[name]
        share = f" ({part[f'{word}_pct']:g} %)" if part[word] else ""
        options.print_row(name.replace("_", " "), f"{part['count']}, {part[word]} {word}{share}")
    bands = told["bands"]
    if told["flats"] is None:
        options.print_row("bands", "not looked for: no screen was found on the film")
    elif bands is None:
        options.print_row("bands", "none that would show")
    else:
        options.print_row(
            "bands",
            f"every {bands['period_mm']:.1f} mm, running at {bands['direction']:.0f} deg, "
            f"{bands['change_points']:.1f} tone points up and down at {bands['tone_pct']:g} %",
        )
    _curve(told)
    options.print_row("picture", told["picture"])


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
            options.print_row("tone", f"{what}: {', '.join(pairs)}")
