"""``filmhand measure``: what is on a finished film, ours or not."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.errors import ExitCode, Reason, Refused
from filmhand.worker.parent import usable_cores

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh
    from filmhand.units import Resolution


@click.command(epilog=options.example("filmhand measure positives/poster.pdf --mesh 43-80"))
@options.film_argument
@click.option("--mesh", "mesh_name", help="Judge it against this mesh, such as 43-80 or 110.")
@options.dpi_option
@click.option(
    "--scale", "scale_text", help="What 100 % across and down measure on it, such as 99.6,100.2."
)
@options.json_option
def measure(
    film: Path,
    mesh_name: str | None,
    dpi_text: str | None,
    scale_text: str | None,
    *,
    as_json: bool,
) -> ExitCode:
    """Read any 1-bit FILM and tell what is on it.

    With --scale all lengths are those on the acetate, as a printer of this print.scale makes it.
    """
    from filmhand.mesh.table import read_mesh  # noqa: PLC0415
    from filmhand.profile.printing import read_scale  # noqa: PLC0415
    from filmhand.units import read_resolution  # noqa: PLC0415

    mesh = options.read_option("--mesh", mesh_name, read_mesh)
    dpi = options.read_option("--dpi", dpi_text, read_resolution)
    scale = options.read_option(
        "--scale", scale_text, lambda text: read_scale(str(text).split(","))
    )
    found = measure_file(film, mesh=mesh, resolution=dpi, scale=scale or (1.0, 1.0))
    options.print_told(found, print_measured, as_json=as_json)
    return ExitCode.DONE


def measure_file(
    film: Path,
    *,
    mesh: Mesh | None,
    resolution: Resolution | None,
    scale: tuple[float, float] = (1.0, 1.0),
) -> dict[str, Any]:
    """What is on a finished film; see :func:`filmhand.pipeline.measure.measure_film`.

    Raises
    ------
    Refused
        the file is not a 1-bit film, or says no resolution and none is given
    """
    # Before NumPy is loaded: its library of linear algebra would start threads of its own, beside
    # which the work could not be shared with a fork.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from filmhand.film.foreign_pdf import read_any_film  # noqa: PLC0415
    from filmhand.pipeline.measure import measure_film  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        found = read_any_film(film, Path(folder), resolution=resolution)
        with found.bits:
            if found.dpi is None:
                raise no_resolution(film)
            told = measure_film(
                found.bits, found.dpi.scaled(*scale), mesh=mesh, threads=usable_cores()
            )
    if found.notes:
        told["notes"] = [*found.notes, *told.get("notes", [])]
    return told


def no_resolution(film: Path) -> Refused:
    """The refusal of a film whose file does not say how large it is."""
    return Refused(
        Reason.NOT_ART,
        f"{film.name} does not say how many device pixels it has to the inch.",
        "Give it with --dpi, such as --dpi 600.",
    )


def print_measured(told: Mapping[str, Any]) -> None:
    """The report of ``filmhand measure``."""
    sheet = told["sheet_mm"]
    options.print_row(
        "sheet",
        f"{told['width_px']} x {told['height_px']} px at {options.dpi_text(told['dpi'])} dpi, "
        f"{sheet[0]:g} x {sheet[1]:g} mm",
    )
    options.print_row("coverage", f"{told['coverage_pct']:.3f} %")
    if told["lpi"] is None:
        options.print_row("screen", "none found")
    else:
        options.print_row(
            "screen", f"{told['screen']}, {told['lpi']:.3f} lpi at {told['angle']:.3f} deg"
        )
    for name in ("dots", "shadow dots"):
        part = told[name.replace(" ", "_")]
        text = "none"
        if part["count"]:
            text = (
                f"{part['count']}, smallest {part['smallest_um']:g} µm, "
                f"median {part['median_um']:g} µm"
            )
        options.print_row(name, text)
    options.print_row("strokes", f"narrowest {told['narrowest_stroke_um']:g} µm")
    options.print_row("gaps", f"narrowest {told['narrowest_gap_um']:g} µm")
    if "mesh" in told:
        options.print_row("mesh", told["mesh"])
    for check in told.get("checks", []):
        limit = check["fail_limit"] if check["verdict"] == "fail" else check["warn_limit"]
        measured = (
            "nothing to measure"
            if check["measured"] is None
            else (f"{check['measured']:g} {check['unit'].replace('um', 'µm')}")
        )
        options.print_row(check["verdict"], f"{check['name']}: {measured} (limit {limit:g})")
    for note in told.get("notes", []):
        options.print_row("note", note)
    for spot in told.get("worst", []):
        options.print_row(
            "worst",
            f"{spot['what']} of {spot['width_um']:g} µm at {spot['x_mm']:g} x {spot['y_mm']:g} mm "
            "from the sheet's top left corner",
        )
