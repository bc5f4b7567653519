"""``filmhand calibrate``: what a scan of a printed wedge says of the press, or of the printer."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.cli.press.calibrate_words import CalibrateWord
from filmhand.cli.press.curve_report_words import CurveReportWord
from filmhand.cli.press.scan_process import WedgeScan, wedge_of_scan
from filmhand.disk.file_names import clean_stem
from filmhand.errors import ExitCode, ProgramFailed, Refused
from filmhand.language import and_list

if TYPE_CHECKING:
    from filmhand.pipeline.readings.kept_reading import KeptReading
    from filmhand.profile.model import Profile
    from filmhand.reading.reading import WedgeReading


@command(HelpWord.CALIBRATE, "filmhand calibrate scan.tif --profile profiles/small-sheet.yaml")
@click.argument("scans", nargs=-1, required=True, type=options.PATH, metavar="SCAN...")
@option(HelpWord.PROFILE_OF_WEDGE, "--profile", "profile_file", type=options.PATH, required=True)
@option(HelpWord.OF_WHICH_INK, "--ink")
@option(HelpWord.SCANNED, "--of", type=click.Choice(["print", "film"]), default="print")
@option(HelpWord.LIT_THROUGH, "--lit-through", is_flag=True)
@option(HelpWord.CURVE_GOES, "--out", type=options.PATH)
@options.json_option
def calibrate(
    scans: tuple[Path, ...],
    profile_file: Path,
    of: str,
    *,
    ink: str | None,
    lit_through: bool,
    out: Path | None,
    as_json: bool,
) -> ExitCode:
    """Read scans or photographs of a wedge, and write the press curve that they give."""
    from filmhand.pipeline.readings.kept_reading import kept_reading  # noqa: PLC0415
    from filmhand.profile.read.load import load_profile  # noqa: PLC0415
    from filmhand.reading.reading import ReadOf, reading_as_json  # noqa: PLC0415

    if out is not None and (out.is_dir() or not out.name):
        raise click.UsageError(CalibrateWord.OUT_IS_FOLDER.say(out=out, inside=out / "press.txt"))
    if out is not None and out.suffix.lower() == ".png":
        raise click.UsageError(CalibrateWord.OUT_IS_PLOT.say(out=out, text=out.with_suffix(".txt")))
    end = f"-{clean_stem(ink)}" if ink else ""
    goes = out or Path(f"curve-{Path(profile_file).stem}{end}.txt")
    taken = {place.resolve() for place in (goes, goes.with_suffix(".png"))}
    lost = [one for one in (*scans, profile_file) if one.resolve() in taken]
    if lost:
        raise click.UsageError(CalibrateWord.OUT_IS_TAKEN.say(out=goes, lost=lost[0]))
    profile = whole = load_profile(profile_file)
    if ink is not None:
        from filmhand.pipeline.separation.planning.profile_of_ink import profile_of_ink  # noqa: PLC0415

        profile = profile_of_ink(whole, ink)
    wanted = WedgeScan(ReadOf(of), lit_through=lit_through, ink=ink)
    read = read_all(scans, whole, wanted, quiet=as_json)
    if read:
        readings, names = [reading for _, reading in read], [scan.name for scan, _ in read]
        try:
            kept = kept_reading(readings, profile, scans=names)
        except Refused as refusal:
            options.say_error(f"{refusal.say} {refusal.do}")
            return ExitCode.REFUSED
        written = _write_curve(kept, goes)
        if as_json:
            options.print_json(reading_as_json(kept.reading) | written)
        else:
            for line in reading_lines(kept.reading):
                click.echo(line)
            for line in where_curve_lies(kept, written, profile_file, whole, ink):
                click.echo(line)
    return ExitCode.DONE if len(read) == len(scans) else ExitCode.REFUSED


def _write_curve(kept: KeptReading, out: Path) -> dict[str, str]:
    """Write the curve, its plot beside it, and tell where both are; of a film there is none."""
    from filmhand.cli.make import replace_file  # noqa: PLC0415

    if kept.curve is None:
        return {}
    plot = out.with_suffix(".png")
    replace_file(plot, kept.files[".png"])
    replace_file(out, kept.files[".txt"])
    return {"curve": str(out), "plot": str(plot)}


def where_curve_lies(
    kept: KeptReading, written: dict[str, str], file: Path, profile: Profile, ink: str | None
) -> Iterator[str]:
    """What is said of a curve that was written, and how a profile takes it.

    Parameters
    ----------
    file : the profile's
    profile : the whole one
    ink : the ink that the curve is of; None for the profile's own
    """
    if kept.curve is None:
        yield CurveReportWord.NONE_OF_FILM.say()
        return
    out = Path(written["curve"])
    yield CurveReportWord.WRITTEN.say(file=written["curve"], plot=written["plot"])
    if ink is not None:
        yield _where_ink_has_it(out, file, profile, ink)
        return
    beside = out.absolute().parent == file.absolute().parent
    row = CurveReportWord.NAME_IT if beside else CurveReportWord.PUT_IT_BESIDE
    yield row.say(file=written["curve"], name=out.name)


def _where_ink_has_it(out: Path, file: Path, profile: Profile, ink: str) -> str:
    """How the films of one ink come to go by its curve."""
    from filmhand.profile.inks import folder_of_ink  # noqa: PLC0415
    from filmhand.profile.read.curve import curves_beside, is_of_reading  # noqa: PLC0415

    own = folder_of_ink(ink, profile.inks, profile.underbase)
    folder = curves_beside(file, profile.name, profile.folder, own)
    if out.absolute().parent == folder and is_of_reading(out.name):
        return CurveReportWord.OF_INK_LIES_THERE.say(ink=own)
    name = f"{datetime.now(UTC):%Y-%m-%d-%H%M%S}.txt"
    return CurveReportWord.OF_INK.say(file=out, ink=own, folder=folder, name=name)


def read_all(
    scans: tuple[Path, ...], profile: Profile, wanted: WedgeScan, *, quiet: bool = False
) -> list[tuple[Path, WedgeReading]]:
    """The scans that can be trusted, with their readings; refusals are said on standard error."""

    def read_one(scan: Path) -> WedgeReading | None:
        try:
            return wedge_of_scan(scan, profile, wanted)
        except Refused as refusal:
            options.say_error(
                CommandWord.NO_FILM.say(name=scan.name, say=refusal.say, do=refusal.do)
            )
        except ProgramFailed as failed:
            options.say_error(str(failed))
        return None

    found = options.with_progress(
        (read_one(scan) for scan in scans), CalibrateWord.READING_SCANS, len(scans), quiet=quiet
    )
    return [(scan, one) for scan, one in zip(scans, found, strict=True) if one is not None]


def reading_lines(reading: WedgeReading) -> Iterator[str]:
    """The report on a reading, line by line."""
    of_print = reading.of == "print"
    yield (CalibrateWord.HEAD_OF_PRINT if of_print else CalibrateWord.HEAD_OF_FILM).say()
    for patch in reading.patches:
        yield f"{patch.film_pct:6.1f}   {patch.measured_pct:z6.1f}    {patch.error_pct:4.1f}"
    yield ""
    at_50 = CalibrateWord.GAIN if of_print else CalibrateWord.GROWN_DOTS
    yield at_50.say(print=f"{50 + reading.gain_at_50:.1f}")
    held = reading.smallest_held
    sizes = [
        row.say(size=f"{size:.0f}")
        for row, size in (
            (CalibrateWord.DOTS, held.dots),
            (CalibrateWord.SHADOW_DOTS, held.shadow_dots),
            (CalibrateWord.LINES, held.lines),
            (CalibrateWord.GAPS, held.gaps),
        )
        if size is not None
    ]
    yield CalibrateWord.HELD.say(sizes=and_list(sizes)) if sizes else CalibrateWord.NONE_HELD.say()
    if reading.edge_growth_um is not None:
        yield CalibrateWord.GROWTH.say(growth=f"{reading.edge_growth_um:z.0f}")
    if reading.density is not None:
        yield CalibrateWord.DENSITY.say(density=f"{reading.density:.2f}")
    if reading.scale is not None and not of_print:
        across, down = (f"{100 * one:.2f}" for one in reading.scale)
        yield CalibrateWord.SCALE.say(across=across, down=down)
        yield CalibrateWord.WRITE_SCALE.say(across=across, down=down)
    yield from reading.notes
