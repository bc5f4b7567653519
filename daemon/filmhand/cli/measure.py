"""``filmhand measure``: what is on a finished film, ours or not."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from filmhand.cli import options
from filmhand.cli.cli_words import MakeRefusal
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.report_words import ReportCaption, ReportWord
from filmhand.errors import ExitCode
from filmhand.units import SheetSize, size_text
from filmhand.worker.cores import usable_cores

if TYPE_CHECKING:
    from filmhand.mesh.table import Mesh
    from filmhand.units import Resolution


@command(HelpWord.MEASURE, "filmhand measure positives/poster.pdf --mesh 43-80")
@options.film_argument
@option(HelpWord.JUDGING_MESH, "--mesh", "mesh_name")
@options.dpi_option
@option(HelpWord.SCALE, "--scale", "scale_text")
@options.json_option
def measure(
    film: Path,
    mesh_name: str | None,
    dpi_text: str | None,
    scale_text: str | None,
    *,
    as_json: bool,
) -> ExitCode:
    """Tell what is on a film."""
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
                raise MakeRefusal.NO_DPI.refused(name=film.name)
            told = measure_film(
                found.bits, found.dpi.scaled(*scale), mesh=mesh, threads=usable_cores()
            )
    if found.notes:
        told["notes"] = [*found.notes, *told.get("notes", [])]
    return told


_VERDICTS = {"pass": ReportCaption.PASS, "warn": ReportCaption.WARN, "fail": ReportCaption.FAIL}


_NOTHING = {
    "dot": ReportWord.NO_DOTS,
    "shadow dot": ReportWord.NO_SHADOW_DOTS,
    "stroke": ReportWord.NO_STROKES,
    "gap": ReportWord.NO_GAPS,
}
_WORST = {
    "dot": ReportWord.WORST_DOT,
    "shadow dot": ReportWord.WORST_SHADOW_DOT,
    "stroke": ReportWord.WORST_STROKE,
    "gap": ReportWord.WORST_GAP,
}


def print_measured(told: Mapping[str, Any]) -> None:
    """The report of ``filmhand measure``."""
    for row in _measured(told):
        options.print_row(*row)


def _measured(told: Mapping[str, Any]) -> Iterator[tuple[ReportCaption, str]]:
    # Whoever made the film may measure in either unit.
    sheet = SheetSize(*(round(100 * side) for side in told["sheet_mm"]))
    yield (
        ReportCaption.SHEET,
        ReportWord.FILM_SIZE.say(
            across=told["width_px"],
            down=told["height_px"],
            dpi=options.dpi_text(told["dpi"]),
            size=size_text(told["sheet_mm"], sheet, decimals=2),
        ),
    )
    yield ReportCaption.COVERAGE, f"{told['coverage_pct']:.3f} %"
    yield ReportCaption.SCREEN, _screen_found(told)
    yield ReportCaption.DOTS, _sizes(told["dots"])
    yield ReportCaption.SHADOW_DOTS, _sizes(told["shadow_dots"])
    for caption, what in ((ReportCaption.STROKES, "stroke"), (ReportCaption.GAPS, "gap")):
        yield caption, ReportWord.NARROWEST.say(width=f"{told[f'narrowest_{what}_um']:g}")
    if "mesh" in told:
        yield ReportCaption.MESH, told["mesh"]
    for check in told.get("checks", []):
        yield _VERDICTS[check["verdict"]], _check(check)
    for note in told.get("notes", []):
        yield ReportCaption.NOTE, note
    for spot in told.get("worst", []):
        place = size_text((spot["x_mm"], spot["y_mm"]), sheet, decimals=2)
        says = _WORST[spot["what"]].say(width=f"{spot['width_um']:g}", place=place)
        yield ReportCaption.WORST, says


def _screen_found(told: Mapping[str, Any]) -> str:
    if told["lpi"] is None:
        return ReportWord.NO_SCREEN_FOUND.say()
    lines = told["screen"] == "lines"
    row = ReportWord.SCREEN_OF_LINES if lines else ReportWord.SCREEN_OF_DOTS
    return row.say(lpi=f"{told['lpi']:.3f}", angle=f"{told['angle']:.3f}")


def _sizes(part: Mapping[str, Any]) -> str:
    if not part["count"]:
        return ReportWord.NONE.say()
    smallest, median = f"{part['smallest_um']:g}", f"{part['median_um']:g}"
    return ReportWord.SIZES.say(count=part["count"], smallest=smallest, median=median)


def _check(check: Mapping[str, Any]) -> str:
    """What was measured, and what was wanted: to pass, or where it fails not to fail."""
    from filmhand.mesh.checks import CheckName  # noqa: PLC0415

    row = CheckName(check["name"]).row
    if check["measured"] is None:
        return _NOTHING[str(row.feature)].say()
    found = row.figure.say(figure=f"{check['measured']:g}")
    limit = check["fail_limit"] if check["verdict"] == "fail" else check["warn_limit"]
    wanted = ReportWord.AT_MOST if row.at_most else ReportWord.AT_LEAST
    return wanted.say(found=found, limit=row.limit.say(figure=f"{limit:g}"))
